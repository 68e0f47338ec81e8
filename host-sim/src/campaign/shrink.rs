//! Makes a failing trial as small as it can be and still fail: fewest faults, no reset if it needs none, mildest
//! sizes, whole minutes, and an end soon after the first break.
//!
//! Invariant: each step is kept only if the trial, lived anew, still puts the same oracle past what its faults allow.

use super::CampaignError;
use super::bounds::Bounds;
use super::live::{begun, live};
use super::plan::Planned;
use super::subject::Subject;
use super::trial::{Broken, broken};
use crate::fault::Chosen;

const MINUTE_MS: u64 = 60_000;
/// Halvings of a fault's size.
const HALVINGS: u32 = 5;

/// A trial in which an oracle is past what its faults allow.
#[derive(Clone, Debug)]
pub struct Failure {
    /// The faults.
    pub chosen: Vec<Chosen>,
    /// When the unit's power goes for two seconds, ms from midnight before day 1.
    pub reset_at_ms: Option<u64>,
    /// When it ends, ms from midnight before day 1.
    pub end_ms: u64,
    /// What is broken.
    pub broken: Broken,
    /// All oracles that were past their bound at its end.
    pub all_broken: Vec<&'static str>,
    /// How far these faults allow it, in the unit of what is broken.
    pub allowed: f64,
}

impl Failure {
    /// A trial, lived as the campaign lives it; `None` if this oracle does not fail in it.
    ///
    /// # Errors
    /// The plant cannot be built with these faults.
    pub fn of(
        subject: &Subject,
        bounds: &Bounds,
        planned: &Planned,
        oracle: &str,
    ) -> Result<Option<Self>, CampaignError> {
        let outcome = live(subject, planned)?;
        let tried = Tried {
            chosen: planned.chosen.clone(),
            reset_at_ms: planned.reset_at_ms,
            end_ms: outcome.ended_at_ms,
        };
        Ok(failure(subject, bounds, tried, outcome.broken, oracle))
    }
}

#[derive(Clone)]
struct Tried {
    chosen: Vec<Chosen>,
    reset_at_ms: Option<u64>,
    end_ms: u64,
}

impl Tried {
    fn of(failure: &Failure) -> Self {
        Self {
            chosen: failure.chosen.clone(),
            reset_at_ms: failure.reset_at_ms,
            end_ms: failure.end_ms,
        }
    }
}

fn failure(
    subject: &Subject,
    bounds: &Bounds,
    tried: Tried,
    all: Vec<Broken>,
    oracle: &str,
) -> Option<Failure> {
    let mut all_broken: Vec<&str> = all.iter().map(|broken| broken.oracle).collect();
    all_broken.dedup();
    let scenario = &subject.scenario;
    let (broken, allowed) = all.into_iter().find_map(|broken| {
        let (allowed, _) = bounds.allowed(&broken, &tried.chosen, scenario);
        let is_it = broken.oracle == oracle && !Bounds::holds(&broken, allowed);
        is_it.then_some((broken, allowed))
    })?;
    Some(Failure {
        chosen: tried.chosen,
        reset_at_ms: tried.reset_at_ms,
        end_ms: tried.end_ms,
        broken,
        all_broken,
        allowed: allowed?,
    })
}

struct Shrinker<'a> {
    subject: &'a Subject,
    bounds: &'a Bounds,
    best: Failure,
    lived: u64,
}

/// A failure made as small as it can be, and how many trials that took.
#[must_use]
pub fn shrunk(subject: &Subject, bounds: &Bounds, found: Failure) -> (Failure, u64) {
    let mut shrinker = Shrinker {
        subject,
        bounds,
        best: found,
        lived: 0,
    };
    shrinker.fewer_faults();
    shrinker.no_reset();
    // Early, so that what follows has less to live.
    shrinker.sooner_ended();
    for at in 0..shrinker.best.chosen.len() {
        shrinker.milder(at);
        shrinker.at_a_whole_minute(at);
        shrinker.shorter(at);
    }
    shrinker.reset_at_a_whole_minute();
    shrinker.sooner_ended();
    (shrinker.best, shrinker.lived)
}

impl Shrinker<'_> {
    /// Lives what is tried; if it still fails it is the best from now on.
    fn fails(&mut self, tried: Tried) -> bool {
        self.lived += 1;
        let scenario = &self.subject.scenario;
        let possible = tried.chosen.iter().all(|one| one.events(scenario).is_ok());
        let Ok(mut pool) = begun(self.subject, &tried.chosen, tried.reset_at_ms) else {
            return false;
        };
        // What broke in the days before the fork cannot be ended sooner than there.
        if !possible || tried.end_ms < pool.clock_ms() {
            return false;
        }
        pool.run_for_ms(tried.end_ms.saturating_sub(pool.clock_ms()));
        let all = broken(&mut pool);
        let oracle = self.best.broken.oracle;
        match failure(self.subject, self.bounds, tried, all, oracle) {
            Some(failure) => {
                self.best = failure;
                true
            }
            None => false,
        }
    }

    fn fewer_faults(&mut self) {
        let mut none = Tried::of(&self.best);
        none.chosen.clear();
        if none.reset_at_ms.is_some() && self.fails(none) {
            return;
        }
        let mut at = 0;
        while at < self.best.chosen.len() && self.best.chosen.len() > 1 {
            let mut without = Tried::of(&self.best);
            without.chosen.remove(at);
            if !self.fails(without) {
                at += 1;
            }
        }
    }

    fn no_reset(&mut self) {
        if self.best.reset_at_ms.is_some() && !self.best.chosen.is_empty() {
            let tried = Tried {
                reset_at_ms: None,
                ..Tried::of(&self.best)
            };
            self.fails(tried);
        }
    }

    /// The whole minute after the first break, or the first one after it at which the end shows it.
    fn sooner_ended(&mut self) {
        let start_ms = u64::from(self.subject.scenario.plant.start_min) * MINUTE_MS;
        let first_ms = start_ms + self.best.broken.first_at_ms;
        let (mut low, mut high) = (first_ms / MINUTE_MS, self.best.end_ms / MINUTE_MS);
        while low + 1 < high {
            // The first guess is the best one.
            let middle = if low == first_ms / MINUTE_MS {
                low + 1
            } else {
                low.midpoint(high)
            };
            let tried = Tried {
                end_ms: middle * MINUTE_MS,
                ..Tried::of(&self.best)
            };
            if self.fails(tried) {
                high = middle;
            } else {
                low = middle;
            }
        }
    }

    fn with_severity(&mut self, at: usize, severity: f64) -> bool {
        let mut tried = Tried::of(&self.best);
        tried.chosen[at].severity = severity;
        self.fails(tried)
    }

    /// None at all, else a half, else the least in hundredths that is found by halving.
    fn milder(&mut self, at: usize) {
        let now = self.best.chosen[at].severity;
        if now <= 0.0 || self.with_severity(at, 0.0) {
            return;
        }
        let (mut low, mut high) = (0, (now * 100.0).ceil() as u32);
        if high > 50 {
            if self.with_severity(at, 0.5) {
                high = 50;
            } else {
                low = 50;
            }
        }
        for _ in 0..HALVINGS {
            let middle = u32::midpoint(low, high);
            if middle == low {
                break;
            }
            if self.with_severity(at, f64::from(middle) / 100.0) {
                high = middle;
            } else {
                low = middle;
            }
        }
        let rounded = f64::from(high) / 100.0;
        if (self.best.chosen[at].severity - rounded).abs() > 1e-9 {
            self.with_severity(at, rounded.min(1.0));
        }
    }

    fn at_a_whole_minute(&mut self, at: usize) {
        let now = self.best.chosen[at].at_ms;
        if now.is_multiple_of(MINUTE_MS) {
            return;
        }
        let floor = now - now % MINUTE_MS;
        let earliest = self.subject.origin.clock_ms();
        for at_ms in [floor, floor + MINUTE_MS] {
            let mut tried = Tried::of(&self.best);
            tried.chosen[at].at_ms = at_ms;
            // Before the run forks nothing can be put in.
            if at_ms >= earliest && self.fails(tried) {
                return;
            }
        }
    }

    /// The least of whole minutes that is found by halving how long the fault stands, where that was drawn.
    fn shorter(&mut self, at: usize) {
        let Some(now) = self.best.chosen[at].for_ms else {
            return;
        };
        let (mut low, mut high) = (0, now.div_ceil(MINUTE_MS));
        for _ in 0..=HALVINGS {
            let middle = u64::midpoint(low, high);
            if middle == low {
                break;
            }
            if self.with_length(at, middle * MINUTE_MS) {
                high = middle;
            } else {
                low = middle;
            }
        }
        if self.best.chosen[at].for_ms != Some(high * MINUTE_MS) {
            self.with_length(at, high * MINUTE_MS);
        }
    }

    fn with_length(&mut self, at: usize, for_ms: u64) -> bool {
        let mut tried = Tried::of(&self.best);
        tried.chosen[at].for_ms = Some(for_ms);
        self.fails(tried)
    }

    fn reset_at_a_whole_minute(&mut self) {
        let Some(now) = self.best.reset_at_ms else {
            return;
        };
        let floor = now - now % MINUTE_MS;
        for at_ms in [floor, floor + MINUTE_MS] {
            let tried = Tried {
                reset_at_ms: Some(at_ms),
                ..Tried::of(&self.best)
            };
            let sound = at_ms >= self.subject.origin.clock_ms() && at_ms != now;
            if sound && self.fails(tried) {
                return;
            }
        }
    }
}
