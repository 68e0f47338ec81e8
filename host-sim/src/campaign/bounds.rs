//! What a fault makes impossible to hold: (fault, oracle) to a bound, its reason, and what removes it.
//!
//! Written before the first campaign, in `bounds.toml`. A pair of faults has the bounds of both: factors multiply,
//! sums add.

use serde::Deserialize;

use super::trial::Broken;
use crate::fault::{self, Chosen};
use crate::judge::ORACLES;
use crate::scenario::Scenario;

/// By how much a bound may be passed.
#[derive(Clone, Copy, Debug, PartialEq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Allowance {
    /// So many times it.
    Times(f64),
    /// As many times as the feeder gives more than it should.
    TimesSize,
    /// So much more, in the oracle's unit, to its bad side.
    Plus(f64),
    /// No further than this value, in the oracle's unit.
    To(f64),
    /// By anything: only what is there, such as a drum, ends it.
    Any,
}

/// An entry.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Entry {
    /// Ids of the faults.
    pub faults: Vec<String>,
    /// Only together with one of these.
    #[serde(default)]
    pub with: Vec<String>,
    /// Names of the oracles.
    pub oracles: Vec<String>,
    /// By how much.
    pub allows: Allowance,
    /// Why it cannot be held.
    pub why: String,
    /// Which wiring, or habit, removes it.
    pub removed_by: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    bound: Vec<Entry>,
}

/// All entries.
#[derive(Clone, Debug)]
pub struct Bounds {
    /// In the order of the file.
    pub entries: Vec<Entry>,
}

const TEXT: &str = include_str!("bounds.toml");

impl Bounds {
    /// Those that the project commits to.
    ///
    /// # Panics
    /// Never: a test reads them.
    #[must_use]
    pub fn committed() -> Self {
        match Self::parse(TEXT) {
            Ok(bounds) => bounds,
            Err(error) => unreachable!("{error}"),
        }
    }

    /// From the text of a file.
    ///
    /// # Errors
    /// What is wrong with it.
    pub fn parse(text: &str) -> Result<Self, String> {
        let file: File = toml::from_str(text).map_err(|error| error.to_string())?;
        for entry in &file.bound {
            for id in entry.faults.iter().chain(&entry.with) {
                if fault::find(id).is_none() {
                    return Err(format!("no fault is called {id}"));
                }
            }
            for oracle in &entry.oracles {
                if !ORACLES.contains(&oracle.as_str()) {
                    return Err(format!("no oracle is called {oracle}"));
                }
            }
        }
        Ok(Self {
            entries: file.bound,
        })
    }

    /// How far these faults allow an oracle to be past its bound: the value, and the entries that say so. `None`
    /// as value: by anything. No entry: not at all.
    #[must_use]
    pub fn allowed(
        &self,
        broken: &Broken,
        chosen: &[Chosen],
        scenario: &Scenario,
    ) -> (Option<f64>, Vec<usize>) {
        let (mut times, mut plus, mut any, mut to) = (1.0, 0.0, false, None::<f64>);
        let mut used = Vec::new();
        let is_most = broken.worst >= broken.bound;
        for one in chosen {
            for (at, entry) in self.entries.iter().enumerate() {
                let beside = entry.with.is_empty()
                    || chosen
                        .iter()
                        .any(|other| entry.with.iter().any(|id| id == other.fault.id));
                let about = beside
                    && entry.faults.iter().any(|id| id == one.fault.id)
                    && entry.oracles.iter().any(|name| name == broken.oracle);
                if !about {
                    continue;
                }
                used.push(at);
                match entry.allows {
                    Allowance::Times(factor) => times *= factor,
                    Allowance::TimesSize => times *= one.times(scenario),
                    Allowance::Plus(more) => plus += more,
                    Allowance::To(value) => {
                        let further = |old: f64| {
                            if is_most {
                                old.max(value)
                            } else {
                                old.min(value)
                            }
                        };
                        to = Some(to.map_or(value, further));
                    }
                    Allowance::Any => any = true,
                }
            }
        }
        if any {
            return (None, used);
        }
        let shifted = if is_most {
            broken.bound * times + plus
        } else {
            broken.bound / times - plus
        };
        let value = match to {
            Some(to) if is_most => shifted.max(to),
            Some(to) => shifted.min(to),
            None => shifted,
        };
        (Some(value), used)
    }

    /// Whether what was broken is inside what is allowed.
    #[must_use]
    pub fn holds(broken: &Broken, allowed: Option<f64>) -> bool {
        // A part in ten thousand for what a tick more or less adds.
        let slack = 1e-4 * broken.bound.abs();
        match allowed {
            None => true,
            Some(most) if broken.worst >= broken.bound => broken.worst <= most + slack,
            Some(least) => broken.worst >= least - slack,
        }
    }
}
