//! The catalogue of faults: what can go wrong with a pool, its equipment, its unit and its people.
//!
//! A fault is data: an id that stays, a name, where it acts, and how it becomes changes of a [`Scenario`]
//! and [`Act`]s at their time. How grave it is comes as a number from 0 to 1, from a seed or from a scenario.
//!
//! Invariant: a fault that a site cannot have says why, and is never taken for one that was passed.

mod chemistry;
mod clock;
mod controller;
mod drive;
mod people;
mod power;
mod probe;
mod storage;
#[cfg(test)]
mod tests;
mod water_path;

use crate::plant::{FeederFault, MAX_FEEDERS, PlantFault, ProbeFault, ProbeId, Product};
use crate::scenario::{Act, Event, PersonAct, Scenario, Trigger};
use crate::unit::{InsideFault, UnitFault};

/// Sorts of fault.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Group {
    /// Flow, its witnesses, and where products go.
    WaterPath,
    /// Probes, level switches and what comes from them.
    Probe,
    /// Feeders and their drives.
    Drive,
    /// Water and products.
    Chemistry,
    /// The unit's program.
    Controller,
    /// Supply.
    Power,
    /// What is kept without power.
    Storage,
    /// Clocks.
    Clock,
    /// Persons.
    People,
}

impl Group {
    /// In words.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::WaterPath => "water path",
            Self::Probe => "probe",
            Self::Drive => "drive",
            Self::Chemistry => "chemistry",
            Self::Controller => "controller",
            Self::Power => "power",
            Self::Storage => "storage",
            Self::Clock => "clock",
            Self::People => "people",
        }
    }
}

/// Which parts of a site a fault can be about.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Parts {
    /// The site as a whole.
    Site,
    /// One of the feeders.
    Feeders,
    /// One of those that feed a liquid.
    Liquids,
    /// One of the generators.
    Cells,
    /// One of the two probes.
    Probes,
    /// The pH probe.
    Ph,
    /// The ORP probe.
    Orp,
}

/// The part that a fault is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Part {
    /// The site.
    Site,
    /// A feeder, by its place.
    Feeder(usize),
    /// A probe.
    Probe(ProbeId),
}

/// How long a fault stands if nobody says otherwise.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Lasts {
    /// To the end of the run.
    ToTheEnd,
    /// So many ms.
    For(u64),
    /// It is over at once; what it did stays.
    Once,
}

/// Where and how gravely a fault is to be made.
#[derive(Clone, Copy, Debug)]
pub struct Place<'a> {
    /// The site.
    pub scenario: &'a Scenario,
    /// What it is about.
    pub part: Part,
    /// From 0, the mildest, to 1, the gravest.
    pub severity: f64,
    /// Onset, ms from midnight before day 1.
    pub at_ms: u64,
}

/// One act of a fault.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Step {
    /// ms after the onset.
    pub after_ms: u64,
    /// What has to be so besides.
    pub trigger: Option<Trigger>,
    /// What happens.
    pub act: Act,
}

/// A change of the site before the run, by a size.
#[derive(Clone, Copy, Debug)]
pub struct Before {
    /// What is changed.
    pub change: fn(&mut Scenario, f64),
    /// How much.
    pub size: f64,
}

/// What a fault becomes.
#[derive(Clone, Debug, Default)]
pub struct Injection {
    /// Changes that stand from the start.
    pub before: Option<Before>,
    /// What happens from the onset on.
    pub steps: Vec<Step>,
    /// What ends it.
    pub ends: Vec<Act>,
}

/// A fault of the catalogue.
#[derive(Clone, Copy, Debug)]
pub struct Fault {
    /// Its id, which stays.
    pub id: &'static str,
    /// Its name.
    pub name: &'static str,
    /// Its sort.
    pub group: Group,
    /// Where in the simulated pool it acts, and what its severity is.
    pub acts_on: &'static str,
    /// What it can be about.
    pub parts: Parts,
    /// How long it stands.
    pub lasts: Lasts,
    make: fn(&Place<'_>) -> Result<Injection, &'static str>,
}

/// All faults, in the order of their ids.
pub fn catalogue() -> impl Iterator<Item = &'static Fault> {
    water_path::FAULTS
        .iter()
        .chain(&probe::FAULTS)
        .chain(&drive::FAULTS)
        .chain(&chemistry::FAULTS)
        .chain(&controller::FAULTS)
        .chain(&power::FAULTS)
        .chain(&storage::FAULTS)
        .chain(&clock::FAULTS)
        .chain(&people::FAULTS)
}

/// The fault with this id.
#[must_use]
pub fn find(id: &str) -> Option<&'static Fault> {
    catalogue().find(|fault| fault.id == id)
}

impl Fault {
    /// The parts of this site that it can be about; empty if there are none.
    #[must_use]
    pub fn parts_of(&self, scenario: &Scenario) -> Vec<Part> {
        let product = |at: usize| scenario.plant.feeders[at].kind.product();
        let feeders = 0..scenario.plant.feeders.len().min(MAX_FEEDERS);
        let is_cell = |at: &usize| product(*at) == Product::GeneratorChlorine;
        match self.parts {
            Parts::Site => vec![Part::Site],
            Parts::Feeders => feeders.map(Part::Feeder).collect(),
            Parts::Liquids => feeders
                .filter(|at| !is_cell(at))
                .map(Part::Feeder)
                .collect(),
            Parts::Cells => feeders.filter(is_cell).map(Part::Feeder).collect(),
            Parts::Probes => vec![Part::Probe(ProbeId::Ph), Part::Probe(ProbeId::Orp)],
            Parts::Ph => vec![Part::Probe(ProbeId::Ph)],
            Parts::Orp => vec![Part::Probe(ProbeId::Orp)],
        }
    }

    /// What it becomes at a site.
    ///
    /// # Errors
    /// Why this site cannot have it.
    pub fn make(&self, place: &Place<'_>) -> Result<Injection, &'static str> {
        (self.make)(place)
    }
}

/// A fault with its part, its size and its time.
#[derive(Clone, Copy, Debug)]
pub struct Chosen {
    /// Which.
    pub fault: &'static Fault,
    /// About what.
    pub part: Part,
    /// From 0 to 1.
    pub severity: f64,
    /// Onset, ms from midnight before day 1.
    pub at_ms: u64,
    /// How long; `None`: as [`Fault::lasts`] says.
    pub for_ms: Option<u64>,
}

impl Chosen {
    /// Puts it into a scenario: changes the site, and adds events.
    ///
    /// # Errors
    /// Why this site cannot have it; the scenario is as it was.
    pub fn put_into(&self, scenario: &mut Scenario) -> Result<(), &'static str> {
        let made = self.fault.make(&Place {
            scenario,
            part: self.part,
            severity: self.severity.clamp(0.0, 1.0),
            at_ms: self.at_ms,
        })?;
        if let Some(before) = made.before {
            (before.change)(scenario, before.size);
        }
        for step in made.steps {
            scenario.events.push(Event {
                at_ms: self.at_ms + step.after_ms,
                trigger: step.trigger,
                act: step.act,
            });
        }
        let for_ms = self.for_ms.or(match self.fault.lasts {
            Lasts::For(ms) => Some(ms),
            Lasts::ToTheEnd | Lasts::Once => None,
        });
        if let Some(for_ms) = for_ms {
            for act in made.ends {
                scenario.events.push(Event {
                    at_ms: self.at_ms.saturating_add(for_ms),
                    trigger: None,
                    act,
                });
            }
        }
        // A stable sort: what stands earlier in the file happens first.
        scenario.events.sort_by_key(|event| event.at_ms);
        Ok(())
    }
}

/// Sizes between two ends, evenly.
fn even(place: &Place<'_>, mild: f64, grave: f64) -> f64 {
    mild + (grave - mild) * place.severity
}

/// Sizes between two ends over 0, by ratio.
fn by_ratio(place: &Place<'_>, mild: f64, grave: f64) -> f64 {
    mild * libm::pow(grave / mild, place.severity)
}

const fn step(act: Act) -> Step {
    later(0, act)
}

const fn later(after_ms: u64, act: Act) -> Step {
    Step {
        after_ms,
        trigger: None,
        act,
    }
}

const fn fault_act(fault: PlantFault) -> Act {
    Act::Fault {
        fault,
        for_ms: None,
    }
}

fn acts<const N: usize>(steps: [Step; N], ends: Vec<Act>) -> Result<Injection, &'static str> {
    Ok(Injection {
        before: None,
        steps: steps.to_vec(),
        ends,
    })
}

/// A fault of the plant that stands until it is cleared.
fn plant(fault: PlantFault) -> Result<Injection, &'static str> {
    acts([step(fault_act(fault))], vec![Act::FaultEnds(fault)])
}

fn unit(fault: UnitFault) -> Result<Injection, &'static str> {
    acts([step(Act::Unit(fault))], vec![Act::UnitEnds(fault)])
}

fn inside(fault: InsideFault) -> Result<Injection, &'static str> {
    acts([step(Act::Inside(fault))], Vec::new())
}

fn person(act: PersonAct) -> Result<Injection, &'static str> {
    acts([step(Act::Person(act))], Vec::new())
}

fn changed(change: fn(&mut Scenario, f64), size: f64) -> Result<Injection, &'static str> {
    Ok(Injection {
        before: Some(Before { change, size }),
        ..Injection::default()
    })
}

fn at_feeder(place: &Place<'_>, fault: FeederFault) -> Result<Injection, &'static str> {
    match place.part {
        Part::Feeder(at) => plant(PlantFault::Feeder(at, fault)),
        _ => Err("it is about a feeder"),
    }
}

fn at_probe(
    place: &Place<'_>,
    fault: impl FnOnce(ProbeId) -> ProbeFault,
) -> Result<Injection, &'static str> {
    match place.part {
        Part::Probe(id) => plant(PlantFault::Probe(id, fault(id))),
        _ => Err("it is about a probe"),
    }
}

fn unit_at_probe(
    place: &Place<'_>,
    fault: impl FnOnce(ProbeId) -> UnitFault,
) -> Result<Injection, &'static str> {
    match place.part {
        Part::Probe(id) => unit(fault(id)),
        _ => Err("it is about a probe"),
    }
}

/// Sizes in pH, or a hundred times as many mV.
fn of_probe(id: ProbeId, ph: f64) -> f64 {
    match id {
        ProbeId::Ph => ph,
        ProbeId::Orp => 100.0 * ph,
    }
}
