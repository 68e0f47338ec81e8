//! The catalogue as a whole, and that what it makes does something.

use std::collections::HashSet;

use super::*;
use crate::plan::{HOME_POOL, Plan, SALT_POOL, Site};
use crate::plant::PlantFault;

fn scenario(text: &str) -> Scenario {
    let site = Site::parse("site.toml", text).unwrap_or_else(|e| panic!("{e}"));
    let plan = Plan::of(&site).unwrap_or_else(|e| panic!("{e}"));
    Scenario::parse("planned.toml", &plan.scenario).unwrap_or_else(|e| panic!("{e}"))
}

#[test]
fn a_hundred_and_four_faults_with_the_ids_of_their_group() {
    let all: Vec<&Fault> = catalogue().collect();
    assert_eq!(all.len(), 104);
    let ids: HashSet<&str> = all.iter().map(|fault| fault.id).collect();
    assert_eq!(ids.len(), 104);
    let counts = [
        ("H", 14),
        ("S", 20),
        ("A", 12),
        ("C", 13),
        ("K", 10),
        ("P", 6),
        ("T", 7),
        ("L", 7),
        ("U", 15),
    ];
    for (letter, count) in counts {
        for number in 1..=count {
            let id = format!("{letter}{number}");
            assert!(find(&id).is_some(), "{id}");
        }
        assert!(find(&format!("{letter}{}", count + 1)).is_none());
    }
}

#[test]
fn what_a_site_has_not_is_said_and_all_else_becomes_an_injection() {
    for (text, missing) in [
        (HOME_POOL, vec!["H10", "H13", "S19", "A11"]),
        (SALT_POOL, vec!["H10", "H13"]),
    ] {
        let scenario = scenario(text);
        for fault in catalogue() {
            let parts = fault.parts_of(&scenario);
            let mut made = 0;
            for part in parts {
                for severity in [0.0, 0.49, 0.51, 1.0] {
                    let place = Place {
                        scenario: &scenario,
                        part,
                        severity,
                        at_ms: 0,
                    };
                    match fault.make(&place) {
                        Ok(injection) => {
                            made += 1;
                            let empty = injection.before.is_none() && injection.steps.is_empty();
                            assert!(!empty, "{} becomes nothing", fault.id);
                        }
                        Err(why) => assert!(!why.is_empty()),
                    }
                }
            }
            assert_eq!(made == 0, missing.contains(&fault.id), "{}", fault.id);
        }
    }
}

/// What stands in the catalogue of faults that the project took over, by id.
#[test]
fn what_is_put_in_comes_at_its_time_and_ends() {
    let mut scenario = scenario(HOME_POOL);
    let before = scenario.events.len();
    let chosen = Chosen {
        fault: find("H2").unwrap(),
        part: Part::Site,
        severity: 1.0,
        at_ms: 5_000,
        for_ms: Some(60_000),
    };
    chosen.put_into(&mut scenario).unwrap();
    assert_eq!(scenario.events.len(), before + 2);
    let stuck = PlantFault::FlowSwitchStuckOn;
    let first = &scenario.events[0];
    assert_eq!((first.at_ms, first.act), (5_000, fault_act(stuck)));
    let second = &scenario.events[1];
    assert_eq!((second.at_ms, second.act), (65_000, Act::FaultEnds(stuck)));
    let nowhere = Chosen {
        fault: find("H13").unwrap(),
        ..chosen
    };
    let as_it_was = scenario.clone();
    assert_eq!(nowhere.put_into(&mut scenario), Err("one body of water"));
    assert_eq!(scenario, as_it_was);
}

#[test]
fn nothing_begins_after_its_end_and_what_waits_for_a_feed_is_ended_from_there() {
    /// Shorter than what comes by steps takes to come, ms.
    const FOR_MS: u64 = 60_000;
    let site = scenario(&crate::examples::text("sites/pool-and-spa.toml"));
    let (mut waiting, mut by_steps) = (Vec::new(), Vec::new());
    let all =
        catalogue().flat_map(|fault| fault.parts_of(&site).into_iter().map(move |p| (fault, p)));
    for (fault, part) in all {
        let chosen = Chosen {
            fault,
            part,
            severity: 1.0,
            at_ms: 5_000,
            for_ms: Some(FOR_MS),
        };
        let (Ok(made), Ok(events)) = (chosen.made(&site), chosen.events(&site)) else {
            continue;
        };
        if made.ends.is_empty() {
            continue;
        }
        let stands = |act| matches!(act, Act::Fault { .. } | Act::Unit { .. });
        for event in &events {
            let in_time = event.at_ms < chosen.at_ms + FOR_MS || !stands(event.act);
            assert!(in_time, "{}: {event:?}", fault.id);
            if event.trigger.is_some() {
                waiting.push(fault.id);
                assert_eq!(events.len(), 1, "{}: its end is its own", fault.id);
                assert_eq!(event.then, Some((FOR_MS, made.ends[0])), "{}", fault.id);
                assert_eq!(event.act, event.act.to_be_ended(), "{}", fault.id);
            } else {
                assert_eq!(event.then, None, "{}", fault.id);
            }
        }
        assert!(
            events.iter().any(|event| event.at_ms == chosen.at_ms),
            "{}",
            fault.id
        );
        if events.len() < made.steps.len() {
            by_steps.push(fault.id);
        }
    }
    assert_eq!((waiting, by_steps), (vec!["H1", "H13", "K4"], vec!["H5"]));
}
