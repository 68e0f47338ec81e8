//! `[[event]]`: what happens, and when.

use super::Names;
use super::bodies;
use super::error::InputError;
use super::faults;
use super::inject::{self, Injected};
use super::person::{self, PersonAct, feeder_at, long};
use super::quantity::Kind;
use super::table::Table;
use super::visit::Visit;
use crate::plant::{PlantFault, ProbeId};
use crate::unit::{InsideFault, UnitFault};

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
    /// What ends it, and how long after it came, ms: of what waits for a trigger nobody knows before when that is.
    pub then: Option<(u64, Act)>,
}

impl Event {
    /// At this time, ms from midnight before day 1, whatever else is so.
    #[must_use]
    pub const fn at(at_ms: u64, act: Act) -> Self {
        Self {
            at_ms,
            trigger: None,
            act,
            then: None,
        }
    }
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
    /// Something goes wrong between the wiring and the unit's program.
    Unit {
        /// What.
        fault: UnitFault,
        /// How long it stands, ms; without it to the end or until `UnitEnds`.
        for_ms: Option<u64>,
    },
    /// It is right again, whatever its size was.
    UnitEnds(UnitFault),
    /// Something breaks inside the unit.
    Inside(InsideFault),
    /// A probe is taken out of the water into its cap, or put back (`false`), and nobody tells the unit.
    ProbeOut(ProbeId, bool),
    /// A drum is filled, and nobody tells the unit.
    QuietRefill(usize),
    /// A person does something.
    Person(PersonAct),
    /// A person comes to look after the pool.
    Visit(Visit),
    /// Somebody turns the valves to another body of water, and tells nobody.
    TurnValves(usize),
    /// Somebody switches the pump's timetable off, or on again (`true`).
    Timetable(bool),
    /// The pool closes to bathers (`true`), or opens to them again.
    Closes(bool),
    /// It rains on the pool.
    Rain {
        /// In all, micrometres.
        um: u32,
        /// Over how long, ms.
        for_ms: u64,
    },
}

impl Act {
    /// The same without an end of its own: something else ends it.
    #[must_use]
    pub const fn to_be_ended(self) -> Self {
        match self {
            Self::Fault { fault, .. } => Self::Fault {
                fault,
                for_ms: None,
            },
            Self::Unit { fault, .. } => Self::Unit {
                fault,
                for_ms: None,
            },
            other => other,
        }
    }
}

const SUPPLIES: [(&str, Supply); 3] = [
    ("all", Supply::All),
    ("controller", Supply::Controller),
    ("pump", Supply::Pump),
];

/// The kinds of event; each event has exactly one of these keys.
const KINDS: [&str; 9] = [
    "power_cut",
    "fault",
    "fault_ends",
    "person",
    "rain",
    "turn_valves",
    "timetable",
    "bathing",
    "inject",
];

/// Reads all events, as they stand in the file; those that put in a fault of the catalogue by themselves.
pub(super) fn read<'s, 'a>(
    root: &Table<'s, 'a>,
    names: &Names<'_>,
) -> Read<(Vec<Event>, Vec<Injected<'s, 'a>>)> {
    let (mut events, mut injected) = (Vec::new(), Vec::new());
    for t in root.tables("event")? {
        if let (Some(id), Some(at)) = (t.find("inject"), t.find("at"))
            && KINDS[..KINDS.len() - 1]
                .iter()
                .all(|key| t.find(key).is_none())
        {
            let first = inject::read(&t, id, at.moment()?, names.feeders)?;
            injected.extend(again(&t)?.map(|later_ms| first.later(later_ms)));
        } else {
            let first = event(&t, names)?;
            events.extend(again(&t)?.map(|later_ms| Event {
                at_ms: first.at_ms.saturating_add(later_ms),
                ..first.clone()
            }));
        }
        t.close()?;
    }
    Ok((events, injected))
}

/// When it happens, ms after `at`: once, or `times` with `every` between.
fn again(t: &Table<'_, '_>) -> Read<impl Iterator<Item = u64>> {
    let (mut times, mut every_ms) = (1_u64, 0);
    if t.find("times").is_some() || t.find("every").is_some() {
        times = t.whole("times", 2, 1000)?.unsigned_abs();
        t.quantity("every", Kind::Time, "1 s", "365 days")?;
        every_ms = long(t, "every")?;
    }
    Ok((0..times).map(move |n| n * every_ms))
}

fn event(t: &Table<'_, '_>, names: &Names<'_>) -> Read<Event> {
    let feeders = names.feeders;
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
        ["person"] => Act::Person(person::read(t, names)?),
        ["turn_valves"] => Act::TurnValves(valves(t, names.bodies)?),
        ["timetable"] => Act::Timetable(t.choice("timetable", &[("on", true), ("off", false)])?),
        ["bathing"] => Act::Closes(t.choice("bathing", &[("closed", true), ("open", false)])?),
        ["rain"] => {
            let metres = t.quantity("rain", Kind::Length, "0.1 mm", "500 mm")?;
            Act::Rain {
                um: (metres * 1e6).round() as u32,
                for_ms: long(t, "for")?,
            }
        }
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
        trigger,
        ..Event::at(at_ms, act)
    })
}

/// The body to which the valves are turned.
fn valves(t: &Table<'_, '_>, bodies: &[String]) -> Read<usize> {
    if bodies.is_empty() {
        let what = "the site has one body of water, so there are no valves to turn; write two [[body]] and [valves]";
        return Err(t.error_at("turn_valves", what.to_owned()));
    }
    bodies::body_at(t, "turn_valves", bodies)
}

#[cfg(test)]
mod tests {
    use super::super::{Act, FIRST_POOL, Scenario};

    fn with(event: &str) -> Result<Scenario, String> {
        let text = format!("{FIRST_POOL}\n[[event]]\nat = \"day 3 10:00\"\n{event}\n");
        Scenario::parse("my.toml", &text).map_err(|error| error.what)
    }

    #[test]
    fn an_event_can_come_again_and_again() {
        let plain = Scenario::first_pool().events.len();
        let times = |event: &str| -> Vec<u64> {
            let scenario = with(event).expect(event);
            let more = scenario
                .events
                .iter()
                .filter(|event| event.at_ms >= 208_800_000);
            let times = more.map(|event| event.at_ms - 208_800_000).collect();
            assert!(scenario.events.is_sorted_by_key(|event| event.at_ms));
            assert!(scenario.events.len() > plain, "{event}");
            times
        };
        let cut = "power_cut = \"1 s\"\ntimes = 3\nevery = \"36 s\"";
        assert_eq!(times(cut)[..3], [0, 36_000, 72_000]);
        let tablets = "inject = \"C12\"\nseverity = 0\ntimes = 2\nevery = \"1 day\"";
        assert_eq!(
            times(tablets)
                .iter()
                .filter(|at| **at < 172_800_000)
                .count(),
            48
        );
    }

    #[test]
    fn a_winter_can_be_written_and_what_is_wrong_in_it_is_told() {
        let first = Scenario::first_pool();
        let frost = |keys: &str| {
            let table = format!("[circulation.frost]\n{keys}\n[probes]");
            let text = FIRST_POOL.replacen("[probes]", &table, 1);
            let read = Scenario::parse("my.toml", &text).map_err(|error| error.what);
            read.map(|read| read.plant.circulation.frost.expect("it has some"))
        };
        assert_eq!(first.plant.circulation.frost, None);
        let some = frost("below = \"39.2 F\"\nruns = \"20 min\"\nevery = \"2 h\"").expect("sound");
        assert!((some.below_c - 4.0).abs() < 1e-9);
        assert_eq!((some.runs_min, some.every_min), (20, 120));
        assert!(some.runs(119 + 1, 3.99) && some.runs(139, 3.99) && !some.runs(140, 3.99));
        assert!(!some.runs(120, 4.01), "not above it");
        for (keys, told) in [
            ("below = \"4 C\"\nruns = \"20 min\"", "`every`"),
            (
                "below = \"16 C\"\nruns = \"20 min\"\nevery = \"2 h\"",
                "15 C",
            ),
            (
                "below = \"4 C\"\nruns = \"3 h\"\nevery = \"2 h\"",
                "at most that",
            ),
            (
                "below = \"4 C\"\nruns = \"90 s\"\nevery = \"2 h\"",
                "whole minutes",
            ),
        ] {
            let error = frost(keys).expect_err(keys);
            assert!(error.contains(told), "{keys}: {error}");
        }
        let last = |event: &str| {
            let own = with(event)?.events.into_iter();
            Ok(own
                .filter(|one| one.at_ms == 208_800_000)
                .map(|one| one.act)
                .next())
        };
        assert_eq!(last("timetable = \"off\""), Ok(Some(Act::Timetable(false))));
        assert_eq!(last("bathing = \"closed\""), Ok(Some(Act::Closes(true))));
        for (event, told) in [
            ("timetable = \"offf\"", "did you mean \"off\"?"),
            ("bathing = \"shut\"", "\"closed\", \"open\""),
            ("bathing = \"open\"\ntimetable = \"on\"", "exactly one"),
        ] {
            let error: String = last(event).expect_err(event);
            assert!(error.contains(told), "{event}: {error}");
        }
    }

    #[test]
    fn once_is_no_again_and_again_needs_both_keys() {
        for (keys, told) in [
            ("times = 1\nevery = \"36 s\"", "2 to 1000"),
            ("times = 3", "`every`"),
            ("every = \"36 s\"", "`times`"),
            ("times = 3\nevery = \"0 s\"", "1 s"),
        ] {
            let error = with(&format!("power_cut = \"1 s\"\n{keys}")).expect_err(keys);
            assert!(error.contains(told), "{keys}: {error}");
        }
    }
}
