//! The catalogue of faults: what can go wrong with a pool, its equipment, its unit and its people.
//!
//! A fault is data: an id that stays, a name, where it acts, and how it becomes changes of a [`Scenario`]
//! and [`Act`]s at their time. How grave it is comes as a number from 0 to 1, from a seed or from a scenario.
//!
//! Invariant: a fault that a site cannot have says why, and is never taken for one that was passed.

#[cfg(all(test, feature = "tools"))]
mod changes;
mod chemistry;
mod clock;
mod controller;
mod drive;
mod listed;
mod make;
mod people;
mod power;
mod probe;
mod size;
mod storage;
#[cfg(all(test, feature = "tools"))]
mod tests;
mod water_path;

pub use listed::listed;
#[cfg(feature = "tools")]
pub(crate) use listed::names_of;

use crate::plant::{MAX_FEEDERS, ProbeId, Product};
use crate::scenario::{Act, Event, Scenario, Trigger};
use make::{
    acts, at_feeder, at_probe, by_ratio, changed, even, fault_act, inside, into_first, later,
    of_probe, plant, step, unit, unit_at_probe,
};

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
    /// By the letter that an id begins with.
    const fn of(id: &str) -> Self {
        match id.as_bytes() {
            [b'H', ..] => Self::WaterPath,
            [b'S', ..] => Self::Probe,
            [b'A', ..] => Self::Drive,
            [b'C', ..] => Self::Chemistry,
            [b'K', ..] => Self::Controller,
            [b'P', ..] => Self::Power,
            [b'T', ..] => Self::Storage,
            [b'L', ..] => Self::Clock,
            [b'U', ..] => Self::People,
            _ => panic!("an id of no group"),
        }
    }

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
    make: Make,
}

/// How a fault says what it becomes at a place.
type Make = fn(&Place<'_>) -> Result<Injection, &'static str>;

/// What most faults of a group are about, and how long they stand.
#[derive(Clone, Copy)]
struct Usual {
    parts: Parts,
    lasts: Lasts,
}

impl Usual {
    const fn fault(
        self,
        id: &'static str,
        name: &'static str,
        acts_on: &'static str,
        make: Make,
    ) -> Fault {
        Fault {
            id,
            name,
            group: Group::of(id),
            acts_on,
            parts: self.parts,
            lasts: self.lasts,
            make,
        }
    }
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
    /// About other parts than is usual.
    const fn about(self, parts: Parts) -> Self {
        Self { parts, ..self }
    }

    /// For another time than is usual.
    const fn lasting(self, lasts: Lasts) -> Self {
        Self { lasts, ..self }
    }

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
        let events = self.events(scenario)?;
        self.put_before(scenario);
        scenario.events.extend(events);
        // A stable sort: what stands earlier in the file happens first.
        scenario.events.sort_by_key(|event| event.at_ms);
        Ok(())
    }

    fn made(&self, scenario: &Scenario) -> Result<Injection, &'static str> {
        self.fault.make(&Place {
            scenario,
            part: self.part,
            severity: self.severity.clamp(0.0, 1.0),
            at_ms: self.at_ms,
        })
    }

    /// Whether it changes the site from the start.
    #[must_use]
    pub fn stands_from_the_start(&self, scenario: &Scenario) -> bool {
        self.made(scenario).is_ok_and(|made| made.before.is_some())
    }

    /// Whether something ends it.
    #[must_use]
    pub fn can_end(&self, scenario: &Scenario) -> bool {
        self.made(scenario).is_ok_and(|made| !made.ends.is_empty())
    }

    /// Only its changes of the site from the start, if it has any.
    pub fn put_before(&self, scenario: &mut Scenario) {
        if let Some(before) = self.made(scenario).ok().and_then(|made| made.before) {
            (before.change)(scenario, before.size);
        }
    }

    /// Its events, in the order of time.
    ///
    /// # Errors
    /// Why this site cannot have it.
    pub fn events(&self, scenario: &Scenario) -> Result<Vec<Event>, &'static str> {
        let made = self.made(scenario)?;
        let for_ms = self.for_ms.or(match self.fault.lasts {
            Lasts::For(ms) => Some(ms),
            Lasts::ToTheEnd | Lasts::Once => None,
        });
        let waits = made.steps.iter().any(|step| step.trigger.is_some());
        let mut events = Vec::new();
        // No step comes once it has ended.
        let too_late = |step: &&Step| {
            let stands = matches!(step.act, Act::Fault { .. } | Act::Unit { .. });
            stands && !made.ends.is_empty() && for_ms.is_some_and(|ms| step.after_ms >= ms)
        };
        for step in made.steps.iter().filter(|step| !too_late(step)) {
            let mut event = Event::at(self.at_ms + step.after_ms, step.act);
            event.trigger = step.trigger;
            // What waits begins when it does, and stands as long from there.
            if let Some((for_ms, end)) = for_ms
                .zip(made.ends.first())
                .filter(|_| step.trigger.is_some())
            {
                event.act = step.act.to_be_ended();
                event.then = Some((for_ms, *end));
            }
            events.push(event);
        }
        if let Some(for_ms) = for_ms.filter(|_| !waits) {
            let at_ms = self.at_ms.saturating_add(for_ms);
            events.extend(made.ends.into_iter().map(|act| Event::at(at_ms, act)));
        }
        events.sort_by_key(|event| event.at_ms); // Stable: what stands earlier happens first.
        Ok(events)
    }

    /// Puts several into a scenario, each as the site is without the others; which of them the site cannot have.
    ///
    /// # Errors
    /// The number of the first that this site cannot have, and why; the scenario is as it was.
    pub fn put_all_into(
        chosen: &[Self],
        scenario: &mut Scenario,
    ) -> Result<(), (usize, &'static str)> {
        let mut events = Vec::new();
        for (at, one) in chosen.iter().enumerate() {
            events.extend(one.events(scenario).map_err(|why| (at, why))?);
        }
        for one in chosen {
            one.put_before(scenario);
        }
        scenario.events.extend(events);
        scenario.events.sort_by_key(|event| event.at_ms);
        Ok(())
    }
}
