//! What a fault makes impossible to hold: (fault, oracle) to a bound, its reason, and what removes it.
//!
//! They stand in `bounds.toml`. Some were written down before the first campaign; most are there because a campaign was
//! outside without them, and say so. A pair of faults has the bounds of both: factors multiply, sums add.

use std::collections::BTreeSet;

use serde::Deserialize;

pub use super::allowance::Allowance;
use super::allowance::{Together, of_a_day};
use super::trial::Broken;
use crate::fault::{self, Chosen, Part, Parts};
use crate::judge::ORACLES;
use crate::plant::{ProbeId, Product};
use crate::scenario::Scenario;

/// Whose bound a fault of a part excuses.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum About {
    /// Only that of the product of the feeder that the fault is about.
    Own,
    /// That of each product.
    All,
}

/// Of which sizes of a fault an entry speaks.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Only {
    /// Of those that leave no witness of flow.
    NoWitness,
}

/// The id of a name, and the probe that it is about, if it says one.
fn parted(name: &str) -> (&str, Option<ProbeId>) {
    let of_probe = |(id, probe)| match probe {
        "ph" => Some((id, Some(ProbeId::Ph))),
        "orp" => Some((id, Some(ProbeId::Orp))),
        _ => None,
    };
    name.split_once(' ')
        .and_then(of_probe)
        .unwrap_or((name, None))
}

/// Whether a name, such as `S5` or `S5 ph`, is that of a fault.
fn is_it(name: &str, chosen: &Chosen) -> bool {
    let (id, probe) = parted(name);
    let of_it = match (probe, chosen.part) {
        (Some(probe), Part::Probe(its)) => probe == its,
        _ => true,
    };
    id == chosen.fault.id && of_it
}

/// Whether an oracle judged what a product is: of water, acid by its pH, and chlorine by what it has of it.
fn is_of(product: Product, broken: &Broken) -> bool {
    match (broken.oracle, broken.who()) {
        ("acid_floor", "water") => product == Product::Acid,
        ("chlorine_ceiling", "water") | (_, "chlorine") => product.is_chlorine(),
        (_, who) => product.name() == who,
    }
}

/// An entry.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Entry {
    /// Ids of the faults; `S5 ph` is only that of the pH probe.
    pub faults: Vec<String>,
    /// Only together with one of these.
    #[serde(default)]
    pub with: Vec<String>,
    /// Only of these sizes.
    pub only: Option<Only>,
    /// Names of the oracles.
    pub oracles: Vec<String>,
    /// Whose; has to be said where the faults are about feeders.
    pub about: Option<About>,
    /// By how much.
    pub allows: Allowance,
    /// Why it cannot be held.
    pub why: String,
    /// Which wiring, or habit, removes it.
    pub removed_by: String,
    /// How it was found, if a run had to show it: it was not written down before.
    pub found: Option<Found>,
}

/// How an entry was found that was not written down before.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
pub enum Found {
    /// A campaign was outside its bounds without it.
    #[serde(rename = "by a campaign")]
    ByACampaign,
}

impl Entry {
    /// What it says of one of its oracles, by which that is known.
    #[must_use]
    pub fn name(&self, oracle: &str) -> String {
        let with = if self.with.is_empty() {
            String::new()
        } else {
            format!(" with {}", self.with.join(", "))
        };
        format!("{}{with}: {oracle}", self.faults.join(", "))
    }

    /// Its names.
    pub fn names(&self) -> impl Iterator<Item = String> + '_ {
        self.oracles.iter().map(|oracle| self.name(oracle))
    }

    /// Whether it is about what a fault broke.
    fn is_about(&self, one: &Chosen, all: &[Chosen], broken: &Broken, scenario: &Scenario) -> bool {
        let named = |ids: &[String], chosen: &Chosen| ids.iter().any(|name| is_it(name, chosen));
        let beside = self.with.is_empty() || all.iter().any(|other| named(&self.with, other));
        let own = match (self.about, one.part) {
            (Some(About::Own), Part::Feeder(at)) => {
                let feeder = scenario.plant.feeders.get(at);
                feeder.is_some_and(|feeder| is_of(feeder.kind.product(), broken))
            }
            _ => true,
        };
        let sized = match self.only {
            Some(Only::NoWitness) => one.leaves_no_witness(scenario),
            None => true,
        };
        beside
            && own
            && sized
            && named(&self.faults, one)
            && self.oracles.iter().any(|o| o == broken.oracle)
    }
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
        Self::parse(TEXT).unwrap_or_else(|error| unreachable!("{error}"))
    }

    /// From the text of a file.
    ///
    /// # Errors
    /// What is wrong with it.
    pub fn parse(text: &str) -> Result<Self, String> {
        let file: File = toml::from_str(text).map_err(|error| error.to_string())?;
        for entry in &file.bound {
            for id in entry.faults.iter().chain(&entry.with) {
                if fault::find(parted(id).0).is_none() {
                    return Err(format!("no fault is called {id}"));
                }
            }
            let of_feeders = |id: &String| {
                fault::find(id).is_some_and(|f| {
                    matches!(f.parts, Parts::Feeders | Parts::Liquids | Parts::Cells)
                })
            };
            if entry.about.is_none() && entry.faults.iter().any(of_feeders) {
                let faults = entry.faults.join(", ");
                return Err(format!("{faults}: say about = \"own\" or \"all\""));
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
    ) -> (Option<f64>, BTreeSet<usize>) {
        self.allowed_without(None, broken, chosen, scenario)
    }

    fn allowed_without(
        &self,
        left_out: Option<usize>,
        broken: &Broken,
        chosen: &[Chosen],
        scenario: &Scenario,
    ) -> (Option<f64>, BTreeSet<usize>) {
        let mut together = Together::NONE;
        let mut used = BTreeSet::new();
        for one in chosen {
            for (at, entry) in self.entries.iter().enumerate() {
                if left_out != Some(at) && entry.is_about(one, chosen, broken, scenario) {
                    used.insert(at);
                    let of_days = matches!(entry.allows, Allowance::Day | Allowance::Days(_));
                    let day = of_days.then(|| {
                        let allowed = |day: &Broken| self.allowed(day, chosen, scenario).0;
                        of_a_day(broken, chosen, scenario, allowed)
                    });
                    together.add(entry.allows, day.flatten(), one, scenario, broken);
                }
            }
        }
        (together.value(broken), used)
    }

    /// The entries, by name, without any one of which this would be outside. None where it is outside with all.
    #[must_use]
    pub fn needed(&self, broken: &Broken, chosen: &[Chosen], scenario: &Scenario) -> Vec<String> {
        let (allowed, used) = self.allowed(broken, chosen, scenario);
        if !Self::holds(broken, allowed) {
            return Vec::new();
        }
        let is_needed = |at: &usize| {
            let (less, _) = self.allowed_without(Some(*at), broken, chosen, scenario);
            !Self::holds(broken, less)
        };
        let needed = used.into_iter().filter(is_needed);
        let entries = needed.filter_map(|at| self.entries.get(at));
        entries.map(|entry| entry.name(broken.oracle)).collect()
    }

    /// The names of all entries, for each of their oracles.
    pub fn names(&self) -> impl Iterator<Item = String> + '_ {
        self.entries.iter().flat_map(Entry::names)
    }

    /// The names that are not among `needed`.
    #[must_use]
    pub fn unneeded(&self, needed: &BTreeSet<String>) -> Vec<String> {
        self.names().filter(|name| !needed.contains(name)).collect()
    }

    /// Whether what was broken is inside what is allowed.
    #[must_use]
    pub fn holds(broken: &Broken, allowed: Option<f64>) -> bool {
        // A part in ten thousand for what a tick more or less adds.
        let slack = 1e-4 * broken.bound.abs();
        match allowed {
            None => true,
            Some(most) if broken.is_most() => broken.worst <= most + slack,
            Some(least) => broken.worst >= least - slack,
        }
    }
}
