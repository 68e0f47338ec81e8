//! What a campaign found: a case for each fault, pair or random trial, folded so that parts can be put together.

use std::collections::{BTreeMap, BTreeSet};

use serde::{Deserialize, Serialize};

use super::CampaignError;
use super::bounds::Bounds;
use super::plan::Group;
use super::subject::label;
use super::trial::Outcome;
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

/// An oracle that was past its bound in some trial of a case.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Passed {
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
    /// What went wrong in it.
    pub words: String,
}

/// One fault, pair or random trial.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Case {
    /// Its number in the whole campaign, from 0; of random faults that of its trial.
    pub number: u64,
    /// Ids of the faults, with their part.
    pub faults: Vec<String>,
    /// Their sizes, a share from 0 to 1.
    pub severity: Vec<f64>,
    /// Why the site cannot have them.
    pub not_here: Option<String>,
    /// How many trials.
    pub trials: u64,
    /// How many trials in which nobody was told anything new.
    pub untold: u64,
    /// By what somebody was told first, and how often.
    pub told_by: BTreeMap<String, u64>,
    /// By what feed was refused first, and how often.
    pub refused_by: BTreeMap<String, u64>,
    /// Longest time from the onset until somebody was told, s.
    pub told_after_s: Option<At>,
    /// Longest time from the onset until nothing was driven and somebody had been told, s.
    pub safe_after_s: Option<At>,
    /// Most that each feeder gave from the onset to there, mL or g.
    pub fed: BTreeMap<String, At>,
    /// Lowest pH.
    pub ph_min: Option<At>,
    /// Highest pH.
    pub ph_max: Option<At>,
    /// Lowest free chlorine, mg/L.
    pub chlorine_min_mg_l: Option<At>,
    /// Highest free chlorine, mg/L.
    pub chlorine_max_mg_l: Option<At>,
    /// Oracles that were past their bound.
    pub passed: BTreeMap<String, Passed>,
    /// Entries of the bounds without any one of which it would be outside, by name.
    pub bounds_needed: BTreeSet<String>,
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
            not_here: group.not_here.map(|(id, why)| format!("{id}: {why}")),
            ..Self::default()
        }
    }

    /// Adds what came of a trial.
    pub fn add(
        &mut self,
        trial: u64,
        outcome: &Outcome,
        group: &Group,
        bounds: &Bounds,
        scenario: &Scenario,
    ) {
        self.trials += 1;
        let at = |value: f64| At { value, trial };
        match &outcome.told_by {
            Some(by) => *self.told_by.entry(by.clone()).or_default() += 1,
            None => self.untold += 1,
        }
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
        for (name, fed) in scenario.feeder_names().into_iter().zip(outcome.fed) {
            let mut kept = self.fed.get(&name).copied();
            larger(&mut kept, at(fed));
            if let Some(kept) = kept {
                self.fed.insert(name, kept);
            }
        }
        smaller(&mut self.ph_min, at(outcome.ph.0));
        larger(&mut self.ph_max, at(outcome.ph.1));
        smaller(&mut self.chlorine_min_mg_l, at(outcome.chlorine_mg_l.0));
        larger(&mut self.chlorine_max_mg_l, at(outcome.chlorine_mg_l.1));
        for broken in outcome.broken.iter().filter(|b| b.oracle != NOT_JUDGED) {
            let (allowed, _) = bounds.allowed(broken, &group.chosen, scenario);
            let needed = bounds.needed(broken, &group.chosen, scenario);
            self.bounds_needed.extend(needed);
            self.pass(
                broken.oracle,
                Passed {
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

    fn pass(&mut self, oracle: &str, new: Passed) {
        let Some(kept) = self.passed.get_mut(oracle) else {
            self.passed.insert(oracle.to_owned(), new);
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

    /// Puts two parts of one case together.
    fn merge(&mut self, other: Self) {
        self.trials += other.trials;
        self.untold += other.untold;
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
        for (name, new) in other.fed {
            let mut kept = self.fed.get(&name).copied();
            larger(&mut kept, new);
            self.fed.insert(name, kept.unwrap_or(new));
        }
        if let Some(new) = other.ph_min {
            smaller(&mut self.ph_min, new);
        }
        if let Some(new) = other.chlorine_min_mg_l {
            smaller(&mut self.chlorine_min_mg_l, new);
        }
        for (oracle, passed) in other.passed {
            self.pass(&oracle, passed);
        }
        self.bounds_needed.extend(other.bounds_needed);
    }

    /// Whether every oracle was inside its bound, or inside what these faults allow.
    #[must_use]
    pub fn is_inside(&self) -> bool {
        self.passed.values().all(|passed| passed.inside)
    }
}

/// How well the water is kept is no question while something is broken.
const NOT_JUDGED: &str = "kept_in_range";

/// What a campaign, or a part of one, found.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Report {
    /// Layout of this file.
    pub version: u32,
    /// The site.
    pub site: String,
    /// The command that lives all of it again.
    pub command: String,
    /// A digest of the site's scenario and of the bounds.
    pub digest: u64,
    /// What is wrong with its unit on purpose.
    pub canary: Option<String>,
    /// "single", "pairs" or "random".
    pub mode: String,
    /// The seed.
    pub seed: u64,
    /// Ids of the faults that were asked for; empty: all of the catalogue.
    pub only: Vec<String>,
    /// A digest of all cases that were drawn: their faults, sizes and times.
    pub drawn: u64,
    /// Which parts of how many were lived: `[part, of]`, `[1, 1]` for all of it.
    pub parts: BTreeSet<[u64; 2]>,
    /// How many trials the whole campaign has.
    pub planned: u64,
    /// How many trials were lived.
    pub lived: u64,
    /// Simulated time, s.
    pub simulated_s: u64,
    /// It was stopped before its end.
    pub stopped: bool,
    /// The cases that were lived, and those that the site cannot have, by number.
    pub cases: Vec<Case>,
}

impl Report {
    /// Layout of what [`Report`] is written as.
    pub const VERSION: u32 = 3;

    /// Whether all was inside the bounds.
    #[must_use]
    pub fn is_inside(&self) -> bool {
        self.cases.iter().all(Case::is_inside)
    }

    /// Puts parts together.
    ///
    /// # Errors
    /// They are not parts of one campaign.
    pub fn merge(parts: Vec<Self>) -> Result<Self, CampaignError> {
        let mut parts = parts.into_iter();
        let Some(mut all) = parts.next() else {
            return Err(CampaignError::Merge("no file to put together".to_owned()));
        };
        let mut cases = core::mem::take(&mut all.cases);
        for part in parts {
            if !all.is_of_one_with(&part) {
                let what = format!(
                    "these are parts of two campaigns: {} {} with seed {}, and {} {} with seed {}",
                    all.site, all.mode, all.seed, part.site, part.mode, part.seed
                );
                return Err(CampaignError::Merge(what));
            }
            if let Some([one, of]) = part.parts.intersection(&all.parts).next() {
                let what = format!("part {one}/{of} is there twice");
                return Err(CampaignError::Merge(what));
            }
            all.parts.extend(part.parts);
            all.lived += part.lived;
            all.simulated_s += part.simulated_s;
            all.stopped |= part.stopped;
            cases.extend(part.cases);
        }
        if let Some(missing) = all.missing() {
            return Err(CampaignError::Merge(missing));
        }
        // A case of single faults has trials in several parts.
        cases.sort_by_key(|case| case.number);
        for case in cases {
            match all
                .cases
                .last_mut()
                .filter(|last| last.number == case.number)
            {
                Some(last) => last.merge(case),
                None => all.cases.push(case),
            }
        }
        all.parts = [[1, 1]].into();
        Ok(all)
    }

    /// Whether two are parts of one campaign.
    fn is_of_one_with(&self, other: &Self) -> bool {
        let of = |one: &Self| one.parts.iter().map(|[_, of]| *of).next();
        (
            self.version,
            self.digest,
            self.drawn,
            self.seed,
            self.planned,
        ) == (
            other.version,
            other.digest,
            other.drawn,
            other.seed,
            other.planned,
        ) && (&self.site, &self.mode, &self.canary) == (&other.site, &other.mode, &other.canary)
            && self.only == other.only
            && of(self) == of(other)
    }

    /// Which parts are missing, in words.
    fn missing(&self) -> Option<String> {
        let of = self.parts.iter().map(|[_, of]| *of).next()?;
        let missing: Vec<String> = (1..=of)
            .filter(|part| !self.parts.contains(&[*part, of]))
            .map(|part| format!("{part}/{of}"))
            .collect();
        (!missing.is_empty()).then(|| format!("missing: {}", missing.join(", ")))
    }
}
