//! Every fault does something: it changes what is really so, or what the unit shows.

use std::collections::BTreeSet;

use super::*;
use crate::campaign::{Pool, Subject};
use crate::plan::{HOME_POOL, SALT_POOL};
use crate::plant::{FeederFault, PlantFault, Truth};
use crate::pool::LogWhat;
use crate::unit::Reply;

/// How grave each is.
const SEVERITY: f64 = 0.7;
/// A fault that stands to the end, or is over at once, has so long to show itself, ms.
const LOOKED_AT_MS: u64 = 24 * 3_600_000;
/// From the onset to the first drop of the dose, ms.
const BEFORE_DOSE_MS: u64 = 60_000;
/// Some faults lie still until something else happens: from the onset to that, ms.
const OTHER_AFTER_MS: u64 = 90_000;

/// Faults that change nothing on either site, and why.
const UNSEEN: [(&str, &str); 2] = [
    (
        "A3",
        "the contact in series opens with the feeder's own, and in time",
    ),
    (
        "L5",
        "a counter that wraps is what a sound unit takes as any other tick",
    ),
];

/// Faults that change nothing at the house, and why.
const UNSEEN_AT_A_HOUSE: [(&str, &str); 1] = [(
    "U8",
    "raised caps change nothing until a cap binds, which at this healthy site none does in a day",
)];

/// Whether two are the same but for the plant's own word that a fault stands.
fn same(one: &Truth, other: &Truth) -> bool {
    one == other || {
        let mut one = one.clone();
        one.faulty = other.faulty;
        one == *other
    }
}

/// What else happens, to sound equipment too: nothing, the pump trips, or the drums run out.
fn circumstances(at_ms: u64, feeders: usize) -> [Vec<Event>; 3] {
    let event = |fault| {
        let for_ms = Some(7_200_000);
        Event::at(at_ms + OTHER_AFTER_MS, Act::Fault { fault, for_ms })
    };
    let empty = |at| event(PlantFault::Feeder(at, FeederFault::DrumEmpty));
    [
        Vec::new(),
        vec![event(PlantFault::CirculationTripped)],
        (0..feeders).map(empty).collect(),
    ]
}

/// Whether the unit has refused what a person did, and said why.
fn is_refused(pool: &Pool, from: usize) -> bool {
    let lines = pool.log().iter().skip(from);
    let mut refused = lines.filter_map(|line| match &line.what {
        LogWhat::Reply(Reply::Refused(why)) => Some(why),
        _ => None,
    });
    refused.any(|why| !why.starts_with("the unit has nothing of the kind"))
}

/// Whether the run with a fault becomes another one while the fault may show itself, `besides` happening in both.
fn differs(subject: &Subject, chosen: &Chosen, besides: &[Event]) -> bool {
    let early = chosen.stands_from_the_start(&subject.scenario);
    let mut healthy = subject.origin.clone();
    let mut other = if early {
        subject.origin_of(&[*chosen]).unwrap()
    } else {
        subject.origin.clone()
    };
    let mut events = chosen.events(&subject.scenario).unwrap();
    events.extend(besides.iter().cloned());
    other.add_events(events);
    healthy.add_events(besides.to_vec());
    let for_ms = match chosen.fault.lasts {
        Lasts::For(ms) => ms,
        Lasts::ToTheEnd | Lasts::Once => LOOKED_AT_MS,
    };
    let lines = other.log().len();
    let shown = |pool: &Pool| (*pool.status(), *pool.commands());
    while healthy.clock_ms() < chosen.at_ms + for_ms {
        healthy.tick();
        other.tick();
        if !same(healthy.truth(), other.truth()) || shown(&healthy) != shown(&other) {
            return true;
        }
    }
    is_refused(&other, lines)
}

/// Those of a site's faults that change nothing, with their part.
fn unseen(site: &str, text: &str) -> Vec<(&'static str, Part)> {
    let subject = Subject::of_site(site, text, None).unwrap_or_else(|e| panic!("{e}"));
    let (mut unseen, mut tried) = (Vec::new(), 0);
    for fault in catalogue() {
        for part in fault.parts_of(&subject.scenario) {
            let chosen = Chosen {
                fault,
                part,
                severity: SEVERITY,
                at_ms: subject.dose_from_ms - BEFORE_DOSE_MS,
                for_ms: None,
            };
            if chosen.events(&subject.scenario).is_err() {
                continue;
            }
            tried += 1;
            let all = circumstances(chosen.at_ms, subject.scenario.feeders.len());
            if !all.iter().any(|one| differs(&subject, &chosen, one)) {
                unseen.push((fault.id, part));
            }
        }
    }
    assert!(tried > 100, "only {tried} were tried");
    unseen
}

fn held_to_the_list(site: &str, text: &str, own: &[(&str, &str)]) {
    let found = unseen(site, text);
    let ids: BTreeSet<&str> = found.iter().map(|(id, _)| *id).collect();
    let listed = UNSEEN.iter().chain(own).map(|(id, _)| *id);
    assert_eq!(ids, listed.collect(), "{found:?}");
}

#[test]
fn every_fault_changes_the_run_at_a_house() {
    held_to_the_list("home-pool.toml", HOME_POOL, &UNSEEN_AT_A_HOUSE);
}

#[test]
fn every_fault_changes_the_run_with_a_generator() {
    held_to_the_list("salt-pool.toml", SALT_POOL, &[]);
}
