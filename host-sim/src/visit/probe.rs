//! Probes beside the kit, visit by visit.

use dosewarden::guard::units::MilliPh;
use dosewarden::probe::{KitTest, MicrogramsPerL};
use dosewarden::visit::{BesideKit, KitSays};
use serde::Serialize;

use super::entry::{Tested, What};
use super::errors;
use super::figure::Figure;
use super::log::{Log, Visit};

/// The pH probe beside the kit.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct ProbeFound {
    /// How far it shows above the kit on this visit.
    pub off: Figure,
    /// The same, of all visits since the probe was calibrated or changed.
    pub off_all: Figure,
    /// How many visits that are.
    pub visits: usize,
    /// In a buffer on this visit: how far it showed above it.
    pub in_buffer: Option<f64>,
    /// "agrees", "trim", "calibrate", "test_again" or "kit_doubted".
    pub says: &'static str,
    /// What to do, in words.
    pub words: String,
}

fn milli(ph: f64) -> MilliPh {
    MilliPh((ph * 1000.0).round() as i32)
}

fn kit(visit: &Visit, which: Tested) -> Option<f64> {
    visit.last(super::alkalinity::tested(which))
}

fn shown(visit: &Visit) -> Option<f64> {
    visit.last(|what| match what {
        What::ShowsPh(ph) => Some(*ph),
        _ => None,
    })
}

fn off(visit: &Visit) -> Option<f64> {
    Some(shown(visit)? - kit(visit, Tested::Ph)?)
}

fn is_new_line(visit: &Visit) -> bool {
    let new = visit.last(|what| match what {
        What::Calibrated(..) | What::New(dosewarden::visit::Part::PhProbe, _) => Some(()),
        _ => None,
    });
    new.is_some()
}

/// `None`: not both on this visit.
pub(super) fn found(log: &Log) -> Option<ProbeFound> {
    let now = log.now();
    let off_now = off(now)?;
    let before = log.visits.iter().rev().skip(1);
    // A calibration on a visit comes after its tests.
    let earlier = before.take_while(|visit| !is_new_line(visit));
    let mut all: Vec<f64> = earlier.filter_map(off).collect();
    all.push(off_now);
    let visits = all.len();
    let mean = all.iter().sum::<f64>() / visits as f64;
    let one = errors::test(Tested::Ph, off_now);
    let in_buffer = now.last(|what| match what {
        What::Buffer(reads, buffer) => Some(reads - buffer),
        _ => None,
    });
    let beside = BesideKit {
        shown: milli(shown(now)?),
        trim: MilliPh(0),
        kit: KitTest {
            ph: milli(kit(now, Tested::Ph)?),
            chlorine: kit(now, Tested::FreeChlorine)
                .map(|mg_l| MicrogramsPerL((mg_l * 1000.0).round() as u32)),
        },
        in_buffer: in_buffer.map(milli),
    };
    let (says, words) = words(beside.says());
    Some(ProbeFound {
        off: Figure::new(off_now, one, "", "probe less kit, this visit"),
        off_all: Figure::new(
            mean,
            one / (visits as f64).sqrt(),
            "",
            format!("probe less kit, of {visits} in all"),
        ),
        visits,
        in_buffer,
        says,
        words,
    })
}

fn words(says: KitSays) -> (&'static str, String) {
    match says {
        KitSays::Agrees => ("agrees", "as near as the kit can tell".to_owned()),
        KitSays::Trim(trim) => (
            "trim",
            format!(
                "check it in two buffers; a trim of {:+.2} would do until then",
                f64::from(trim.by().0) / 1000.0
            ),
        ),
        KitSays::Calibrate => ("calibrate", "calibrate it in two buffers".to_owned()),
        KitSays::TestAgain(why) => ("test_again", format!("test again: {why}")),
        KitSays::KitDoubted => (
            "kit_doubted",
            "the probe reads the buffer rightly: take fresh reagents and test again".to_owned(),
        ),
    }
}
