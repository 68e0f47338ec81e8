//! What came of one fault, pair or random trial, folded so that parts can be put together.

use std::collections::{BTreeMap, BTreeSet};

use serde::{Deserialize, Serialize};

use super::annunciation::Gravest;
use super::bounds::Bounds;
use super::control::Nearest;
use super::plan::Group;
use super::subject::label;
use super::trial::{NOT_JUDGED, Outcome};
use crate::fault::Chosen;
use crate::scenario::Scenario;

/// A value with the trial in which it came.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct At {
    /// The value, in the unit of the field that it stands in.
    pub value: f64,
    /// The trial's number.
    pub trial: u64,
}

/// The larger, of equal ones that of the earlier trial: so the order of trials does not matter.
fn larger(kept: &mut Option<At>, new: At) {
    let better = |old: &At| {
        new.value > old.value || (new.value.total_cmp(&old.value).is_eq() && new.trial < old.trial)
    };
    if kept.as_ref().is_none_or(better) {
        *kept = Some(new);
    }
}

fn smaller(kept: &mut Option<At>, new: At) {
    let mut turned = kept.map(|old| At {
        value: -old.value,
        ..old
    });
    larger(
        &mut turned,
        At {
            value: -new.value,
            ..new
        },
    );
    *kept = turned.map(|at| At {
        value: -at.value,
        ..at
    });
}

/// A statement of an oracle that was past its bound in some trial of a case, of one thing that it is about.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Passed {
    /// The oracle's name.
    pub oracle: String,
    /// The value furthest past, by share of the bound.
    pub worst: f64,
    /// The bound of a sound site.
    pub bound: f64,
    /// Unit of both.
    pub unit: String,
    /// How far past it these faults may be; none: by anything.
    pub allowed: Option<f64>,
    /// Whether it was inside that in all trials.
    pub inside: bool,
    /// Number of the trial.
    pub trial: u64,
    /// What went wrong in it: of what, and what of that.
    pub words: String,
}

impl Passed {
    /// What it belongs to: a product, the water, the line.
    pub(super) fn who(&self) -> &str {
        self.words.split_once(": ").map_or("", |(who, _)| who)
    }
}

/// An oracle that held in a trial of which nobody was told, and came nearer to its bound than in a sound run.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Pressed {
    /// Its name.
    pub oracle: String,
    /// How much of the way from a sound run's worst to the bound it came, a share from 0 to 1.
    pub share: f64,
    /// The value nearest to the bound.
    pub value: f64,
    /// The bound of a sound site.
    pub bound: f64,
    /// Unit of both.
    pub unit: String,
    /// Number of the trial.
    pub trial: u64,
}

impl Pressed {
    fn of(trial: u64, one: &Nearest) -> Self {
        Self {
            oracle: one.by.oracle.to_owned(),
            share: one.share,
            value: one.by.worst,
            bound: one.by.bound,
            unit: one.by.unit.to_owned(),
            trial,
        }
    }
}

/// One fault, pair or random trial.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Case {
    /// Its number in the whole campaign, from 0; of random faults that of its trial.
    pub number: u64,
    /// Ids of the faults, with their part.
    pub faults: Vec<String>,
    /// Their sizes, a share from 0 to 1. A single fault has those of its first trial here; of one that changes the site from the
    /// start trial after trial has 1, 0, 0.5, 0.25 and 0.75 in turn, of another each draws its own.
    pub severity: Vec<f64>,
    /// When each begins, s from midnight before day 1; a single fault in its first trial.
    pub at_s: Vec<u64>,
    /// For how long each stands, s; none: as the catalogue says, as a single fault does in its first trial and every other one.
    pub for_s: Vec<Option<u64>>,
    /// Why the site cannot have them.
    pub not_here: Option<String>,
    /// How many trials.
    pub trials: u64,
    /// How many trials in which nobody was told anything new.
    pub untold: u64,
    /// By what somebody was told first, and how often.
    pub told_by: BTreeMap<String, u64>,
    /// In how many trials it was told in the first days of a fault that stands from the start, before the trial.
    pub told_in_first_days: u64,
    /// By what feed was refused first, and how often; the turn of another is left out.
    pub refused_by: BTreeMap<String, u64>,
    /// Longest time from the first onset until somebody was told, s; 0 for what was told in the first days.
    pub told_after_s: Option<At>,
    /// Longest time from the first onset until it was safe, s: all faults had begun, somebody had been told, and in that
    /// tick no drive was on and no feeder gave anything, driven or not. What comes again later does not count.
    pub safe_after_s: Option<At>,
    /// Most that each feeder gave more than the same span of a sound run with the same reset, at any moment until it was
    /// safe, or to the end: mL, or g for a generator.
    pub fed_more: BTreeMap<String, At>,
    /// Lowest pH.
    pub ph_min: Option<At>,
    /// Highest pH.
    pub ph_max: Option<At>,
    /// Lowest free chlorine, mg/L.
    pub chlorine_min_mg_l: Option<At>,
    /// Highest free chlorine, mg/L.
    pub chlorine_max_mg_l: Option<At>,
    /// What was past its bound, by the oracle and its words.
    pub passed: BTreeMap<String, Passed>,
    /// Of the trials of which nobody was told: the oracle that held and came nearest to its bound.
    pub pressed: Option<Pressed>,
    /// Of a single fault, as the catalogue says and at severity 1: what told of it, and how soon.
    pub gravest: Option<Gravest>,
    /// Entries of the bounds without any one of which it would be outside, by name.
    pub bounds_needed: BTreeSet<String>,
}

fn for_s(one: &Chosen) -> Option<u64> {
    one.for_ms.map(|ms| ms / 1_000)
}

impl Case {
    /// An empty one.
    #[must_use]
    pub fn of(number: u64, group: &Group, scenario: &Scenario) -> Self {
        let labels = group.chosen.iter();
        Self {
            number,
            faults: labels
                .map(|one| label(one.fault, one.part, scenario))
                .collect(),
            severity: group.chosen.iter().map(|one| one.severity).collect(),
            at_s: group.chosen.iter().map(|one| one.at_ms / 1_000).collect(),
            for_s: group.chosen.iter().map(for_s).collect(),
            not_here: group.not_here.map(|(id, why)| format!("{id}: {why}")),
            ..Self::default()
        }
    }

    /// Adds what came of a trial.
    pub fn add(
        &mut self,
        trial: u64,
        outcome: &Outcome,
        chosen: &[Chosen],
        bounds: &Bounds,
        scenario: &Scenario,
    ) {
        self.trials += 1;
        let at = |value: f64| At { value, trial };
        match &outcome.told_by {
            Some(by) => *self.told_by.entry(by.clone()).or_default() += 1,
            None => {
                self.untold += 1;
                if let Some(pressed) = &outcome.pressed {
                    self.press(Pressed::of(trial, pressed));
                }
            }
        }
        self.told_in_first_days += u64::from(outcome.told_in_first_days);
        if let Some(by) = &outcome.refused_by {
            *self.refused_by.entry(by.clone()).or_default() += 1;
        }
        let seconds = |ms: u64| ms as f64 / 1000.0;
        if let Some(ms) = outcome.told_after_ms {
            larger(&mut self.told_after_s, at(seconds(ms)));
        }
        if let Some(ms) = outcome.safe_after_ms {
            larger(&mut self.safe_after_s, at(seconds(ms)));
        }
        for (name, fed) in scenario.feeder_names().into_iter().zip(outcome.fed_more) {
            let mut kept = self.fed_more.get(&name).copied();
            larger(&mut kept, at(fed));
            if let Some(kept) = kept {
                self.fed_more.insert(name, kept);
            }
        }
        smaller(&mut self.ph_min, at(outcome.ph.0));
        larger(&mut self.ph_max, at(outcome.ph.1));
        smaller(&mut self.chlorine_min_mg_l, at(outcome.chlorine_mg_l.0));
        larger(&mut self.chlorine_max_mg_l, at(outcome.chlorine_mg_l.1));
        for broken in outcome.broken.iter().filter(|b| b.oracle != NOT_JUDGED) {
            let (allowed, _) = bounds.allowed(broken, chosen, scenario);
            let needed = bounds.needed(broken, chosen, scenario);
            self.bounds_needed.extend(needed);
            self.pass(
                format!("{}: {}", broken.oracle, broken.words),
                Passed {
                    oracle: broken.oracle.to_owned(),
                    worst: broken.worst,
                    bound: broken.bound,
                    unit: broken.unit.to_owned(),
                    allowed,
                    inside: Bounds::holds(broken, allowed),
                    trial,
                    words: broken.words.clone(),
                },
            );
        }
    }

    pub(super) fn pass(&mut self, which: String, new: Passed) {
        let Some(kept) = self.passed.get_mut(&which) else {
            self.passed.insert(which, new);
            return;
        };
        let inside = kept.inside && new.inside;
        // One that is outside is shown before one that is inside.
        let rank = |p: &Passed| {
            (
                !p.inside,
                (p.worst - p.bound).abs() / p.bound.abs().max(1e-9),
            )
        };
        let ((a, x), (b, y)) = (rank(kept), rank(&new));
        let further = (b, y) > (a, x) || ((b, y) == (a, x) && new.trial < kept.trial);
        if further {
            *kept = new;
        }
        kept.inside = inside;
    }

    /// The nearer, of equal ones that of the earlier trial.
    fn press(&mut self, new: Pressed) {
        let at = |one: &Pressed| At {
            value: one.share,
            trial: one.trial,
        };
        let mut kept = self.pressed.as_ref().map(at);
        larger(&mut kept, at(&new));
        if kept == Some(at(&new)) {
            self.pressed = Some(new);
        }
    }

    /// Puts two parts of one case together.
    pub(super) fn merge(&mut self, other: Self) {
        self.trials += other.trials;
        self.untold += other.untold;
        self.told_in_first_days += other.told_in_first_days;
        for (by, count) in other.told_by {
            *self.told_by.entry(by).or_default() += count;
        }
        for (by, count) in other.refused_by {
            *self.refused_by.entry(by).or_default() += count;
        }
        let most = |kept: &mut Option<At>, new: Option<At>| {
            if let Some(new) = new {
                larger(kept, new);
            }
        };
        most(&mut self.told_after_s, other.told_after_s);
        most(&mut self.safe_after_s, other.safe_after_s);
        most(&mut self.ph_max, other.ph_max);
        most(&mut self.chlorine_max_mg_l, other.chlorine_max_mg_l);
        for (name, new) in other.fed_more {
            let mut kept = self.fed_more.get(&name).copied();
            larger(&mut kept, new);
            self.fed_more.insert(name, kept.unwrap_or(new));
        }
        if let Some(new) = other.ph_min {
            smaller(&mut self.ph_min, new);
        }
        if let Some(new) = other.chlorine_min_mg_l {
            smaller(&mut self.chlorine_min_mg_l, new);
        }
        for (which, passed) in other.passed {
            self.pass(which, passed);
        }
        if let Some(pressed) = other.pressed {
            self.press(pressed);
        }
        self.gravest = self.gravest.take().or(other.gravest);
        self.bounds_needed.extend(other.bounds_needed);
    }

    /// Whether every oracle was inside its bound, or inside what these faults allow, and somebody was told in time who has to be.
    #[must_use]
    pub fn is_inside(&self) -> bool {
        self.passed.values().all(|passed| passed.inside)
            && self.gravest.as_ref().is_none_or(Gravest::is_inside)
    }
}
