//! A page and `run` that are given the same give the same: what is done by hand too, once it is saved.

use std::fmt::Write as _;

use dosewarden_browser::{Play, answer};
use dosewarden_sim::run::{self, Quiet};
use dosewarden_sim::scenario::FIRST_POOL;
use dosewarden_sim::unit::Canary;
use dosewarden_sim::{DosewardenUnit, Scenario};
use sha2::{Digest, Sha256};

const COUNTEREXAMPLE: &str =
    include_str!("../../../tests/replay/standing-water-h1-late-on-flow-loss.toml");
const POOL_AND_SPA: &str = include_str!("../../scenarios/pool-and-spa.toml");

/// SHA-256 of the trace that `run` writes, and the oracles that were broken.
fn of_run(text: &str, canary: Option<&str>) -> (String, Vec<String>) {
    let scenario = Scenario::parse("a.toml", text).unwrap();
    let unit = match canary {
        Some(name) => DosewardenUnit::canary(&scenario, Canary::named(name).unwrap()),
        None => DosewardenUnit::for_scenario(&scenario),
    };
    let mut trace = Vec::new();
    let result = run::run(&scenario, unit, Some(&mut trace), &mut Quiet).unwrap();
    let hex = Sha256::digest(&trace)
        .iter()
        .fold(String::new(), |mut hex, byte| {
            let _ = write!(hex, "{byte:02x}");
            hex
        });
    let broken = result
        .summary
        .oracles
        .iter()
        .filter(|one| one.verdict == "broken");
    (hex, broken.map(|one| one.name.to_owned()).collect())
}

fn of_play(play: &mut Play) -> (String, Vec<String>) {
    while play.ticks(10_000) > 0 {}
    let seen = play.look();
    assert!(seen.ended);
    let broken = seen.oracles.iter().filter(|one| one.verdict == "broken");
    (
        seen.digest.clone(),
        broken.map(|one| one.name.to_owned()).collect(),
    )
}

#[test]
fn a_week_has_the_trace_that_run_writes() {
    let mut play = Play::begin("first-pool.toml", FIRST_POOL, None, None).unwrap();
    assert_eq!(of_play(&mut play), of_run(FIRST_POOL, None));
}

#[test]
fn two_bodies_have_the_trace_that_run_writes() {
    let mut play = Play::begin("pool-and-spa.toml", POOL_AND_SPA, None, None).unwrap();
    assert_eq!(of_play(&mut play), of_run(POOL_AND_SPA, None));
}

#[test]
fn a_counterexample_breaks_on_the_unit_that_it_names_and_not_on_ours() {
    let mut broken = Play::begin("found.toml", COUNTEREXAMPLE, None, None).unwrap();
    let (digest, oracles) = of_play(&mut broken);
    assert_eq!(oracles, ["standing_water"]);
    assert_eq!(
        (digest, oracles),
        of_run(COUNTEREXAMPLE, Some("late-on-flow-loss"))
    );
    let mut ours = Play::begin("found.toml", COUNTEREXAMPLE, None, Some("dosewarden")).unwrap();
    assert_eq!(of_play(&mut ours).1, [""; 0]);
}

#[test]
fn another_seed_is_another_trace() {
    let (mut one, mut other) = (Play::quiet(1), Play::quiet(2));
    for play in [&mut one, &mut other] {
        play.ticks(7_200);
    }
    assert_ne!(one.look().digest, other.look().digest);
}

/// Moments that are no whole minutes, a trigger, a fault of the catalogue, and one that ends.
#[test]
fn what_was_done_by_hand_replays_from_the_file_that_was_saved() {
    let mut play = Play::quiet(31);
    let done = [
        (
            4_001,
            "when_feeding = \"acid\"\nfeeding_for = \"5 s\"\npower_cut = \"3 min\"",
        ),
        (
            5_003,
            "fault = \"pump_trips\"\n[[event]]\nfault = \"flow_switch_stuck_on\"",
        ),
        (
            307,
            "fault_ends = \"pump_trips\"\n\n[[event]]\n\nfault_ends = \"flow_switch_stuck_on\"",
        ),
        (
            90,
            "person = \"release\"\npool_empty = true\nremedy = \"line\"",
        ),
        (1, "inject = \"S10\"\nof = \"orp\"\nseverity = 0.5"),
        (0, "fault = \"probe_frozen\"\nof = \"ph\""),
    ];
    for (ticks, event) in done {
        assert_eq!(play.ticks(ticks), ticks);
        play.act(event).unwrap();
    }
    play.ticks(20_000);
    let saved = play.saved();
    let digest = play.look().digest;
    assert_eq!(of_run(&saved, None).0, digest);
    // The same file, played on the page.
    let mut again = Play::begin("saved.toml", &saved, None, None).unwrap();
    assert_eq!(of_play(&mut again).0, digest);
    assert!(saved.contains("seed = 31"));
    assert!(saved.contains(&format!("# Digest: {digest}")));
}

#[test]
fn a_saved_file_names_the_unit() {
    let mut play = Play::begin("found.toml", COUNTEREXAMPLE, None, None).unwrap();
    play.ticks(60);
    let saved = play.saved();
    assert!(
        saved.contains("run FILE --canary late-on-flow-loss"),
        "{}",
        &saved[..200]
    );
    let mut unguarded = Play::begin("a.toml", FIRST_POOL, None, Some("no-guard")).unwrap();
    unguarded.ticks(60);
    assert!(unguarded.saved().contains("--canary no-guard"));
}

#[test]
fn a_wrong_event_does_nothing() {
    let (mut play, mut other) = (Play::quiet(5), Play::quiet(5));
    play.ticks(600);
    for wrong in [
        "fault = \"pump_tripped\"",
        "person = \"acknowledge\"\nfor = \"1 h\"",
        "at = \"day 1 09:00\"\nfault = \"pump_trips\"",
        "fault = \"pump_trips\"\n[[event]]\nfault = \"nothing\"",
        // It changes the site from the start.
        "inject = \"U2\"\nseverity = 1",
        "[pool]\nvolume = \"1 m3\"",
        "= [",
    ] {
        play.act(wrong).expect_err(wrong);
    }
    other.ticks(600);
    for play in [&mut play, &mut other] {
        play.ticks(4_000);
    }
    assert_eq!(play.look().digest, other.look().digest);
}

#[test]
fn what_stands_in_the_way_has_stood_since_the_tick_in_which_it_came() {
    let mut play = Play::quiet(7);
    play.ticks(2 * 3_600 + 17);
    play.act("fault = \"pump_trips\"").unwrap();
    play.ticks(100);
    let seen = play.look();
    assert_eq!(seen.clock, "day 1 10:01:57");
    let flow = |seen: &dosewarden_browser::Seen| {
        let in_the_way = seen.feeders[0].obstacles.iter();
        in_the_way
            .clone()
            .find(|one| one.name == "flow_proven")
            .cloned()
    };
    let told = flow(&seen).expect("no flow");
    // The contact opens at once; the unit reads it in the tick after.
    assert_eq!(told.since.as_deref(), Some("day 1 10:00:18"));
    assert_eq!(told.for_ms, 99_000);
    assert!(
        told.clears.starts_with("once flow stays for"),
        "{}",
        told.clears
    );
    play.act("fault_ends = \"pump_trips\"").unwrap();
    play.ticks(90);
    assert!(flow(&play.look()).is_none());
}

#[test]
fn caps_are_those_of_the_guards_books() {
    let mut play = Play::quiet(7);
    let none = play.look().feeders[0].caps.clone();
    assert!(none.is_empty(), "no power yet");
    play.ticks(3 * 3_600);
    let feeder = play.look().feeders[0].clone();
    let [hour, day] = feeder.caps[..] else {
        panic!("{:?}", feeder.caps)
    };
    assert_eq!((hour.cap, day.cap), (240.0, 900.0)); // as the scenario says
    // Booked is what was fed, with the tolerance of the rate and what was charged and perhaps fed.
    assert!(
        feeder.fed > 100.0 && day.used >= feeder.fed && day.used < feeder.fed * 1.25,
        "{feeder:?}"
    );
    assert!(hour.used <= hour.cap && hour.used > 0.0);
}

fn asked(play: &mut Option<Play>, request: &str) -> serde_json::Value {
    serde_json::from_str(&answer(play, request)).expect("JSON")
}

#[test]
fn requests_are_answered_or_say_what_is_wrong() {
    let mut play = None;
    let about = asked(&mut play, r#"{"do":"about"}"#);
    assert_eq!(about["ok"]["units"][0], "dosewarden");
    let early = asked(&mut play, r#"{"do":"look"}"#);
    assert_eq!(early["error"], "no pool was begun");
    for (wrong, told) in [
        (r#"{"do":"fly"}"#, "this is no request"),
        (
            r#"{"do":"begin","seed":"x"}"#,
            "the seed is \"x\"; it has to be a whole number",
        ),
        (
            r#"{"do":"begin","unit":"other"}"#,
            "no unit is called \"other\"",
        ),
        (
            r#"{"do":"begin","file":"my.toml","text":"[scenario"}"#,
            "my.toml:1:",
        ),
    ] {
        let answer = asked(&mut play, wrong);
        assert!(
            answer["error"]
                .as_str()
                .unwrap_or_default()
                .starts_with(told),
            "{wrong}: {answer}"
        );
    }
    let begun = asked(&mut play, r#"{"do":"begin","seed":"18446744073709551"}"#);
    assert_eq!(begun["ok"]["begun"]["seed"], "18446744073709551");
    assert!(
        begun["ok"]["faults"]
            .as_array()
            .is_some_and(|all| all.len() > 90)
    );
    // A wrong one leaves the pool that is there.
    asked(&mut play, r#"{"do":"begin","seed":"x"}"#);
    play.as_mut().expect("there").ticks(120);
    let seen = asked(&mut play, r#"{"do":"look"}"#);
    assert_eq!(seen["ok"]["clock"], "day 1 08:02");
    assert_eq!(seen["ok"]["points"].as_array().map(Vec::len), Some(2));
    let done = asked(
        &mut play,
        r#"{"do":"act","event":"fault = \"pump_trips\""}"#,
    );
    assert_eq!(done["ok"], serde_json::json!({}));
    let saved = asked(&mut play, r#"{"do":"save"}"#);
    assert!(
        saved["ok"]["text"]
            .as_str()
            .is_some_and(|text| text.contains("pump_trips"))
    );
}
