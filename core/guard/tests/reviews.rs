//! What reviews of the guard found, each kept as a test.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::arithmetic_side_effects,
    reason = "a test that panics has failed, as it should"
)]

mod bench;

use bench::site::{ACID, CHLORINE, SPEC};
use bench::{Bench, ask};
use dosewarden_guard::units::{ClockSeconds, Dose, MilliPh, Millis};
use dosewarden_guard::{
    Action, ActionResult, FeedRequest, FeederLimits, Fitted, Health, Inhibits, Limits, LimitsSpec,
    Lockout, Mode, Notices, Reading, Remedy, Rule,
};

fn feedback(spec: LimitsSpec<2, 1>) -> Limits<2, 1> {
    let mut acid = ACID;
    acid.feedback = Fitted::Fitted(Millis::from_secs(3));
    Limits::try_new(LimitsSpec {
        feeders: [FeederLimits::Enabled(acid), FeederLimits::Enabled(CHLORINE)],
        ..spec
    })
    .unwrap()
}

fn ready(limits: Limits<2, 1>) -> Bench {
    let mut bench = Bench::start(limits, [None, None]);
    bench.act(Action::Initialise);
    bench.act(Action::SetStage(dosewarden_guard::Stage::Full));
    bench.idle(700);
    bench
}

fn release(lockout: Lockout) -> Action {
    Action::Release {
        lockout,
        feeder: 0,
        pool_empty: true,
        remedy: Some(Remedy::WaterTested),
    }
}

#[test]
fn a_welded_contact_is_never_powered_by_another_feeders_permit() {
    let mut bench = ready(feedback(SPEC));
    let mut closed = 0;
    // The acid pump's contact is welded: it runs whenever the contact in series is closed.
    for tick in 0..3600 {
        let decision = bench.tick(ask(0, 60));
        let on = if decision.master { 1000 } else { 0 };
        bench.facts.feeders[0].feedback = Reading::now(Millis(on));
        closed += u32::from(decision.master);
        assert!(closed < 4, "tick {tick}: the master closed {closed} times");
    }
    assert!(bench.guard.state().feeder_lockouts[0].has(Lockout::Drive));
    assert!(bench.guard.decision().notices.any_of(Notices::RUNS_AGAINST));
}

#[test]
fn a_hand_feed_without_ph_does_not_block_the_feeder_for_good() {
    let mut bench = Bench::ready();
    bench.facts.ph.health = Health::CheckFunction;
    bench.facts.feeders[1].hold_to_run = Reading::now(true);
    let manual = FeedRequest {
        dose: Dose::from_ml(60),
        mode: Mode::Manual,
    };
    for _ in 0..25 {
        bench.tick([FeedRequest::NONE, manual]);
    }
    bench.facts.ph.health = Health::Normal;
    bench.facts.feeders[1].hold_to_run = Reading::now(false);
    bench.until(ask(0, 60), 1200, |decision| decision.feeders[1].run.0 > 0);
}

#[test]
fn after_a_release_there_is_one_quarter_cycle_and_it_is_judged() {
    let mut bench = Bench::ready();
    let cycle = |bench: &mut Bench| {
        bench.until(ask(45, 0), 700, |decision| decision.feeders[0].run.0 > 0);
        let charged = bench.guard.decision().feeders[0].charged;
        bench.until(ask(45, 0), 200, |decision| {
            decision.feeders[0].closed.is_some()
        });
        charged
    };
    assert_eq!(cycle(&mut bench), Dose::from_ml(45));
    bench.facts.ph.value = MilliPh(7900);
    bench.idle(610);
    assert!(bench.guard.state().feeder_lockouts[0].has(Lockout::Response));
    assert_eq!(
        bench.act(release(Lockout::Response)).action,
        Some(ActionResult::Done)
    );
    assert_eq!(cycle(&mut bench), Dose(11_250), "a quarter");
    bench.facts.ph.value = MilliPh(7850);
    bench.idle(610);
    assert_eq!(cycle(&mut bench), Dose::from_ml(45), "the whole cap again");
}

#[test]
fn a_quarter_cycle_with_a_wrong_answer_locks_out_again() {
    let mut bench = Bench::ready();
    bench.until(ask(45, 0), 5, |decision| decision.feeders[0].run.0 > 0);
    bench.until(ask(45, 0), 200, |decision| {
        decision.feeders[0].closed.is_some()
    });
    bench.facts.ph.value = MilliPh(7900);
    bench.idle(610);
    bench.act(release(Lockout::Response));
    bench.until(ask(45, 0), 700, |decision| decision.feeders[0].run.0 > 0);
    bench.until(ask(45, 0), 200, |decision| {
        decision.feeders[0].closed.is_some()
    });
    bench.facts.ph.value = MilliPh(8300);
    bench.idle(610);
    assert!(bench.guard.state().feeder_lockouts[0].has(Lockout::Response));
}

#[test]
fn time_without_power_is_not_credited_to_what_was_fed_since() {
    let mut bench = Bench::ready();
    bench.facts.clock = Reading::now(ClockSeconds(1000));
    bench.idle(700);
    let mut bench = bench.power_cycled();
    let mut now = 1000 + 3 * 3600;
    // The clock is not fresh until long after the feeding has begun.
    bench.until(ask(0, 60), 700, |decision| decision.feeders[1].run.0 > 0);
    bench.until(ask(0, 60), 200, |decision| {
        decision.feeders[1].closed.is_some()
    });
    let fed = bench.guard.state().ledger.totals(1, 0).0;
    assert!(fed.0 > 0);
    for _ in 0..300 {
        now += 1;
        bench.facts.clock = Reading::now(ClockSeconds(now));
        bench.tick(ask(0, 0));
    }
    assert_eq!(bench.guard.state().ledger.totals(1, 0).0, fed);
}

#[test]
fn a_drive_lockout_can_be_released_once_feedback_is_taken_out() {
    let mut bench = ready(feedback(SPEC));
    bench.facts.feeders[0].feedback = Reading::now(Millis(1000));
    bench.idle(3);
    assert!(bench.guard.state().feeder_lockouts[0].has(Lockout::Drive));
    assert_eq!(
        bench.guard.set_limits(Limits::try_new(SPEC).unwrap()),
        dosewarden_guard::SetLimits::Applied
    );
    bench.idle(30);
    assert_eq!(
        bench.act(release(Lockout::Drive)).action,
        Some(ActionResult::Done)
    );
    bench.until(ask(45, 0), 1300, |decision| decision.feeders[0].run.0 > 0);
}

#[test]
fn a_restart_with_other_limits_counts_the_day_as_used() {
    let bench = Bench::ready();
    let other = Limits::try_new(LimitsSpec {
        feeders: [FeederLimits::Enabled(CHLORINE), FeederLimits::Enabled(ACID)],
        ..SPEC
    });
    let mut bench = Bench::start(other.unwrap(), bench.copies);
    let decision = bench.tick(ask(60, 45));
    for feeder in &decision.feeders {
        assert!(feeder.vetoes.has(Rule::DayCap) && feeder.vetoes.has(Rule::HourCap));
    }
    assert!(bench.facts.inhibits == Inhibits::NONE);
}
