//! `[[event]]`: what happens, and when.

use dosewarden::guard::units::{Dose, Millis};
use dosewarden::guard::{Authority, Lockout, Remedy};

use super::error::InputError;
use super::faults;
use super::quantity::Kind;
use super::table::Table;
use crate::plant::PlantFault;

type Read<T> = Result<T, InputError>;

/// Something that happens in a scenario.
#[derive(Clone, Debug, PartialEq)]
pub struct Event {
    /// When, in ms from midnight before day 1. With a trigger: not before.
    pub at_ms: u64,
    /// What has to be so besides.
    pub trigger: Option<Trigger>,
    /// What happens.
    pub act: Act,
}

/// Waits for a feeder: the event comes when its drive has been on for `for_ms` without a break.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Trigger {
    /// Which feeder.
    pub feeder: usize,
    /// For how long it has been on.
    pub for_ms: u32,
}

/// What a power cut takes away.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Supply {
    /// The controller, the circulation pump and the feeders.
    All,
    /// The controller only.
    Controller,
    /// The circulation pump and the feeders.
    Pump,
}

/// What happens.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Act {
    /// The power is away for a time.
    PowerCut {
        /// From what.
        supply: Supply,
        /// How long, ms.
        for_ms: u64,
    },
    /// A fault of the plant begins.
    Fault {
        /// Which.
        fault: PlantFault,
        /// How long it stands, ms; without it to the end or until `ends`.
        for_ms: Option<u64>,
    },
    /// A fault of the plant ends, whatever its size.
    FaultEnds(PlantFault),
    /// A person does something.
    Person(PersonAct),
}

/// What a person does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PersonAct {
    /// Starts a new unit, or one whose record is lost.
    Initialise(Authority),
    /// Releases one lockout, or every lockout that stands.
    Release {
        /// Who.
        by: Authority,
        /// Which; without it all.
        lockout: Option<Lockout>,
        /// The person has seen that nobody is in the pool.
        pool_empty: bool,
        /// What was done about it.
        remedy: Option<Remedy>,
    },
    /// Acknowledges every alarm.
    Acknowledge(Authority),
    /// Has put in a new probe.
    NewProbe(Authority),
    /// Moves to full caps.
    FullStage(Authority),
    /// Moves to reduced caps.
    ReducedStage(Authority),
    /// Enters fallback with a chlorine test.
    EnterFallback {
        /// Who.
        by: Authority,
        /// Age of the test.
        test_age: Millis,
    },
    /// Leaves fallback.
    LeaveFallback(Authority),
    /// Holds the button for a manual feed.
    ManualFeed {
        /// Of which feeder.
        feeder: usize,
        /// How long the button is held, ms.
        for_ms: u64,
    },
    /// Refills a drum to its specified stock, and enters its level.
    Refill(usize),
    /// Reads the level of a drum and enters it.
    ReadLevel {
        /// Of which feeder.
        feeder: usize,
        /// What is entered; without it what is really there.
        level: Option<Dose>,
    },
    /// Presses the emergency stop for so long, ms.
    EmergencyStop(u64),
    /// Pauses feeding for so long, ms.
    Pause(u64),
}

const AUTHORITIES: [(&str, Authority); 4] = [
    ("owner", Authority::Owner),
    ("operator", Authority::Operator),
    ("technician", Authority::Technician),
    ("maker", Authority::Maker),
];

const LOCKOUTS: [(&str, Lockout); 11] = [
    ("state_seal", Lockout::StateSeal),
    ("limits_seal", Lockout::LimitsSeal),
    ("witnesses", Lockout::Witnesses),
    ("line", Lockout::Line),
    ("record_lost", Lockout::RecordLost),
    ("emergency_stop", Lockout::EmergencyStop),
    ("power_loss", Lockout::PowerLoss),
    ("probe", Lockout::Probe),
    ("run_time", Lockout::RunTime),
    ("response", Lockout::Response),
    ("drive", Lockout::Drive),
];

const REMEDIES: [(&str, Remedy); 5] = [
    ("probe", Remedy::Probe),
    ("product", Remedy::Product),
    ("rate", Remedy::Rate),
    ("line", Remedy::Line),
    ("water_tested", Remedy::WaterTested),
];

const SUPPLIES: [(&str, Supply); 3] = [
    ("all", Supply::All),
    ("controller", Supply::Controller),
    ("pump", Supply::Pump),
];

/// The kinds of event; each event has exactly one of these keys.
const KINDS: [&str; 4] = ["power_cut", "fault", "fault_ends", "person"];

#[derive(Clone, Copy)]
enum Deed {
    Initialise,
    Release,
    Acknowledge,
    NewProbe,
    FullStage,
    ReducedStage,
    EnterFallback,
    LeaveFallback,
    ManualFeed,
    Refill,
    ReadLevel,
    EmergencyStop,
    Pause,
}

const DEEDS: [(&str, Deed); 13] = [
    ("initialise", Deed::Initialise),
    ("release", Deed::Release),
    ("acknowledge", Deed::Acknowledge),
    ("new_probe", Deed::NewProbe),
    ("full_stage", Deed::FullStage),
    ("reduced_stage", Deed::ReducedStage),
    ("enter_fallback", Deed::EnterFallback),
    ("leave_fallback", Deed::LeaveFallback),
    ("manual_feed", Deed::ManualFeed),
    ("refill", Deed::Refill),
    ("read_level", Deed::ReadLevel),
    ("emergency_stop", Deed::EmergencyStop),
    ("pause", Deed::Pause),
];

fn long(t: &Table<'_, '_>, key: &'static str) -> Read<u64> {
    Ok((t.quantity(key, Kind::Time, "1 s", "3650 days")? * 1000.0).round() as u64)
}

fn feeder_at(t: &Table<'_, '_>, key: &'static str, names: &[String]) -> Read<usize> {
    let known: Vec<(&str, usize)> = names
        .iter()
        .enumerate()
        .map(|(index, name)| (name.as_str(), index))
        .collect();
    t.choice(key, &known)
}

/// Reads all events and puts them in the order of their time.
pub(super) fn read(root: &Table<'_, '_>, feeders: &[String]) -> Read<Vec<Event>> {
    let mut events = Vec::new();
    for t in root.tables("event")? {
        events.push(event(&t, feeders)?);
        t.close()?;
    }
    events.sort_by_key(|event| event.at_ms);
    Ok(events)
}

fn event(t: &Table<'_, '_>, feeders: &[String]) -> Read<Event> {
    let at_ms = t.need("at", "\"day 2 14:05\"")?.moment()?;
    let trigger = match t.find("when_feeding") {
        None => None,
        Some(_) => {
            let held = t.quantity("feeding_for", Kind::Time, "1 s", "1 day")?;
            let for_ms = (held * 1000.0).round() as u32;
            Some(Trigger {
                feeder: feeder_at(t, "when_feeding", feeders)?,
                for_ms,
            })
        }
    };
    let present: Vec<&str> = KINDS
        .into_iter()
        .filter(|key| t.find(key).is_some())
        .collect();
    let act = match present.as_slice() {
        ["power_cut"] => {
            let supply = match t.find("supply") {
                Some(entry) => entry.choice(&SUPPLIES)?,
                None => Supply::All,
            };
            Act::PowerCut {
                supply,
                for_ms: long(t, "power_cut")?,
            }
        }
        ["fault"] => {
            let for_ms = t.find("for").map(|_| long(t, "for")).transpose()?;
            Act::Fault {
                fault: faults::read(t, "fault", feeders)?,
                for_ms,
            }
        }
        ["fault_ends"] => Act::FaultEnds(faults::read(t, "fault_ends", feeders)?),
        ["person"] => Act::Person(person(t, feeders)?),
        _ => {
            let all = KINDS.map(|key| format!("`{key}`")).join(", ");
            return Err(t.error(format!(
                "this event has {} of {all}; it has to have exactly one",
                if present.is_empty() {
                    "none".to_owned()
                } else {
                    present.join(" and ")
                }
            )));
        }
    };
    Ok(Event {
        at_ms,
        trigger,
        act,
    })
}

fn person(t: &Table<'_, '_>, feeders: &[String]) -> Read<PersonAct> {
    let by = || match t.find("by") {
        Some(entry) => entry.choice(&AUTHORITIES),
        None => Ok(Authority::Technician),
    };
    let act = match t.choice("person", &DEEDS)? {
        Deed::Initialise => PersonAct::Initialise(by()?),
        Deed::Release => PersonAct::Release {
            by: by()?,
            lockout: t
                .find("lockout")
                .map(|entry| entry.choice(&LOCKOUTS))
                .transpose()?,
            pool_empty: match t.find("pool_empty") {
                Some(entry) => entry.yes_or_no()?,
                None => false,
            },
            remedy: t
                .find("remedy")
                .map(|entry| entry.choice(&REMEDIES))
                .transpose()?,
        },
        Deed::Acknowledge => PersonAct::Acknowledge(by()?),
        Deed::NewProbe => PersonAct::NewProbe(by()?),
        Deed::FullStage => PersonAct::FullStage(by()?),
        Deed::ReducedStage => PersonAct::ReducedStage(by()?),
        Deed::EnterFallback => {
            let age = t.quantity("test_age", Kind::Time, "0 s", "1 day")?;
            PersonAct::EnterFallback {
                by: by()?,
                test_age: Millis((age * 1000.0).round() as u32),
            }
        }
        Deed::LeaveFallback => PersonAct::LeaveFallback(by()?),
        Deed::ManualFeed => PersonAct::ManualFeed {
            feeder: feeder_at(t, "feeder", feeders)?,
            for_ms: long(t, "for")?,
        },
        Deed::Refill => PersonAct::Refill(feeder_at(t, "feeder", feeders)?),
        Deed::ReadLevel => PersonAct::ReadLevel {
            feeder: feeder_at(t, "feeder", feeders)?,
            level: match t.find("level") {
                Some(entry) => {
                    let litres = entry.quantity(Kind::Volume, "0 L", "4 m3")?;
                    Some(Dose((litres * 1e6).round() as u32))
                }
                None => None,
            },
        },
        Deed::EmergencyStop => PersonAct::EmergencyStop(long(t, "for")?),
        Deed::Pause => PersonAct::Pause(long(t, "for")?),
    };
    Ok(act)
}
