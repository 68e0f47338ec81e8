//! What a later review proved of drives and what they fed, kept as tests.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::arithmetic_side_effects,
    reason = "a test that panics has failed, as it should"
)]

mod bench;
use bench::site::{ACID, CHLORINE, LIMITS, SPEC};
use bench::{Bench, ask};
use dosewarden_guard::units::Millis;
use dosewarden_guard::*;

fn feedback() -> Limits<2, 1> {
    let mut acid = ACID;
    acid.feedback = Fitted::Fitted(Millis::from_secs(3));
    Limits::try_new(LimitsSpec {
        feeders: [FeederLimits::Enabled(acid), FeederLimits::Enabled(CHLORINE)],
        ..SPEC
    })
    .unwrap()
}
fn ready(limits: Limits<2, 1>) -> Bench {
    let mut bench = Bench::start(limits, [None, None]);
    bench.act(Action::Initialise);
    bench.act(Action::SetStage(Stage::Full));
    bench.idle(700);
    bench
}
fn with(feeders: [FeederLimits<1>; 2]) -> Limits<2, 1> {
    Limits::try_new(LimitsSpec { feeders, ..SPEC }).unwrap()
}
#[test]
fn what_a_stall_fed_is_in_the_record_of_its_tick() {
    let mut bench = Bench::ready();
    bench.until(ask(45, 0), 5, |now| now.feeders[0].run.0 > 0);
    bench.tick_with(600_000, ask(45, 0), None); // hang of 10 min with a permit
    let ran = bench.guard.state().feeders[0].run;
    let fed = ACID.rate_for_caps().dose_ceil(ran);
    let bench = bench.power_cycled();
    let booked = bench.guard.state().ledger.totals(0, 0).1;
    assert!(booked >= fed, "restored {booked:?}, fed {fed:?}");
}

fn welded(bench: &mut Bench) {
    let mut closed = 0;
    for _ in 0..600 {
        let decision = bench.tick(ask(0, 60));
        let on = if decision.master { 1000 } else { 0 };
        closed += u32::from(decision.master);
        bench.facts.feeders[0].feedback = Reading::now(Millis(on));
    }
    assert!(bench.guard.state().feeder_lockouts[0].has(Lockout::Drive) && closed < 4);
}

#[test]
fn taking_feedback_out_of_the_limits_does_not_close_the_contact_on_a_welded_drive() {
    let mut bench = ready(feedback());
    welded(&mut bench);
    bench.idle(700);
    assert_eq!(bench.guard.set_limits(LIMITS), SetLimits::Applied); // feedback NotFitted
    let mut closed = 0;
    for _ in 0..600 {
        closed += u32::from(bench.tick(ask(0, 60)).master);
    }
    assert!(
        bench.guard.state().feeder_lockouts[0].has(Lockout::Drive),
        "nobody released"
    );
    assert_eq!(closed, 0, "master closed though nobody released the drive");
}
#[test]
fn taking_the_feeder_out_of_use_does_not_close_the_contact_on_a_welded_drive() {
    let mut bench = ready(feedback());
    welded(&mut bench);
    bench.idle(700);
    assert_eq!(
        bench.guard.set_limits(with([
            FeederLimits::Disabled,
            FeederLimits::Enabled(CHLORINE)
        ])),
        SetLimits::Applied
    );
    let mut closed = 0;
    for _ in 0..900 {
        let m = bench.tick(ask(0, 60)).master;
        bench.facts.feeders[0].feedback = Reading::now(Millis(if m { 1000 } else { 0 }));
        closed += u32::from(m);
    }
    assert!(
        bench.guard.state().feeder_lockouts[0].has(Lockout::Drive),
        "nobody released"
    );
    assert_eq!(
        closed, 0,
        "master closed {closed} s: a welded acid pump ran, unbooked"
    );
}

fn deaf(bench: &mut Bench) {
    // Feedback stays 0: the acid pump does not start.
    for _ in 0..30 {
        bench.tick(ask(45, 0));
    }
    assert!(bench.guard.state().feeder_lockouts[0].has(Lockout::Drive));
}
#[test]
fn a_drive_that_did_not_start_stops_nobody_else_after_a_restart() {
    let mut bench = ready(feedback());
    deaf(&mut bench);
    bench.until(ask(0, 60), 600, |now| now.feeders[1].closed.is_some());
    let mut bench = bench.power_cycled();
    bench.idle(700);
    let mut fed = 0;
    for _ in 0..7200 {
        fed += u32::from(bench.tick(ask(0, 60)).feeders[1].run.0 > 0);
    }
    let d = *bench.guard.decision();
    assert!(
        !d.notices.any_of(Notices::RUNS_AGAINST),
        "nothing ever ran against command"
    );
    assert!(fed > 0, "chlorine is not fed any more");
}
#[test]
fn a_drive_that_started_late_did_not_run_against_command() {
    let mut bench = ready(feedback());
    let mut late = 0;
    for _ in 0..30 {
        let d = bench.tick(ask(45, 0));
        if d.feeders[0].run.0 > 0 {
            late += 1;
        }
        // on for real from the 4th second of permit, and off with the permit
        bench.facts.feeders[0].feedback =
            Reading::now(Millis(if late >= 5 && d.feeders[0].run.0 > 0 {
                1000
            } else {
                0
            }));
    }
    let d = *bench.guard.decision();
    assert!(bench.guard.state().feeder_lockouts[0].has(Lockout::Drive));
    assert!(
        !d.notices.any_of(Notices::RUNS_AGAINST),
        "nothing ever ran against command"
    );
}
#[test]
fn unknown_feedback_does_not_hide_that_a_person_is_needed() {
    let mut acid = ACID;
    acid.feedback = Fitted::Fitted(Millis::from_secs(3));
    let mut chl = CHLORINE;
    chl.feedback = Fitted::Fitted(Millis::from_secs(3));
    let mut bench = ready(with([
        FeederLimits::Enabled(acid),
        FeederLimits::Enabled(chl),
    ]));
    bench.facts.feeders[0].feedback = Reading::now(Millis(1000));
    bench.idle(5);
    bench.facts.feeders[0].feedback = Reading::now(Millis(0));
    bench.facts.feeders[1].feedback = Reading::unknown(Millis(0));
    bench.idle(60);
    assert_eq!(bench.guard.explain(1, Rule::DriveObeys), Clear::Person);
}

#[test]
fn a_stall_within_run_max() {
    let mut bench = Bench::ready();
    bench.until(ask(45, 0), 5, |now| now.feeders[0].run.0 > 0);
    bench.tick_with(150_000, ask(45, 0), None);
    let fed = ACID
        .rate_for_caps()
        .dose_ceil(bench.guard.state().feeders[0].run);
    let mut bench = bench.power_cycled();
    assert!(
        bench.guard.state().ledger.totals(0, 0).1 >= fed,
        "{:?} of {fed:?}",
        bench.guard.state().ledger.totals(0, 0).1
    );
    bench.idle(1);
}
