//! Failing trials are made as small as they can be, and their files replay them, to the bit.

use dosewarden_sim::campaign::{
    Bounds, Failure, Planned, Replay, ReplayError, SIX_HOURS_MS, Subject, replays, shrunk,
};
use dosewarden_sim::fault::{Chosen, Part, find};
use dosewarden_sim::plan::{HOME_POOL, HOTEL_SPA, Plan, Site};
use dosewarden_sim::scenario::{Act, Scenario, Supply};
use dosewarden_sim::unit::Canary;

const MINUTE_MS: u64 = 60_000;

fn subject(canary: Canary) -> Subject {
    Subject::of_site("home-pool.toml", HOME_POOL, Some(canary)).unwrap_or_else(|e| panic!("{e}"))
}

fn fault(id: &str, severity: f64, at_ms: u64) -> Chosen {
    Chosen {
        fault: find(id).expect(id),
        part: Part::Site,
        severity,
        at_ms,
        for_ms: None,
    }
}

fn planned(chosen: Vec<Chosen>, reset_at_ms: u64) -> Planned {
    Planned {
        case: 0,
        chosen,
        reset_at_ms: Some(reset_at_ms),
        for_ms: SIX_HOURS_MS,
    }
}

fn fails(subject: &Subject, planned: &Planned, oracle: &str) -> Option<Failure> {
    Failure::of(subject, &Bounds::committed(), planned, oracle).unwrap_or_else(|e| panic!("{e}"))
}

fn replay(subject: &Subject, failure: &Failure) -> Replay {
    Replay::of(subject, failure, "Found by: a test").unwrap_or_else(|e| panic!("{e}"))
}

#[test]
fn what_is_not_needed_goes_and_what_is_left_is_simple() {
    let subject = subject(Canary::LateOnFlowLoss);
    let dose_ms = subject.dose_from_ms;
    // The pump trips in mid-dose. The other fault, that each has its size and seconds, and the late reset add nothing.
    let trips = Chosen {
        for_ms: Some(181 * MINUTE_MS + 17_000),
        ..fault("H1", 0.83, dose_ms - 5 * MINUTE_MS + 13_000)
    };
    let chosen = vec![fault("T1", 0.37, dose_ms - 7 * MINUTE_MS + 11_000), trips];
    let found = planned(chosen, dose_ms + 40 * MINUTE_MS + 7_000);
    let failure = fails(&subject, &found, "standing_water").expect("late on a loss of flow");
    assert_eq!(failure.chosen.len(), 2);
    let (least, lived) = shrunk(&subject, &Bounds::committed(), failure);
    assert!(lived < 40, "{lived} trials");
    assert_eq!(least.reset_at_ms, None);
    assert_eq!(least.chosen.len(), 1);
    let left = least.chosen[0];
    assert_eq!(left.fault.id, "H1");
    assert!(
        left.severity > 0.0 && left.severity <= 0.5,
        "{}",
        left.severity
    );
    assert!((left.severity * 100.0).fract() < 1e-9, "{}", left.severity);
    // Of three hours a few minutes are left.
    let for_ms = left.for_ms.expect("it was drawn");
    assert!(for_ms.is_multiple_of(MINUTE_MS), "{for_ms}");
    assert!((MINUTE_MS..=12 * MINUTE_MS).contains(&for_ms), "{for_ms}");
    assert!(left.at_ms.is_multiple_of(MINUTE_MS) && least.end_ms.is_multiple_of(MINUTE_MS));
    assert!(least.end_ms <= least.broken.first_at_ms + 2 * MINUTE_MS);
    // None at all was tried: it is milder, and holds.
    let mut milder = planned(
        vec![Chosen {
            severity: 0.0,
            ..left
        }],
        0,
    );
    milder.reset_at_ms = None;
    milder.for_ms = least.end_ms - left.at_ms;
    assert!(fails(&subject, &milder, "standing_water").is_none());
    milder.chosen = least.chosen.clone();
    assert!(fails(&subject, &milder, "standing_water").is_some());
}

#[test]
fn a_file_replays_its_failure_to_the_bit_and_another_file_is_refused() {
    let subject = subject(Canary::NoHoldAfterRestart);
    let reset_ms = subject.dose_from_ms;
    let found = planned(vec![fault("H8", 0.37, reset_ms - MINUTE_MS)], reset_ms);
    let failure = fails(&subject, &found, "holds_kept").expect("no hold after a restart");
    // As it was found, with its fault, and shrunk.
    replays(&subject, &failure, &replay(&subject, &failure)).unwrap_or_else(|e| panic!("{e}"));
    let (least, _) = shrunk(&subject, &Bounds::committed(), failure);
    assert!(least.chosen.is_empty() && least.reset_at_ms.is_some());
    let told = replay(&subject, &least);
    replays(&subject, &least, &told).unwrap_or_else(|e| panic!("{e}"));
    let file = Scenario::parse("replay.toml", &told.text).unwrap_or_else(|e| panic!("{e}"));
    assert_eq!(file.expect_broken, ["holds_kept"]);
    let is_reset = |act: &Act| {
        matches!(
            act,
            Act::PowerCut {
                supply: Supply::Controller,
                for_ms: 2000
            }
        )
    };
    assert!(file.events.iter().any(|event| is_reset(&event.act)));
    let count = |words: &str| {
        told.timeline
            .iter()
            .filter(|line| line.contains(words))
            .count()
    };
    assert_eq!(count("BROKEN holds_kept"), 1, "{:?}", told.timeline);
    assert_eq!(count("controller's power goes"), 1, "{:?}", told.timeline);
    assert!(count("acid is fed") >= 2, "{:?}", told.timeline);
    // Without its reset, the file breaks nothing.
    let text = told.text.replace(
        "power_cut = \"2 s\"\nsupply = \"controller\"",
        "fault = \"pump_trips\"",
    );
    let other = Replay { text, ..told };
    let refused = replays(&subject, &least, &other);
    assert!(
        matches!(refused, Err(ReplayError::Differs { .. })),
        "{refused:?}"
    );
}

/// A fault that stands from the start may break something days before the moment at which trials fork.
#[test]
fn what_broke_before_the_fork_is_replayed_too() {
    let site = Site::parse("hotel-spa.toml", HOTEL_SPA).unwrap_or_else(|e| panic!("{e}"));
    let plan = Plan::of(&site).unwrap_or_else(|e| panic!("{e}"));
    // Chlorine by ORP that stops too late.
    let text = plan
        .scenario
        .replace("orp = \"775 mV\"", "orp = \"800 mV\"");
    let scenario = Scenario::parse("spa.toml", &text).unwrap_or_else(|e| panic!("{e}"));
    let mut subject = Subject::of_scenario(scenario, None).unwrap_or_else(|e| panic!("{e}"));
    subject.text = text;
    let mut found = planned(vec![fault("C7", 0.0, subject.dose_from_ms)], 0);
    found.reset_at_ms = None;
    let failure = fails(&subject, &found, "chlorine_ceiling").expect("over 10 mg/L");
    assert!(failure.broken.first_at_ms < subject.origin.clock_ms());
    let (least, _) = shrunk(&subject, &Bounds::committed(), failure);
    replays(&subject, &least, &replay(&subject, &least)).unwrap_or_else(|e| panic!("{e}"));
}
