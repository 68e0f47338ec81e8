//! Faults of the plant by name: which part, and how large.

use super::error::InputError;
use super::quantity::Kind;
use super::table::Table;
use crate::plant::{FeederFault, PlantFault, ProbeFault, ProbeId};

type Read<T> = Result<T, InputError>;

/// What besides its name a fault needs.
#[derive(Clone, Copy)]
enum Shape {
    Plain(PlantFault),
    Share(fn(f64) -> PlantFault),
    Times(fn(f64) -> PlantFault),
    Probe(ProbeFault),
    ProbeSize(fn(f64) -> ProbeFault),
    ProbeTimes(fn(f64) -> ProbeFault, f64, f64),
    Feeder(FeederFault),
    FeederTimes(fn(f64) -> FeederFault),
    FeederLateOff,
    FeederSiphon,
}

const NAMES: [(&str, Shape); 41] = [
    ("pump_trips", Shape::Plain(PlantFault::CirculationTripped)),
    ("flow_reduced", Shape::Share(PlantFault::FlowReduced)),
    (
        "flow_switch_stuck_on",
        Shape::Plain(PlantFault::FlowSwitchStuckOn),
    ),
    (
        "flow_switch_stuck_off",
        Shape::Plain(PlantFault::FlowSwitchStuckOff),
    ),
    (
        "flow_switch_chatters",
        Shape::Plain(PlantFault::FlowSwitchChatters),
    ),
    (
        "pump_contact_stuck_on",
        Shape::Plain(PlantFault::PumpContactStuckOn),
    ),
    (
        "pump_contact_stuck_off",
        Shape::Plain(PlantFault::PumpContactStuckOff),
    ),
    ("master_welded", Shape::Plain(PlantFault::MasterWelded)),
    (
        "master_never_closes",
        Shape::Plain(PlantFault::MasterNeverCloses),
    ),
    ("dead_man_bridged", Shape::Plain(PlantFault::DeadManBridged)),
    ("bather_load", Shape::Times(PlantFault::BatherLoad)),
    ("return_lost", Shape::Share(PlantFault::ReturnLost)),
    ("sample_stands", Shape::Plain(PlantFault::SampleStands)),
    ("valves_stuck", Shape::Plain(PlantFault::ValvesStuck)),
    ("position_stuck", Shape::Plain(PlantFault::PositionStuck)),
    ("probe_open", Shape::Probe(ProbeFault::Open)),
    ("probe_shorted", Shape::Probe(ProbeFault::Shorted)),
    ("probe_frozen", Shape::Probe(ProbeFault::Frozen)),
    ("probe_drift_a_day", Shape::ProbeSize(ProbeFault::Drift)),
    ("probe_offset", Shape::ProbeSize(ProbeFault::Offset)),
    ("probe_noise", Shape::ProbeSize(ProbeFault::Noise)),
    (
        "probe_slope",
        Shape::ProbeTimes(ProbeFault::Slope, 0.0, 1.0),
    ),
    (
        "probe_sluggish",
        Shape::ProbeTimes(ProbeFault::Sluggish, 1.0, 1000.0),
    ),
    ("probe_spikes", Shape::ProbeSize(ProbeFault::Spikes)),
    ("probe_dried", Shape::Probe(ProbeFault::Dried)),
    ("contact_welded", Shape::Feeder(FeederFault::ContactWelded)),
    (
        "contact_never_closes",
        Shape::Feeder(FeederFault::NeverCloses),
    ),
    (
        "feedback_stuck_on",
        Shape::Feeder(FeederFault::FeedbackStuckOn),
    ),
    (
        "feedback_stuck_off",
        Shape::Feeder(FeederFault::FeedbackStuckOff),
    ),
    ("wrong_product", Shape::Feeder(FeederFault::WrongProduct)),
    ("lost_prime", Shape::Feeder(FeederFault::LostPrime)),
    ("drum_empty", Shape::Feeder(FeederFault::DrumEmpty)),
    (
        "level_stuck_full",
        Shape::Feeder(FeederFault::LevelStuckFull),
    ),
    (
        "level_stuck_empty",
        Shape::Feeder(FeederFault::LevelStuckEmpty),
    ),
    ("cell_dead", Shape::Feeder(FeederFault::CellDead)),
    (
        "cell_switch_stuck_on",
        Shape::Feeder(FeederFault::CellSwitchStuckOn),
    ),
    (
        "cell_switch_stuck_off",
        Shape::Feeder(FeederFault::CellSwitchStuckOff),
    ),
    ("rate_times", Shape::FeederTimes(FeederFault::Rate)),
    ("strength_times", Shape::FeederTimes(FeederFault::Strength)),
    ("late_off", Shape::FeederLateOff),
    ("siphon", Shape::FeederSiphon),
];

const PROBES: [(&str, ProbeId); 2] = [("ph", ProbeId::Ph), ("orp", ProbeId::Orp)];

/// Reads the fault that `key` names, with `of` and `size` where it needs them.
pub(super) fn read(t: &Table<'_, '_>, key: &'static str, feeders: &[String]) -> Read<PlantFault> {
    let probe = || t.choice("of", &PROBES);
    let feeder = || {
        let known: Vec<(&str, usize)> = feeders
            .iter()
            .enumerate()
            .map(|(index, name)| (name.as_str(), index))
            .collect();
        t.choice("of", &known)
    };
    let number = |min, max| t.need("size", "2.0")?.number(min, max);
    Ok(match t.choice(key, &NAMES)? {
        Shape::Plain(fault) => fault,
        Shape::Share(make) => make(t.quantity("size", Kind::Share, "0 %", "100 %")?),
        Shape::Times(make) => make(number(0.0, 100.0)?),
        Shape::Probe(fault) => PlantFault::Probe(probe()?, fault),
        Shape::ProbeSize(make) => {
            let id = probe()?;
            let size = match id {
                ProbeId::Ph => t.quantity("size", Kind::Ph, "pH -7", "pH 7")?,
                ProbeId::Orp => t.quantity("size", Kind::Potential, "-1000 mV", "1000 mV")?,
            };
            PlantFault::Probe(id, make(size))
        }
        Shape::ProbeTimes(make, min, max) => PlantFault::Probe(probe()?, make(number(min, max)?)),
        Shape::Feeder(fault) => PlantFault::Feeder(feeder()?, fault),
        Shape::FeederTimes(make) => PlantFault::Feeder(feeder()?, make(number(0.0, 100.0)?)),
        Shape::FeederLateOff => {
            let late = t.quantity("size", Kind::Time, "1 ms", "1 h")?;
            PlantFault::Feeder(
                feeder()?,
                FeederFault::LateOff((late * 1000.0).round() as u32),
            )
        }
        Shape::FeederSiphon => {
            let per_hour = t.quantity("size", Kind::LiquidRate, "0 L/h", "100 L/h")?;
            PlantFault::Feeder(feeder()?, FeederFault::Siphon(per_hour * 1000.0))
        }
    })
}

/// All names.
#[cfg(test)]
pub(super) fn names() -> impl Iterator<Item = &'static str> {
    NAMES.iter().map(|(name, _)| *name)
}

/// A fault's name, its part and its size.
pub(super) fn words(fault: PlantFault, feeders: &[String]) -> String {
    let name = |wanted: &dyn Fn(Shape) -> bool| {
        NAMES
            .iter()
            .find(|(_, shape)| wanted(*shape))
            .map_or("fault", |(name, _)| name)
    };
    let probe = |id| if id == ProbeId::Ph { "ph" } else { "orp" };
    let same = core::mem::discriminant::<PlantFault>;
    match fault {
        PlantFault::FlowReduced(share) => format!("flow_reduced to {:.0} %", share * 100.0),
        PlantFault::ReturnLost(share) => format!("return_lost, {:.0} %", share * 100.0),
        PlantFault::BatherLoad(times) => format!("bather_load times {times}"),
        PlantFault::Probe(id, what) => {
            let kind = core::mem::discriminant::<ProbeFault>;
            let found = name(&|shape| match shape {
                Shape::Probe(f) => kind(&f) == kind(&what),
                Shape::ProbeSize(make) | Shape::ProbeTimes(make, ..) => {
                    kind(&make(0.0)) == kind(&what)
                }
                _ => false,
            });
            let size = match what {
                ProbeFault::Drift(size)
                | ProbeFault::Offset(size)
                | ProbeFault::Noise(size)
                | ProbeFault::Slope(size)
                | ProbeFault::Sluggish(size)
                | ProbeFault::Spikes(size) => format!(", {size}"),
                _ => String::new(),
            };
            format!("{found} of {}{size}", probe(id))
        }
        PlantFault::Feeder(index, what) => {
            let kind = core::mem::discriminant::<FeederFault>;
            let found = name(&|shape| match shape {
                Shape::Feeder(f) => kind(&f) == kind(&what),
                Shape::FeederTimes(make) => kind(&make(0.0)) == kind(&what),
                Shape::FeederLateOff => matches!(what, FeederFault::LateOff(_)),
                Shape::FeederSiphon => matches!(what, FeederFault::Siphon(_)),
                _ => false,
            });
            let size = match what {
                FeederFault::LateOff(ms) => format!(", {ms} ms"),
                FeederFault::Rate(times) | FeederFault::Strength(times) => format!(", {times}"),
                FeederFault::Siphon(ml_h) => format!(", {ml_h} mL/h"),
                _ => String::new(),
            };
            format!(
                "{found} of {}{size}",
                feeders.get(index).map_or("?", String::as_str)
            )
        }
        _ => name(&|shape| matches!(shape, Shape::Plain(f) if same(&f) == same(&fault))).to_owned(),
    }
}
