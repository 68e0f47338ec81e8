//! `[care]`: what the unit needs for each stage, which tests are due when, how cold is too cold; and
//! what persons do about them. Without the table the unit asks for none of it.
//!
//! | `person` | keys besides `by` |
//! |---|---|
//! | `observe` | |
//! | `kit_ph` | `ph` as a kit shows it; without, as it is |
//! | `prove` | `interlock`, and `feeder` for one of a feeder: begins its proof test |
//! | `prove_all` | `of`: `without_feed`, `with_feed` or `all`: one proof test after the other, each tripped by hand |
//! | `trip` | says that the interlock is tripped now |
//! | `stood_still` | `seen`: whether the feeder stood still, for the series contact |
//! | `prime` | `feeder`, `for` |
//! | `change_caps` | `feeder`, `share` of its caps now, `confirmed` |

use dosewarden::CareSettings;
use dosewarden::guard::units::{Fitted, MilliPh};
use dosewarden::probe::CentiCelsius;
use dosewarden::proof::{Interlock, ProofSettings};
use dosewarden::stages::StageSettings;
use dosewarden::water_tests::{TestRule, TestedValue};

use super::error::InputError;
use super::person::{feeder_at, long};
use super::quantity::Kind;
use super::table::Table;
use crate::plant::BodyTruth;

type Read<T> = Result<T, InputError>;

/// What `[care]` says.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct CarePlan {
    /// Stages, and cold water.
    pub settings: CareSettings,
    /// Proof tests.
    pub proof: ProofSettings,
    /// Tests of alkalinity.
    pub alkalinity: TestRule,
    /// Tests of cyanurate.
    pub cyanurate: TestRule,
}

impl CarePlan {
    /// How a value is tested here.
    #[must_use]
    pub const fn rule(&self, value: TestedValue) -> TestRule {
        match value {
            TestedValue::Alkalinity => self.alkalinity,
            TestedValue::Cyanurate => self.cyanurate,
            other => other.usual(),
        }
    }
}

/// Which proof tests a person makes in a round.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ProofsOf {
    /// Those that need no feed: they come before the reduced stage.
    WithoutFeed,
    /// Those that need feed.
    WithFeed,
    /// All.
    All,
}

/// What somebody does about stages, proof tests and limits.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CareAct {
    /// Steps down to observing only.
    Observe,
    /// Tests pH with a kit; `None`: without error.
    KitPh(Option<MilliPh>),
    /// Begins a proof test.
    Prove(Interlock),
    /// Begins one proof test after the other, and trips each interlock by hand.
    ProveAll(ProofsOf),
    /// Says that the interlock is tripped now.
    Trip,
    /// Says whether the feeder stood still.
    StoodStill(bool),
    /// Fills a feeder's tube: holds its button for so long.
    Prime {
        /// Of which feeder.
        feeder: usize,
        /// How long, ms.
        for_ms: u64,
    },
    /// Changes a feeder's caps.
    ChangeCaps {
        /// Of which feeder.
        feeder: usize,
        /// Share of what they are now, hundredths of a percent.
        share: u32,
        /// Says it once more when asked.
        confirmed: bool,
    },
    /// Enters the strength of what is in a drum of hypochlorite.
    Strength {
        /// Of which feeder.
        feeder: usize,
        /// Percent of what its caps were made for.
        percent: u8,
    },
}

pub(super) const CARES: [&str; 9] = [
    "observe",
    "kit_ph",
    "prove",
    "prove_all",
    "trip",
    "stood_still",
    "prime",
    "change_caps",
    "strength",
];

/// Of a feeder, or of the site whatever the feeder.
type Make = fn(u8) -> Interlock;

const PROOFS: [(&str, ProofsOf); 3] = [
    ("without_feed", ProofsOf::WithoutFeed),
    ("with_feed", ProofsOf::WithFeed),
    ("all", ProofsOf::All),
];

const INTERLOCKS: [(&str, Make); 8] = [
    ("flow_switch", |_| Interlock::FlowSwitch),
    ("flow_meter", |_| Interlock::FlowMeter),
    ("pump_contact", |_| Interlock::PumpContact),
    ("emergency_stop", |_| Interlock::EmergencyStop),
    ("master_contact", |_| Interlock::MasterContact),
    ("level_switch", Interlock::LevelSwitch),
    ("drive_feedback", Interlock::Feedback),
    ("cell_flow", Interlock::CellFlow),
];

impl CareAct {
    /// With the figure that is not given, from what is in the water.
    pub fn found_in(&mut self, water: Option<&BodyTruth>) {
        if let (Self::KitPh(ph @ None), Some(water)) = (self, water) {
            *ph = Some(MilliPh((water.ph * 1000.0).round() as i32));
        }
    }

    /// In words, after "the technician".
    #[must_use]
    pub fn words(&self, feeders: &[String]) -> String {
        let name = |feeder: usize| feeders.get(feeder).map_or("a feeder", String::as_str);
        match self {
            Self::Observe => "steps down to observing only".to_owned(),
            Self::KitPh(_) => "compares pH with a kit".to_owned(),
            Self::Prove(one) => match one {
                Interlock::LevelSwitch(of) | Interlock::Feedback(of) | Interlock::CellFlow(of) => {
                    let of = name(usize::from(*of));
                    format!("begins the proof test: {} of {of}", one.name())
                }
                _ => format!("begins the proof test: {}", one.name()),
            },
            Self::ProveAll(ProofsOf::WithoutFeed) => {
                "makes the proof tests that need no feed".to_owned()
            }
            Self::ProveAll(ProofsOf::WithFeed) => "makes the proof tests that need feed".to_owned(),
            Self::ProveAll(ProofsOf::All) => "makes all proof tests".to_owned(),
            Self::Trip => "trips the interlock".to_owned(),
            Self::StoodStill(true) => "has seen that the feeder stood still".to_owned(),
            Self::StoodStill(false) => "has seen that the feeder ran".to_owned(),
            Self::Strength { feeder, percent } => {
                format!("enters {percent} % for the strength of {}", name(*feeder))
            }
            Self::Prime { feeder, .. } => format!("fills the tube of {}", name(*feeder)),
            Self::ChangeCaps { feeder, share, .. } => format!(
                "changes the caps of {} to {} % of what they are",
                name(*feeder),
                f64::from(*share) / 100.0
            ),
        }
    }
}

/// Reads the act named by `which`, of [`CARES`].
pub(super) fn read_act(t: &Table<'_, '_>, which: &str, feeders: &[String]) -> Read<CareAct> {
    Ok(match which {
        "observe" => CareAct::Observe,
        "kit_ph" => CareAct::KitPh(match t.find("ph") {
            Some(entry) => {
                let ph = entry.quantity(Kind::Ph, "pH 6", "pH 9")?;
                Some(MilliPh((ph * 1000.0).round() as i32))
            }
            None => None,
        }),
        "prove" => {
            let make = t.choice("interlock", &INTERLOCKS)?;
            let of_feeder = make(0) != make(1);
            let feeder = if of_feeder {
                feeder_at(t, "feeder", feeders)?
            } else {
                0
            };
            CareAct::Prove(make(u8::try_from(feeder).unwrap_or(u8::MAX)))
        }
        "prove_all" => CareAct::ProveAll(t.choice("of", &PROOFS)?),
        "trip" => CareAct::Trip,
        "stood_still" => CareAct::StoodStill(t.need("seen", "true")?.yes_or_no()?),
        "prime" => CareAct::Prime {
            feeder: feeder_at(t, "feeder", feeders)?,
            for_ms: long(t, "for")?,
        },
        "strength" => CareAct::Strength {
            feeder: feeder_at(t, "feeder", feeders)?,
            percent: (t.quantity("percent", Kind::Share, "0 %", "200 %")? * 100.0).round() as u8,
        },
        _ => CareAct::ChangeCaps {
            feeder: feeder_at(t, "feeder", feeders)?,
            share: (t.quantity("share", Kind::Share, "1 %", "1000 %")? * 10_000.0).round() as u32,
            confirmed: match t.find("confirmed") {
                Some(entry) => entry.yes_or_no()?,
                None => false,
            },
        },
    })
}

/// Reads `[care]`, if it is there.
pub(super) fn read(root: &Table<'_, '_>, master_contact: bool) -> Read<Option<CarePlan>> {
    let Some(t) = root.find_table("care")? else {
        return Ok(None);
    };
    let whole = |key, unit_s: f64, min: &str, max: &str| -> Read<u16> {
        let units = t.quantity(key, Kind::Time, min, max)? / unit_s;
        Ok(units.ceil() as u16)
    };
    let days = |key| whole(key, 86_400.0, "1 day", "366 days");
    let fitted = |key| t.choice(key, &[("fitted", true), ("not fitted", false)]);
    let stages = StageSettings {
        begins_observing: t.choice("new_unit", &[("observes", true), ("feeds", false)])?,
        observe_hours: whole("observe_for", 3600.0, "1 h", "1000 h")?,
        reduced_hours: whole("reduced_for", 3600.0, "1 h", "1000 h")?,
    };
    let cold = t.need("cold_below", "\"10 C\"")?;
    let cold = cold.fitted(|entry| entry.quantity(Kind::Temperature, "1 C", "25 C"))?;
    let rule = |value: TestedValue, every_days| TestRule {
        every_days,
        ..value.usual()
    };
    let plan = CarePlan {
        settings: CareSettings {
            stages: Fitted::Fitted(stages),
            cold_below: cold.map_or(Fitted::NotFitted, |celsius| {
                Fitted::Fitted(CentiCelsius((celsius * 100.0).round() as i32))
            }),
        },
        proof: ProofSettings {
            every_days: days("proof_every")?,
            emergency_stop: fitted("emergency_stop")?,
            master_contact,
        },
        alkalinity: rule(TestedValue::Alkalinity, days("alkalinity_every")?),
        cyanurate: rule(TestedValue::Cyanurate, days("cyanurate_every")?),
    };
    t.close()?;
    Ok(Some(plan))
}

#[cfg(test)]
mod tests {
    use super::super::{Act, FIRST_POOL, PersonAct, Scenario};
    use super::*;

    const CARE: &str = "[care]\nnew_unit = \"observes\"\nobserve_for = \"8 h\"\n\
        reduced_for = \"2 days\"\nproof_every = \"90 days\"\nemergency_stop = \"fitted\"\n\
        cold_below = \"50 F\"\nalkalinity_every = \"30 days\"\ncyanurate_every = \"60 days\"\n";

    fn parse(more: &str) -> Result<Scenario, String> {
        let text = format!("{FIRST_POOL}\n{more}");
        Scenario::parse("my.toml", &text).map_err(|error| error.what)
    }

    #[test]
    fn care_is_read_whole_or_not_at_all() {
        let care = parse(CARE).unwrap().care.unwrap();
        let Fitted::Fitted(stages) = care.settings.stages else {
            panic!("no stages");
        };
        assert!(stages.begins_observing);
        assert_eq!((stages.observe_hours, stages.reduced_hours), (8, 48));
        let cold = Fitted::Fitted(CentiCelsius(1000));
        assert_eq!(
            (care.settings.cold_below, care.proof.every_days),
            (cold, 90)
        );
        assert_eq!(care.rule(TestedValue::Cyanurate).every_days, 60);
        assert_eq!(parse("").unwrap().care, None);
        let less = parse(&CARE.replace("proof_every = \"90 days\"\n", "")).unwrap_err();
        assert!(less.contains("proof_every"), "{less}");
    }

    #[test]
    fn acts_can_be_written_and_each_is_told_in_words() {
        let act = |text: &str| -> Result<(CareAct, String), String> {
            let scenario = parse(&format!("[[event]]\nat = \"day 7 23:59\"\n{text}\n"))?;
            let names = scenario.feeder_names();
            match scenario.events.last().map(|event| &event.act) {
                Some(Act::Person(PersonAct::Care { act, .. })) => Ok((*act, act.words(&names))),
                other => panic!("{other:?}"),
            }
        };
        let level = act("person = \"prove\"\ninterlock = \"level_switch\"\nfeeder = \"chlorine\"");
        let (level, words) = level.unwrap();
        assert_eq!(level, CareAct::Prove(Interlock::LevelSwitch(1)));
        assert_eq!(words, "begins the proof test: level switch of chlorine");
        let round = act("person = \"prove_all\"\nof = \"with_feed\"").unwrap();
        assert_eq!(round.0, CareAct::ProveAll(ProofsOf::WithFeed));
        assert_eq!(round.1, "makes the proof tests that need feed");
        let none = act("person = \"prove_all\"").unwrap_err();
        assert!(none.contains("`of`"), "{none}");
        let flow = act("person = \"prove\"\ninterlock = \"flow_switch\"")
            .unwrap()
            .0;
        assert_eq!(flow, CareAct::Prove(Interlock::FlowSwitch));
        let caps = act("person = \"change_caps\"\nfeeder = \"acid\"\nshare = \"50 %\"").unwrap();
        let half = CareAct::ChangeCaps {
            feeder: 0,
            share: 5000,
            confirmed: false,
        };
        assert_eq!(caps.0, half);
        assert_eq!(caps.1, "changes the caps of acid to 50 % of what they are");
        for simple in ["observe", "trip", "kit_ph"] {
            assert!(act(&format!("person = \"{simple}\"")).is_ok());
        }
        let prime = act("person = \"prime\"\nfeeder = \"acid\"\nfor = \"20 s\"")
            .unwrap()
            .0;
        let (feeder, for_ms) = (0, 20_000);
        assert_eq!(prime, CareAct::Prime { feeder, for_ms });
        assert!(
            act("person = \"stood_still\"")
                .unwrap_err()
                .contains("seen")
        );
        assert!(act("person = \"prove\"\ninterlock = \"brake\"").is_err());
    }
}
