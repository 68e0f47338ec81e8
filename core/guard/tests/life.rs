//! The life of a guard: first start, a cycle, its hold, power cuts, lost records.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::arithmetic_side_effects,
    reason = "a test that panics has failed, as it should"
)]

mod bench;

use bench::site::{ACID, LIMITS};
use bench::{Bench, ask};
use dosewarden_guard::units::{Dose, Millis};
use dosewarden_guard::{Action, ActionResult, CycleStage, Lockout, Restored, Rule};

#[test]
fn a_new_unit_waits_for_a_person_and_then_feeds() {
    let mut bench = Bench::start(LIMITS, [None, None]);
    assert_eq!(bench.found, Restored::Lost);
    for _ in 0..700 {
        let decision = bench.tick(ask(45, 0));
        assert!(decision.feeders[0].vetoes.has(Rule::LedgerTrusted));
        assert_eq!(decision.feeders[0].run, Millis(0));
    }
    assert_eq!(
        bench.act(Action::Initialise).action,
        Some(ActionResult::Done)
    );
    bench.until(ask(45, 0), 700, |decision| decision.feeders[0].run.0 > 0);
}

#[test]
fn a_cycle_is_charged_confirmed_run_booked_and_held() {
    let mut bench = Bench::ready();
    let charged = bench.tick(ask(45, 0));
    assert_eq!(charged.feeders[0].stage, CycleStage::Pending);
    assert!(charged.save && charged.feeders[0].vetoes.is_only(Rule::ChargeDurable));
    let first = bench.tick(ask(45, 0));
    assert!(
        first.master && first.feeders[0].run == Millis(2000),
        "{first:#?}"
    );
    let mut on_ms = 0;
    let mut closed = None;
    for _ in 0..200 {
        let decision = bench.tick(ask(45, 0));
        on_ms += 1000;
        if let Some(end) = decision.feeders[0].closed {
            closed = Some(end);
            break;
        }
    }
    let closed = closed.expect("it closes");
    assert!(closed.full && closed.fed <= Dose::from_ml(45), "{closed:?}");
    assert!(
        closed.fed > Dose::from_ml(40),
        "what is kept back is a tick and the off delay"
    );
    let most = ACID.rate_for_caps().run_floor(Dose::from_ml(45));
    assert!(on_ms <= most.0 + 2000, "{on_ms} ms of {most:?}");
    let held = bench.tick(ask(45, 0));
    assert!(held.feeders[0].vetoes.has(Rule::SpreadHold));
    let ticks = bench.until(ask(45, 0), 700, |decision| decision.feeders[0].run.0 > 0);
    assert!(
        ticks >= 600,
        "the hold is 10 min of flowing time: {ticks} s"
    );
}

#[test]
fn without_a_store_nothing_runs_and_somebody_is_told() {
    let mut bench = Bench::ready();
    bench.saves = false;
    for second in 0..30 {
        let decision = bench.tick(ask(45, 0));
        assert_eq!(decision.feeders[0].run, Millis(0));
        let overdue = decision
            .notices
            .any_of(dosewarden_guard::Notices::SAVE_OVERDUE);
        assert_eq!(overdue, second > 5, "after {second} s");
    }
}

#[test]
fn after_a_power_cut_the_whole_charge_counts_as_fed() {
    let mut bench = Bench::ready();
    bench.until(ask(45, 0), 5, |decision| decision.feeders[0].run.0 > 0);
    bench.tick(ask(45, 0));
    let mut bench = bench.power_cycled();
    assert_eq!(
        bench.found,
        Restored::Equal {
            open_cycles: 1,
            limits_changed: false
        }
    );
    assert_eq!(bench.guard.state().ledger.totals(0, 0).1, Dose::from_ml(45));
    let decision = bench.tick(ask(45, 0));
    for rule in [
        Rule::SpreadHold,
        Rule::LineClear,
        Rule::PowerOnDelay,
        Rule::FlowProven,
    ] {
        assert!(decision.feeders[0].vetoes.has(rule), "{rule:?}");
    }
    let ticks = bench.until(ask(45, 0), 700, |decision| decision.feeders[0].run.0 > 0);
    assert!(ticks >= 600);
}

#[test]
fn a_withdrawn_request_gives_back_what_was_not_fed() {
    let mut bench = Bench::ready();
    bench.until(ask(45, 0), 5, |decision| decision.feeders[0].run.0 > 0);
    for _ in 0..9 {
        bench.tick(ask(45, 0));
    }
    bench.idle(3);
    let (hour, day) = bench.guard.state().ledger.totals(0, 0);
    // 10 s at 33 mL/min (30 and its tolerance), and 200 ms for the drive to go off.
    assert_eq!((hour, day), (Dose(5610), Dose(5610)));
}

#[test]
fn flow_lost_stops_the_feed_in_that_tick_and_owes_a_purge() {
    let mut bench = Bench::ready();
    bench.until(ask(45, 0), 5, |decision| decision.feeders[0].run.0 > 0);
    bench.facts.flow_switch.value = false;
    let decision = bench.tick(ask(45, 0));
    assert!(!decision.master && decision.feeders[0].run == Millis(0));
    let decision = bench.tick(ask(45, 0));
    assert!(decision.feeders[0].vetoes.has(Rule::LineClear));
    assert!(
        bench.guard.state().site_lockouts.is_empty(),
        "one tick's worth is no lockout"
    );
    bench.facts.flow_switch.value = true;
    bench.until(ask(45, 0), 200, |decision| {
        !decision.feeders[0].vetoes.has(Rule::LineClear)
    });
}

#[test]
fn acid_goes_first_and_chlorine_waits_for_the_purge() {
    let mut bench = Bench::ready();
    let decision = bench.until(ask(45, 60), 5, |decision| decision.feeders[0].run.0 > 0);
    assert!(decision <= 3);
    bench.until(ask(45, 60), 200, |decision| {
        decision.feeders[0].closed.is_some()
    });
    let ticks = bench.until(ask(0, 60), 200, |decision| decision.feeders[1].run.0 > 0);
    assert!((45..=50).contains(&ticks), "{ticks} s");
}

#[test]
fn a_lockout_outlives_the_power_until_a_person_comes() {
    let mut bench = Bench::ready();
    bench.facts.pump_run.value = false;
    for _ in 0..32 {
        bench.tick(ask(0, 0));
    }
    assert!(bench.guard.state().site_lockouts.has(Lockout::Witnesses));
    let mut bench = bench.power_cycled();
    assert!(bench.guard.state().site_lockouts.has(Lockout::Witnesses));
    let release = Action::Release {
        lockout: Lockout::Witnesses,
        feeder: 0,
        pool_empty: true,
        remedy: None,
    };
    bench.facts.pump_run.value = false;
    assert_eq!(bench.act(release).action, Some(ActionResult::CauseStands));
    bench.facts.pump_run.value = true;
    assert_eq!(bench.act(release).action, Some(ActionResult::Done));
    bench.until(ask(45, 0), 700, |decision| decision.feeders[0].run.0 > 0);
}
