//! Who has to be told of a fault, and how soon: `annunciation.toml`, judged in the first trial of each single fault, which is as
//! the catalogue says, at severity 1.
//!
//! Invariant: each fault of the catalogue that a site can have stands there once, as told within a time or with the reason why not.

use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};

use super::trial::Outcome;
use crate::fault::{self, Chosen, Part};
use crate::scenario::Scenario;

const TEXT: &str = include_str!("annunciation.toml");

/// Faults that somebody is told of in time.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Told {
    /// Ids.
    pub faults: Vec<String>,
    /// How long after its onset at the latest, s.
    pub within_s: u32,
    /// Only where the feeder has this.
    pub needs: Option<Needs>,
    /// By what.
    pub why: String,
}

/// What a site has to have for a fault to be told of.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Needs {
    /// A level switch in the drum.
    LevelSwitch,
}

impl Needs {
    fn has(self, part: Part, scenario: &Scenario) -> bool {
        let Part::Feeder(at) = part else {
            return true;
        };
        let feeder = scenario.plant.feeders.get(at);
        match self {
            Self::LevelSwitch => feeder.is_some_and(|own| own.level_switch_l.is_some()),
        }
    }
}

/// Faults that nobody may be told of within a trial.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Untold {
    /// Ids.
    pub faults: Vec<String>,
    /// Why not.
    pub why: String,
    /// What shows it, or bounds it, in the end.
    pub seen_by: String,
}

/// All of it.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Annunciations {
    /// Told in time.
    pub told: Vec<Told>,
    /// Perhaps not.
    pub untold: Vec<Untold>,
}

impl Annunciations {
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
        let all: Self = toml::from_str(text).map_err(|error| error.to_string())?;
        let told = all.told.iter().flat_map(|entry| &entry.faults);
        let untold = all.untold.iter().flat_map(|entry| &entry.faults);
        let mut seen = BTreeSet::new();
        for id in told.chain(untold) {
            if fault::find(id).is_none() {
                return Err(format!("no fault is called {id}"));
            }
            if !seen.insert(id.as_str()) {
                return Err(format!("{id} stands there twice"));
            }
        }
        Ok(all)
    }

    /// Within how many seconds somebody has to be told of a fault at a site. `None`: nobody may be. A fault that stands nowhere
    /// has to be told of at once.
    #[must_use]
    pub fn within_s(&self, one: &Chosen, scenario: &Scenario) -> Option<u32> {
        let id = one.fault.id;
        let has = |entry: &&Told| entry.faults.iter().any(|own| own == id);
        match self.told.iter().find(has) {
            Some(entry) => {
                let can = entry
                    .needs
                    .is_none_or(|needs| needs.has(one.part, scenario));
                can.then_some(entry.within_s)
            }
            None if self.untold(id).is_some() => None,
            None => Some(0),
        }
    }

    /// Why nobody may be told of a fault.
    #[must_use]
    pub fn untold(&self, id: &str) -> Option<&Untold> {
        let mut all = self.untold.iter();
        all.find(|entry| entry.faults.iter().any(|own| own == id))
    }
}

/// What told of a fault at severity 1, and how soon.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Gravest {
    /// The first alarm that was not there before, or that a person is asked for; none: nobody was told.
    pub told_by: Option<String>,
    /// How long after its onset, s; 0 for what was told in the first days of a fault that stands from the start.
    pub told_after_s: Option<f64>,
    /// Within which time somebody has to be told, s; none: nobody may be.
    pub within_s: Option<u32>,
    /// Number of the trial.
    pub trial: u64,
}

impl Gravest {
    /// Of the first trial of a single fault.
    #[must_use]
    pub fn of(within_s: Option<u32>, trial: u64, outcome: &Outcome) -> Self {
        Self {
            told_by: outcome.told_by.clone(),
            told_after_s: outcome.told_after_ms.map(|ms| ms as f64 / 1_000.0),
            within_s,
            trial,
        }
    }

    /// Whether somebody was told in time, or need not be.
    #[must_use]
    pub fn is_inside(&self) -> bool {
        let Some(most) = self.within_s else {
            return true;
        };
        self.told_after_s.is_some_and(|s| s <= f64::from(most))
    }

    /// What is wrong, in words.
    #[must_use]
    pub fn words(&self) -> String {
        let most = self.within_s.unwrap_or_default();
        match (&self.told_by, self.told_after_s) {
            (Some(by), Some(s)) => format!("{by} told after {s:.0} s, and not within {most} s"),
            _ => format!("nobody was told, and had to be within {most} s"),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_fault_of_the_catalogue_stands_there_once_but_what_no_site_has() {
        let all = Annunciations::committed();
        // No site of this plant can have H10.
        for one in fault::catalogue().filter(|one| one.id != "H10") {
            let told = all
                .told
                .iter()
                .any(|entry| entry.faults.iter().any(|id| id == one.id));
            assert!(told != all.untold(one.id).is_some(), "{}", one.id);
        }
        let told = "[[told]]\nfaults = [\"H1\"]\nwithin_s = 1\nwhy = \"it is so\"\n";
        let untold = "[[untold]]\nfaults = [\"H1\"]\nwhy = \"it is so\"\nseen_by = \"a kit\"\n";
        let error = Annunciations::parse(&format!("{told}{untold}")).unwrap_err();
        assert!(error.contains("H1 stands there twice"), "{error}");
        let unknown = Annunciations::parse(&format!("{told}{untold}").replacen("H1", "H99", 1));
        assert!(unknown.unwrap_err().contains("no fault is called H99"));
    }

    #[test]
    fn what_needs_a_level_switch_is_told_of_only_where_there_is_one() {
        let all = Annunciations::committed();
        let mut scenario = Scenario::first_pool();
        let drum = |id| Chosen {
            fault: fault::find(id).unwrap(),
            part: Part::Feeder(0),
            severity: 1.0,
            at_ms: 0,
            for_ms: None,
        };
        scenario.plant.feeders[0].level_switch_l = Some(2.0);
        assert_eq!(all.within_s(&drum("C1"), &scenario), Some(2_400));
        scenario.plant.feeders[0].level_switch_l = None;
        assert_eq!(all.within_s(&drum("C1"), &scenario), None);
        assert_eq!(all.within_s(&drum("C6"), &scenario), Some(2_400));
        // What stands nowhere cannot be in time.
        assert_eq!(all.within_s(&drum("H10"), &scenario), Some(0));
        assert_eq!(all.within_s(&drum("H1"), &scenario), None);
    }

    #[test]
    fn in_time_is_at_the_bound_and_not_after_it() {
        let of = |told_after_s: Option<f64>, within_s| Gravest {
            told_by: told_after_s.map(|_| "ph_low".to_owned()),
            told_after_s,
            within_s,
            trial: 0,
        };
        assert!(of(Some(60.0), Some(60)).is_inside());
        assert!(!of(Some(60.1), Some(60)).is_inside());
        assert!(!of(None, Some(60)).is_inside());
        assert!(of(None, None).is_inside() && of(Some(9e9), None).is_inside());
        assert!(of(None, Some(60)).words().contains("nobody was told"));
        assert!(
            of(Some(61.0), Some(60))
                .words()
                .contains("ph_low told after 61 s")
        );
    }
}
