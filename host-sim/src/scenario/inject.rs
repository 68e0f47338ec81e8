//! `inject = "U1"`: a fault of the catalogue, by its id, put into a scenario.
//!
//! | key besides `at` | what |
//! |---|---|
//! | `inject` | the fault's id |
//! | `of` | the feeder by its name, or `ph`, `orp`; left out where the fault is about the site |
//! | `severity` | 0, the mildest, to 1, the gravest |
//! | `for` | how long; without it as the catalogue says |

use super::Scenario;
use super::entry::{Entry, nearest};
use super::error::InputError;
use super::person::long;
use super::table::Table;
use crate::fault::{self, Chosen, Fault, Part, Parts};
use crate::plant::ProbeId;

type Read<T> = Result<T, InputError>;

/// A fault to put in, and where it stands in the file.
#[derive(Clone)]
pub(super) struct Injected<'s, 'a> {
    id: Entry<'s, 'a>,
    of: Option<Entry<'s, 'a>>,
    fault: &'static Fault,
    part: Part,
    severity: f64,
    at_ms: u64,
    for_ms: Option<u64>,
}

impl Injected<'_, '_> {
    /// The same once more.
    pub(super) fn later(&self, later_ms: u64) -> Self {
        Self {
            at_ms: self.at_ms.saturating_add(later_ms),
            ..self.clone()
        }
    }
}

/// Those that are near: one slip away, or of the same letter.
fn unknown(id: &Entry<'_, '_>, word: &str) -> InputError {
    let ids = || fault::catalogue().map(|fault| fault.id);
    let upper = word.to_uppercase();
    let group = || ids().filter(|known| upper.starts_with(&known[..1]));
    let hint = match (nearest(&upper, ids()), group().count()) {
        (Some(near), _) if near == upper => format!("did you mean \"{near}\"?"),
        (_, 0) => {
            let mut letters: Vec<&str> = ids().map(|id| &id[..1]).collect();
            letters.dedup();
            format!("ids are a letter of {} and a number", letters.join(", "))
        }
        (_, count) => {
            let letter = &upper[..1];
            format!("with {letter} there are {letter}1 to {letter}{count}")
        }
    };
    id.error(format!("no fault is called \"{word}\"; {hint}"))
}

/// Reads the event `t` whose `inject` is `id`.
pub(super) fn read<'s, 'a>(
    t: &Table<'s, 'a>,
    id: Entry<'s, 'a>,
    at_ms: u64,
    feeders: &[String],
) -> Read<Injected<'s, 'a>> {
    let word = id.words()?;
    let fault = fault::find(word).ok_or_else(|| unknown(&id, word))?;
    let of = t.find("of");
    let part = part(t, of.as_ref(), fault, feeders)?;
    let severity = t.need("severity", "0.5")?.number(0.0, 1.0)?;
    let for_ms = t.find("for").map(|_| long(t, "for")).transpose()?;
    Ok(Injected {
        id,
        of,
        fault,
        part,
        severity,
        at_ms,
        for_ms,
    })
}

fn part(
    t: &Table<'_, '_>,
    of: Option<&Entry<'_, '_>>,
    fault: &Fault,
    feeders: &[String],
) -> Read<Part> {
    let probes = [
        ("ph", Part::Probe(ProbeId::Ph)),
        ("orp", Part::Probe(ProbeId::Orp)),
    ];
    let known: Vec<(&str, Part)> = match fault.parts {
        Parts::Site => {
            return match of {
                None => Ok(Part::Site),
                Some(of) => Err(of.error(format!(
                    "{} ({}) is about the site as a whole; leave `of` out",
                    fault.id, fault.name
                ))),
            };
        }
        Parts::Probes => probes.to_vec(),
        Parts::Ph => probes[..1].to_vec(),
        Parts::Orp => probes[1..].to_vec(),
        Parts::Feeders | Parts::Liquids | Parts::Cells => {
            let names = feeders.iter().enumerate();
            names
                .map(|(at, name)| (name.as_str(), Part::Feeder(at)))
                .collect()
        }
    };
    t.choice("of", &known)
}

/// Puts them all into a scenario that was read: each as the site is without the others.
pub(super) fn put(injected: &[Injected<'_, '_>], mut scenario: Scenario) -> Read<Scenario> {
    if injected.is_empty() {
        return Ok(scenario);
    }
    for one in injected {
        let parts = one.fault.parts_of(&scenario);
        if parts.contains(&one.part) {
            continue;
        }
        let (id, name) = (one.fault.id, one.fault.name);
        let Some(of) = &one.of else { continue };
        let names = scenario.feeder_names();
        let can: Vec<String> = parts
            .iter()
            .filter_map(|part| match part {
                Part::Feeder(at) => names.get(*at).map(|name| format!("\"{name}\"")),
                _ => None,
            })
            .collect();
        return Err(of.error(if can.is_empty() {
            format!("this site cannot have {id} ({name}): no such part")
        } else {
            format!("{id} ({name}) can be of {} here", can.join(", "))
        }));
    }
    let chosen: Vec<Chosen> = injected
        .iter()
        .map(|one| Chosen {
            fault: one.fault,
            part: one.part,
            severity: one.severity,
            at_ms: one.at_ms,
            for_ms: one.for_ms,
        })
        .collect();
    Chosen::put_all_into(&chosen, &mut scenario).map_err(|(at, why)| {
        let (id, name) = (chosen[at].fault.id, chosen[at].fault.name);
        injected[at]
            .id
            .error(format!("this site cannot have {id} ({name}): {why}"))
    })?;
    scenario.plant.validate().map_err(|error| {
        injected[0]
            .id
            .error(format!("with these faults the pool cannot be: {error}"))
    })?;
    Ok(scenario)
}

#[cfg(test)]
mod tests {
    use super::super::clock::DAY_MS;
    use super::super::{Act, FIRST_POOL};
    use super::*;
    use crate::plant::PlantFault;

    fn with(events: &str) -> Result<Scenario, InputError> {
        Scenario::parse("my.toml", &format!("{FIRST_POOL}\n{events}"))
    }

    fn one(event: &str) -> Result<Scenario, InputError> {
        with(&format!("[[event]]\nat = \"day 3 10:00:07\"\n{event}\n"))
    }

    #[test]
    fn a_fault_of_the_catalogue_comes_and_goes_as_the_file_says() {
        let scenario = one("inject = \"A1\"\nof = \"acid\"\nseverity = 0.5\nfor = \"2 h\"")
            .unwrap_or_else(|error| panic!("{error}"));
        let at_ms = 2 * DAY_MS + 36_007_000;
        let chosen = Chosen {
            fault: fault::find("A1").expect("there"),
            part: Part::Feeder(0),
            severity: 0.5,
            at_ms,
            for_ms: Some(7_200_000),
        };
        let events = chosen.events(&Scenario::first_pool()).expect("made");
        assert!(events.iter().any(|event| event.at_ms == at_ms));
        assert!(events.iter().any(|event| event.at_ms == at_ms + 7_200_000));
        for event in &events {
            assert!(scenario.events.contains(event), "{event:?}");
        }
        assert_eq!(scenario.events.len(), 9 + events.len());
        let sorted = scenario.events.is_sorted_by_key(|event| event.at_ms);
        assert!(sorted, "in the order of time");
    }

    #[test]
    fn each_mistake_is_told_at_its_line() {
        for (event, line, told) in [
            (
                "inject = \"U99\"\nseverity = 0",
                3,
                "\"U99\"; with U there are U1 to U15",
            ),
            ("inject = \"h2\"\nseverity = 0", 3, "did you mean \"H2\"?"),
            (
                "inject = \"Q1\"\nseverity = 0",
                3,
                "ids are a letter of H, S, A, C, K, P, T, L, U",
            ),
            (
                "inject = \"H2\"\nof = \"acid\"\nseverity = 0",
                4,
                "leave `of` out",
            ),
            (
                "inject = \"H6\"\nof = \"acyd\"\nseverity = 0",
                4,
                "did you mean \"acid\"?",
            ),
            ("inject = \"H6\"\nseverity = 0", 1, "has no `of`"),
            ("inject = \"H2\"", 1, "has no `severity`"),
            ("inject = \"H2\"\nseverity = 1.5", 4, "it has to be 0 to 1"),
            ("inject = \"H2\"\nseverity = 0\nfor = \"2 mL\"", 5, "`for`"),
            (
                "inject = \"H10\"\nseverity = 0",
                3,
                "this site cannot have H10",
            ),
            (
                "inject = \"H2\"\nseverity = 0\nfault = \"pump_trips\"",
                1,
                "exactly one",
            ),
            (
                "inject = \"H2\"\nseverity = 0\nsize = 2.0",
                5,
                "unknown key `size`",
            ),
        ] {
            let error = one(event).expect_err(event);
            assert!(error.what.contains(told), "{event}: {error}");
            let first = FIRST_POOL.lines().count() + 1;
            assert_eq!(error.line, first + line, "{event}: {error}");
        }
    }

    #[test]
    fn a_part_that_a_fault_cannot_have_is_refused() {
        let event =
            "[[event]]\nat = \"day 2 10:00\"\ninject = \"H6\"\nof = \"cell\"\nseverity = 0\n";
        let text = format!("{}\n{event}", super::super::SALT_POOL);
        let error = Scenario::parse("salt.toml", &text).expect_err("a cell has no prime");
        assert!(
            error
                .what
                .contains("H6 (feeder lost its prime) can be of \"acid\" here"),
            "{error}"
        );
    }

    #[test]
    fn a_fault_from_the_start_changes_the_site_and_each_is_made_without_the_others() {
        let file = "[[event]]\nat = \"day 3 10:00\"\ninject = \"H2\"\nseverity = 0\n";
        let from_the_start = fault::catalogue()
            .find(|fault| {
                let chosen = Chosen {
                    fault,
                    part: Part::Site,
                    severity: 1.0,
                    at_ms: 0,
                    for_ms: None,
                };
                fault.parts == Parts::Site && chosen.stands_from_the_start(&Scenario::first_pool())
            })
            .expect("one that changes the site");
        let id = from_the_start.id;
        let scenario = with(&format!(
            "{file}[[event]]\nat = \"day 1 00:00\"\ninject = \"{id}\"\nseverity = 1\n"
        ))
        .unwrap_or_else(|error| panic!("{id}: {error}"));
        let plain = Scenario::first_pool();
        let same = (scenario.plant == plain.plant)
            && (scenario.limits == plain.limits)
            && (scenario.settings == plain.settings)
            && (scenario.timetable_known == plain.timetable_known);
        assert!(!same, "{id} changes nothing");
        let stuck = |event: &super::super::Event| {
            matches!(
                event.act,
                Act::Fault {
                    fault: PlantFault::FlowSwitchStuckOn,
                    ..
                }
            )
        };
        assert!(scenario.events.iter().any(stuck));
    }
}
