//! What persons do about probes and tests of the water, in a scenario.
//!
//! | `person` | keys besides `by` |
//! |---|---|
//! | `dip` | `into`: `buffer_7.00` and the like, `zobell`, `light` |
//! | `calibrate` | `in`: the buffer that the person names; the second time calibrates |
//! | `check_orp` | `in`: `zobell`, `light` |
//! | `put_back` | `probe`: `ph`, `orp` |
//! | `replace_probe` | `probe`: says that it is another one, of which nothing was measured; `new_probe` tells the guard |
//! | `trim` | `ph`, `chlorine`, as a kit shows them; without, as they are |
//! | `anchor` | `wanted`, and `chlorine` as tested; without, as it is |
//! | `water_test` | `of`: `alkalinity`, `cyanurate`, `salt`, `borate`; `found` |

use dosewarden::guard::units::MilliPh;
use dosewarden::probe::{
    Buffer, CentiCelsius, MicrogramsPerL, ProbeKind, ReferenceElectrode, Solution,
};
use dosewarden::water_tests::TestedValue;

use super::error::InputError;
use super::quantity::Kind;
use super::table::Table;
use crate::plant::BodyTruth;

type Read<T> = Result<T, InputError>;

/// What a probe is dipped into.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Dip {
    /// A buffer, for pH.
    Buffer(Buffer),
    /// A reference solution, for ORP.
    Solution(Solution),
}

/// What somebody does. A figure that is not given is what a test without error finds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Work {
    /// Takes a probe out of the water, or out of the last solution, and dips it into one.
    Dip(Dip),
    /// Puts a probe back into the water.
    PutBack(ProbeKind),
    /// Says that a probe is another one: nothing that was measured of the old one counts.
    Replace(ProbeKind),
    /// Tells the unit which buffer the probe is in. The second time calibrates.
    Calibrate(Buffer),
    /// Tells the unit which solution the ORP probe is in.
    CheckOrp(Solution),
    /// Trims pH to a kit's test.
    Trim {
        /// pH by the kit.
        ph: Option<MilliPh>,
        /// Free chlorine by the kit.
        chlorine: Option<MicrogramsPerL>,
    },
    /// Anchors the ORP set point to a test of chlorine.
    Anchor {
        /// Free chlorine by the test.
        chlorine: Option<MicrogramsPerL>,
        /// What is wanted.
        wanted: MicrogramsPerL,
    },
    /// Enters a test of the water.
    Test {
        /// Of what.
        value: TestedValue,
        /// What was found; it has to be given for all but alkalinity.
        found: Option<MicrogramsPerL>,
    },
}

pub(super) const WORKS: [&str; 8] = [
    "dip",
    "put_back",
    "calibrate",
    "check_orp",
    "trim",
    "anchor",
    "water_test",
    "replace_probe",
];

const BUFFERS: [(&str, Buffer); 7] = [
    ("buffer_4.01", Buffer::Phthalate401),
    ("buffer_6.86", Buffer::Phosphate686),
    ("buffer_9.18", Buffer::Tetraborate918),
    ("buffer_10.02", Buffer::Carbonate1002),
    ("buffer_4.00", Buffer::Technical400),
    ("buffer_7.00", Buffer::Technical700),
    ("buffer_10.01", Buffer::Technical1001),
];

const SOLUTIONS: [(&str, Solution); 2] = [("zobell", Solution::Zobell), ("light", Solution::Light)];

const PROBES: [(&str, ProbeKind); 2] = [("ph", ProbeKind::Ph), ("orp", ProbeKind::Orp)];

const VALUES: [(&str, TestedValue); 4] = [
    ("alkalinity", TestedValue::Alkalinity),
    ("cyanurate", TestedValue::Cyanurate),
    ("salt", TestedValue::Salt),
    ("borate", TestedValue::Borate),
];

impl Dip {
    /// Which probe it is for.
    #[must_use]
    pub const fn probe(self) -> ProbeKind {
        match self {
            Self::Buffer(_) => ProbeKind::Ph,
            Self::Solution(_) => ProbeKind::Orp,
        }
    }

    /// The pH, or mV, that a sound probe finds in it; `None` at a temperature for which no table
    /// gives it.
    #[must_use]
    pub fn value(self, celsius: f64) -> Option<f64> {
        let at = CentiCelsius((celsius * 100.0).round() as i32);
        match self {
            Self::Buffer(buffer) => buffer.ph(at).map(|ph| f64::from(ph.0) / 1000.0),
            Self::Solution(solution) => solution
                .expected(ReferenceElectrode::SilverSaturated, at)
                .map(|mv| f64::from(mv.0)),
        }
    }
}

fn micrograms(mg_l: f64) -> MicrogramsPerL {
    MicrogramsPerL((mg_l * 1000.0).round().max(0.0) as u32)
}

impl Work {
    /// With the figures that are not given, from what is in the water.
    #[must_use]
    pub fn found_in(self, water: &BodyTruth) -> Self {
        let chlorine_there = micrograms(water.free_chlorine_mg_l);
        match self {
            Self::Trim { ph, chlorine } => Self::Trim {
                ph: ph.or(Some(MilliPh((water.ph * 1000.0).round() as i32))),
                chlorine: chlorine.or(Some(chlorine_there)),
            },
            Self::Anchor { chlorine, wanted } => Self::Anchor {
                chlorine: chlorine.or(Some(chlorine_there)),
                wanted,
            },
            Self::Test {
                value: TestedValue::Alkalinity,
                found: None,
            } => Self::Test {
                value: TestedValue::Alkalinity,
                found: Some(micrograms(water.alkalinity_mg_l)),
            },
            other => other,
        }
    }

    /// In words, after "the technician".
    #[must_use]
    pub fn words(&self) -> String {
        match self {
            Self::Dip(Dip::Buffer(buffer)) => format!("dips the pH probe into {buffer}"),
            Self::Dip(Dip::Solution(_)) => {
                "dips the ORP probe into a reference solution".to_owned()
            }
            Self::PutBack(ProbeKind::Ph) => "puts the pH probe back".to_owned(),
            Self::PutBack(ProbeKind::Orp) => "puts the ORP probe back".to_owned(),
            Self::Replace(ProbeKind::Ph) => "says that the pH probe is another".to_owned(),
            Self::Replace(ProbeKind::Orp) => "says that the ORP probe is another".to_owned(),
            Self::Calibrate(buffer) => format!("calibrates in {buffer}"),
            Self::CheckOrp(_) => "checks the ORP probe in the solution".to_owned(),
            Self::Trim { .. } => "trims pH to a kit's test".to_owned(),
            Self::Anchor { .. } => "anchors the ORP set point to a test".to_owned(),
            Self::Test { value, .. } => {
                let of = VALUES.iter().find(|(_, one)| one == value);
                format!(
                    "enters a test of {}",
                    of.map_or("the water", |(name, _)| name)
                )
            }
        }
    }
}

fn concentration(t: &Table<'_, '_>, key: &'static str) -> Read<Option<MicrogramsPerL>> {
    let Some(entry) = t.find(key) else {
        return Ok(None);
    };
    let mg_l = entry.quantity(Kind::Concentration, "0 mg/L", "100000 mg/L")?;
    Ok(Some(micrograms(mg_l)))
}

/// Reads the work named by `which`, of [`WORKS`].
pub(super) fn read(t: &Table<'_, '_>, which: &str) -> Read<Work> {
    Ok(match which {
        "dip" => {
            let buffers = BUFFERS.map(|(name, buffer)| (name, Dip::Buffer(buffer)));
            let solutions = SOLUTIONS.map(|(name, solution)| (name, Dip::Solution(solution)));
            let all: Vec<(&str, Dip)> = buffers.into_iter().chain(solutions).collect();
            Work::Dip(t.choice("into", &all)?)
        }
        "put_back" => Work::PutBack(t.choice("probe", &PROBES)?),
        "replace_probe" => Work::Replace(t.choice("probe", &PROBES)?),
        "calibrate" => Work::Calibrate(t.choice("in", &BUFFERS)?),
        "check_orp" => Work::CheckOrp(t.choice("in", &SOLUTIONS)?),
        "trim" => Work::Trim {
            ph: match t.find("ph") {
                Some(entry) => {
                    let ph = entry.quantity(Kind::Ph, "pH 6", "pH 9")?;
                    Some(MilliPh((ph * 1000.0).round() as i32))
                }
                None => None,
            },
            chlorine: concentration(t, "chlorine")?,
        },
        "anchor" => Work::Anchor {
            chlorine: concentration(t, "chlorine")?,
            wanted: micrograms(t.quantity("wanted", Kind::Concentration, "0.5 mg/L", "10 mg/L")?),
        },
        _ => {
            let value = t.choice("of", &VALUES)?;
            let found = concentration(t, "found")?;
            if found.is_none() && value != TestedValue::Alkalinity {
                // The plant has no true figure for it: it has to be given.
                t.quantity("found", Kind::Concentration, "0 mg/L", "100000 mg/L")?;
            }
            Work::Test { value, found }
        }
    })
}

#[cfg(test)]
mod tests {
    use super::super::{Act, FIRST_POOL, PersonAct, Scenario};
    use super::*;

    #[test]
    fn work_on_probes_and_tests_of_the_water_can_be_written() {
        let work = |text: &str| {
            let text = format!("{FIRST_POOL}\n[[event]]\nat = \"day 7 23:59\"\n{text}\n");
            let scenario = Scenario::parse("my.toml", &text).map_err(|error| error.what)?;
            match scenario.events.last().map(|event| &event.act) {
                Some(Act::Person(PersonAct::Work { work, .. })) => Ok(*work),
                other => panic!("{other:?}"),
            }
        };
        let seven = Buffer::Technical700;
        let mg_l = MicrogramsPerL::from_mg_l;
        for (text, expected) in [
            (
                "person = \"dip\"\ninto = \"buffer_7.00\"",
                Work::Dip(Dip::Buffer(seven)),
            ),
            (
                "person = \"calibrate\"\nin = \"buffer_7.00\"",
                Work::Calibrate(seven),
            ),
            (
                "person = \"put_back\"\nprobe = \"orp\"",
                Work::PutBack(ProbeKind::Orp),
            ),
            (
                "person = \"replace_probe\"\nprobe = \"ph\"",
                Work::Replace(ProbeKind::Ph),
            ),
            (
                "person = \"check_orp\"\nin = \"zobell\"",
                Work::CheckOrp(Solution::Zobell),
            ),
            (
                "person = \"trim\"\nph = \"pH 7.4\"",
                Work::Trim {
                    ph: Some(MilliPh(7400)),
                    chlorine: None,
                },
            ),
            (
                "person = \"anchor\"\nwanted = \"2 mg/L\"",
                Work::Anchor {
                    chlorine: None,
                    wanted: mg_l(2),
                },
            ),
            (
                "person = \"water_test\"\nof = \"salt\"\nfound = \"3000 mg/L\"",
                Work::Test {
                    value: TestedValue::Salt,
                    found: Some(mg_l(3000)),
                },
            ),
        ] {
            assert_eq!(work(text), Ok(expected), "{text}");
        }
        let untested: String =
            work("person = \"water_test\"\nof = \"salt\"").expect_err("what was found?");
        assert!(untested.contains("`found`"), "{untested}");
    }
}
