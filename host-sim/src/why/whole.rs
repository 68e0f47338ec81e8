//! What kept a feeder from feeding over a whole trace.

use serde::Serialize;

use super::read::{FeederRow, TraceFile};
use crate::scenario::clock;

/// One thing that kept a feeder from feeding while feed was asked for.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Kept {
    /// Its name.
    pub name: &'static str,
    /// For how long in all, s.
    pub seconds: u64,
    /// Its longest stretch, s.
    pub longest_s: u64,
    /// When that began.
    pub longest_from: String,
}

/// What a feeder did, and what kept it from feeding, over a whole trace. Each row counts for the time
/// since the one before, as it was at its end.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Whole {
    /// Amount in all, in the feeder's unit.
    pub fed: f64,
    /// Drive-on time in all, s.
    pub on_s: f64,
    /// For how long feed was asked for, s.
    pub asked_s: u64,
    /// The part of it in which it did not feed, s.
    pub asked_unfed_s: u64,
    /// For how long the unit had no power, s.
    pub unpowered_s: u64,
    /// What kept it from feeding, the longest in all first.
    pub kept_by: Vec<Kept>,
}

impl FeederRow {
    /// Whether this stands in the way.
    pub(super) fn is_held_by(&self, name: &str) -> bool {
        self.obstacles
            .iter()
            .any(|obstacle| obstacle.name() == name)
    }

    /// Feed was asked for at the end of the row, and none went in.
    fn is_kept(&self) -> bool {
        self.asked && self.phase != Some("feeding")
    }
}

/// A stretch in which one thing stands: its name, and since when, s.
type Open = (&'static str, u64);

impl Whole {
    pub(super) fn of(trace: &TraceFile, feeder: usize) -> Self {
        let mut whole = Self {
            fed: 0.0,
            on_s: 0.0,
            asked_s: 0,
            asked_unfed_s: 0,
            unpowered_s: 0,
            kept_by: Vec::new(),
        };
        let mut open: Vec<Open> = Vec::new();
        let mut before_s = 0;
        for row in &trace.rows {
            let (of, length_s) = (&row.feeders[feeder], row.seconds - before_s);
            whole.fed += of.fed;
            whole.on_s += of.on_ms as f64 / 1000.0;
            whole.asked_s += if of.asked { length_s } else { 0 };
            whole.asked_unfed_s += if of.is_kept() { length_s } else { 0 };
            whole.unpowered_s += if row.powered { 0 } else { length_s };
            open.retain(|(name, _)| of.is_kept() && of.is_held_by(name));
            for obstacle in of.obstacles.iter().filter(|_| of.is_kept()) {
                let name = obstacle.name();
                if !open.iter().any(|(other, _)| *other == name) {
                    open.push((name, before_s));
                }
            }
            for (name, from_s) in &open {
                let began_ms = row.clock_ms.saturating_sub((row.seconds - from_s) * 1000);
                whole.count(name, length_s, row.seconds - from_s, began_ms);
            }
            before_s = row.seconds;
        }
        whole
            .kept_by
            .sort_by_key(|kept| core::cmp::Reverse(kept.seconds));
        whole
    }

    fn count(&mut self, name: &'static str, length_s: u64, stretch_s: u64, began_ms: u64) {
        let known = self.kept_by.iter().position(|kept| kept.name == name);
        let at = known.unwrap_or_else(|| {
            self.kept_by.push(Kept {
                name,
                seconds: 0,
                longest_s: 0,
                longest_from: String::new(),
            });
            self.kept_by.len() - 1
        });
        let kept = &mut self.kept_by[at];
        kept.seconds += length_s;
        if stretch_s > kept.longest_s {
            (kept.longest_s, kept.longest_from) = (stretch_s, clock::show(began_ms));
        }
    }
}
