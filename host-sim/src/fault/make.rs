//! How entries of the catalogue say what they become.

use super::{Before, Injection, Part, Place, Step};
use crate::plant::{FeederFault, PlantFault, ProbeFault, ProbeId};
use crate::scenario::{Act, PersonAct, Scenario, ToBody};
use crate::unit::{InsideFault, UnitFault};

/// Sizes between two ends, evenly.
pub(super) fn even(place: &Place<'_>, mild: f64, grave: f64) -> f64 {
    mild + (grave - mild) * place.severity
}

/// Sizes between two ends over 0, by ratio.
pub(super) fn by_ratio(place: &Place<'_>, mild: f64, grave: f64) -> f64 {
    mild * libm::pow(grave / mild, place.severity)
}

pub(super) const fn step(act: Act) -> Step {
    later(0, act)
}

pub(super) const fn later(after_ms: u64, act: Act) -> Step {
    Step {
        after_ms,
        trigger: None,
        act,
    }
}

pub(super) const fn unit_act(fault: UnitFault) -> Act {
    Act::Unit {
        fault,
        for_ms: None,
    }
}

pub(super) const fn fault_act(fault: PlantFault) -> Act {
    Act::Fault {
        fault,
        for_ms: None,
    }
}

pub(super) fn acts<const N: usize>(
    steps: [Step; N],
    ends: Vec<Act>,
) -> Result<Injection, &'static str> {
    Ok(Injection {
        before: None,
        steps: steps.to_vec(),
        ends,
    })
}

/// A fault of the plant that stands until it is cleared.
pub(super) fn plant(fault: PlantFault) -> Result<Injection, &'static str> {
    acts([step(fault_act(fault))], vec![Act::FaultEnds(fault)])
}

pub(super) fn unit(fault: UnitFault) -> Result<Injection, &'static str> {
    acts([step(unit_act(fault))], vec![Act::UnitEnds(fault)])
}

pub(super) fn inside(fault: InsideFault) -> Result<Injection, &'static str> {
    acts([step(Act::Inside(fault))], Vec::new())
}

/// What is done to the first body of water: it is sized by that one, whichever the valves have selected.
pub(super) fn into_first(scenario: &Scenario, what: ToBody) -> Act {
    Act::Person(match what {
        what if scenario.plant.bodies.len() > 1 => PersonAct::ToBody { body: 0, what },
        ToBody::Pour { what, amount } => PersonAct::Pour { what, amount },
        ToBody::ExchangeWater(litres) => PersonAct::ExchangeWater(litres),
    })
}

pub(super) fn changed(
    change: fn(&mut Scenario, f64),
    size: f64,
) -> Result<Injection, &'static str> {
    Ok(Injection {
        before: Some(Before { change, size }),
        ..Injection::default()
    })
}

pub(super) fn at_feeder(place: &Place<'_>, fault: FeederFault) -> Result<Injection, &'static str> {
    match place.part {
        Part::Feeder(at) => plant(PlantFault::Feeder(at, fault)),
        _ => Err("it is about a feeder"),
    }
}

pub(super) fn at_probe(
    place: &Place<'_>,
    fault: impl FnOnce(ProbeId) -> ProbeFault,
) -> Result<Injection, &'static str> {
    match place.part {
        Part::Probe(id) => plant(PlantFault::Probe(id, fault(id))),
        _ => Err("it is about a probe"),
    }
}

pub(super) fn unit_at_probe(
    place: &Place<'_>,
    fault: impl FnOnce(ProbeId) -> UnitFault,
) -> Result<Injection, &'static str> {
    match place.part {
        Part::Probe(id) => unit(fault(id)),
        _ => Err("it is about a probe"),
    }
}

/// Sizes in pH, or a hundred times as many mV.
pub(super) fn of_probe(id: ProbeId, ph: f64) -> f64 {
    match id {
        ProbeId::Ph => ph,
        ProbeId::Orp => 100.0 * ph,
    }
}
