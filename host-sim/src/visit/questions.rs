//! Figures that contradict each other are asked about.

use dosewarden::guard::units::{MilliPh, Millivolts};
use dosewarden::probe::MicrogramsPerL;
use dosewarden::visit::{Doubt, WaterSeen};
use serde::Serialize;

use super::alkalinity::{AlkalinityFound, tested};
use super::chlorine::booked_a_day_mg_l;
use super::drums::Drum;
use super::entry::{Tested, What};
use super::log::Log;
use crate::plan::{Plan, Site};

/// A question to the person who stands there.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Question {
    /// Its name, which stays.
    pub name: &'static str,
    /// The feeder that it is about, if it is about one.
    pub feeder: Option<String>,
    /// What contradicts what.
    pub what: String,
    /// What to do now to know.
    pub ask: &'static str,
    #[serde(skip)]
    pub(super) doubt: Doubt,
}

fn micrograms(mg_l: f64) -> MicrogramsPerL {
    MicrogramsPerL((mg_l * 1000.0).round().clamp(0.0, 4e9) as u32)
}

/// What was seen of the water on the last visit.
fn seen(log: &Log, site: &Site, fed_mg_l: Option<f64>) -> WaterSeen {
    let now = log.now();
    let figure = |which| now.last(tested(which));
    let free = now.last(|what| match what {
        What::Test(Tested::FreeChlorine, mg_l, diluted) => Some((*mg_l, *diluted)),
        _ => None,
    });
    WaterSeen {
        chlorine: free.map(|(mg_l, _)| micrograms(mg_l)),
        total_chlorine: figure(Tested::TotalChlorine).map(micrograms),
        diluted: free.is_some_and(|(_, diluted)| diluted),
        ph: figure(Tested::Ph).map(|ph| MilliPh((ph * 1000.0).round() as i32)),
        orp: now.last(orp).map(|mv| Millivolts(mv.round() as i32)),
        fed_last_day: fed_mg_l.map(micrograms),
        ..WaterSeen::of(micrograms(site.wanted.free_chlorine_mg_l))
    }
}

fn orp(what: &What) -> Option<f64> {
    match what {
        What::ShowsOrp(mv) => Some(*mv),
        _ => None,
    }
}

/// What the figures of a question are.
fn words(doubt: Doubt, log: &Log, fed_mg_l: Option<f64>) -> String {
    let now = log.now();
    let figure = |which, unit: &str| {
        let found = now.last(tested(which));
        found.map_or_else(
            || "not tested".to_owned(),
            |value| format!("{value} {unit}"),
        )
    };
    let free = figure(Tested::FreeChlorine, "mg/L");
    let orp = now.last(orp).map_or(0.0, |mv| mv);
    let fed = fed_mg_l.map_or_else(String::new, |fed| {
        format!("; the ledger fed {fed:.1} mg/L a day")
    });
    match doubt {
        Doubt::ChlorineBleached => {
            format!("free chlorine {free} does not go with {orp:.0} mV{fed}")
        }
        Doubt::ChlorineOverScale => format!("free chlorine {free}, not diluted"),
        Doubt::PhDyeMisreads => {
            let ph = now.last(tested(Tested::Ph)).unwrap_or(0.0);
            format!("pH {ph} by a dye at {free} of chlorine")
        }
        Doubt::PhOffKitScale => format!("pH {}", figure(Tested::Ph, "by the kit")),
        Doubt::TotalUnderFree => {
            let total = figure(Tested::TotalChlorine, "mg/L");
            format!("total chlorine {total} and free {free}")
        }
        Doubt::OrpTooLow => format!("free chlorine {free}, and ORP only {orp:.0} mV"),
        _ => String::new(),
    }
}

pub(super) fn all(
    log: &Log,
    site: &Site,
    plan: &Plan,
    drums: &[Drum],
    alkalinity: Option<&AlkalinityFound>,
) -> Vec<Question> {
    let one = |doubt: Doubt, feeder: Option<String>, what: String| Question {
        name: doubt.name(),
        feeder,
        what,
        ask: doubt.ask(),
        doubt,
    };
    let fed_mg_l = booked_a_day_mg_l(log, site, plan);
    let of_water = seen(log, site, fed_mg_l);
    let mut all: Vec<Question> = of_water
        .doubts()
        .map(|doubt| one(doubt, None, words(doubt, log, fed_mg_l)))
        .collect();
    for (drum, feeder) in drums.iter().zip(&site.feeders) {
        let own = drum.doubts.iter().cloned();
        all.extend(own.map(|(doubt, what)| one(doubt, Some(feeder.name.clone()), what)));
    }
    let rose = alkalinity.and_then(|found| found.doubt.clone());
    all.extend(rose.map(|(doubt, what)| one(doubt, None, what)));
    all
}
