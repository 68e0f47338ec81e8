//! Persons, hours, manual feed and fallback.

use super::bench::ask;
use super::{ACID_FEEDER, CHLORINE_FEEDER, feeding_acid, feeding_chlorine, limits, ready, refused};
use dosewarden_guard::units::{Dose, Millis, MinuteOfDay};
use dosewarden_guard::{
    Action, ActionResult, Authority, FeedRequest, Fitted, Health, Hours, Inhibits, Lockout, Mode,
    Reading, Requests, Rule, Stage, authority_for,
};

fn manual(ml: u32) -> Requests<2> {
    let request = FeedRequest {
        dose: Dose::from_ml(ml),
        mode: Mode::Manual,
    };
    [request, FeedRequest::NONE]
}

fn fallback(ml: u32) -> Requests<2> {
    let request = FeedRequest {
        dose: Dose::from_ml(ml),
        mode: Mode::Fallback,
    };
    [FeedRequest::NONE, request]
}

#[test]
fn power_on_delay() {
    let mut bench = feeding_acid(limits(|_| {}));
    let result = bench.act(Action::NewProbe);
    assert_eq!(result.action, Some(ActionResult::Done));
    for _ in 1..300 {
        let decision = bench.tick(ask(45, 0));
        let vetoes = decision.feeders[0].vetoes;
        let companions = if vetoes.has(Rule::SpreadHold) {
            [Rule::ChargeDurable, Rule::SpreadHold].as_slice()
        } else {
            [Rule::ChargeDurable].as_slice()
        };
        refused(&decision, ACID_FEEDER, Rule::PowerOnDelay, companions);
    }
}

#[test]
fn inhibits_clear() {
    for bit in 1..8 {
        let mut bench = feeding_acid(limits(|_| {}));
        bench.facts.inhibits = Inhibits::from_bits(1 << bit);
        let decision = bench.tick(ask(45, 0));
        refused(&decision, ACID_FEEDER, Rule::InhibitsClear, &[]);
        bench.facts.inhibits = Inhibits::NONE;
        assert!(bench.tick(ask(45, 0)).feeders[0].run.0 > 0, "a hold: {bit}");
    }
    let mut bench = feeding_acid(limits(|_| {}));
    bench.facts.inhibits = Inhibits::EMERGENCY_STOP;
    let decision = bench.tick(ask(45, 0));
    refused(&decision, ACID_FEEDER, Rule::InhibitsClear, &[]);
    assert!(
        bench
            .guard
            .state()
            .site_lockouts
            .has(Lockout::EmergencyStop)
    );
}

#[test]
fn no_lockout() {
    let mut bench = feeding_acid(limits(|_| {}));
    bench.facts.inhibits = Inhibits::EMERGENCY_STOP;
    bench.tick(ask(45, 0));
    bench.facts.inhibits = Inhibits::NONE;
    let decision = bench.tick(ask(45, 0));
    refused(&decision, ACID_FEEDER, Rule::NoLockout, &[]);
    bench.idle(700);
    let decision = bench.tick(ask(45, 0));
    refused(
        &decision,
        ACID_FEEDER,
        Rule::NoLockout,
        &[Rule::ChargeDurable],
    );
}

#[test]
fn window_open() {
    let hours = limits(|spec| {
        spec.hours = Fitted::Fitted(Hours {
            open: MinuteOfDay(480),
            close: MinuteOfDay(1200),
        });
    });
    let mut bench = super::Bench::start(hours, [None, None]);
    bench.facts.minute = Reading::now(MinuteOfDay(1199));
    bench.act(Action::Initialise);
    bench.idle(700);
    bench.until(ask(45, 0), 5, |decision| decision.feeders[0].run.0 > 0);
    for minute in [1200, 479, 1440] {
        bench.facts.minute = Reading::now(MinuteOfDay(minute));
        let decision = bench.tick(ask(45, 0));
        refused(&decision, ACID_FEEDER, Rule::WindowOpen, &[]);
    }
    bench.facts.minute = Reading::unknown(MinuteOfDay(600));
    let decision = bench.tick(ask(45, 0));
    refused(&decision, ACID_FEEDER, Rule::WindowOpen, &[]);
    bench.facts.minute = Reading::now(MinuteOfDay(480));
    assert!(bench.tick(ask(45, 0)).feeders[0].run.0 > 0);
}

#[test]
fn manual_bounded() {
    let mut bench = ready(limits(|_| {}));
    let decision = bench.tick(manual(45));
    let companions = [Rule::ChargeDurable];
    refused(&decision, ACID_FEEDER, Rule::ManualBounded, &companions);
    bench.facts.feeders[0].hold_to_run = Reading::now(true);
    bench.facts.ph.health = Health::Failure;
    bench.until(manual(45), 5, |decision| decision.feeders[0].run.0 > 0);
    let ran = bench.until(manual(45), 40, |decision| decision.feeders[0].run.0 == 0);
    assert!(ran <= 20, "{ran} s");
    let decision = *bench.guard.decision();
    refused(&decision, ACID_FEEDER, Rule::ManualBounded, &[]);
    bench.idle(3);
    let fed = bench.guard.state().ledger.totals(0, 0).1;
    assert!(
        fed <= Dose(11_000),
        "20 s at 33 mL/min, the drive's off delay in it: {fed:?}"
    );
}

#[test]
fn manual_bounded_by_the_button() {
    let mut bench = ready(limits(|_| {}));
    bench.facts.feeders[0].hold_to_run = Reading::now(true);
    bench.until(manual(45), 5, |decision| decision.feeders[0].run.0 > 0);
    bench.facts.feeders[0].hold_to_run = Reading::now(false);
    let decision = bench.tick(manual(45));
    refused(&decision, ACID_FEEDER, Rule::ManualBounded, &[]);
}

#[test]
fn fallback_bounded() {
    let mut bench = feeding_chlorine(limits(|_| {}));
    let enter = Action::EnterFallback {
        test_age: Millis::from_mins(5),
    };
    let result = bench.act(enter).action;
    assert_eq!(result, Some(ActionResult::FallbackNotNeeded));
    bench.facts.orp.health = Health::Failure;
    bench.idle(320);
    let decision = bench.tick(fallback(20));
    let companions = [Rule::ChargeDurable];
    refused(
        &decision,
        CHLORINE_FEEDER,
        Rule::FallbackBounded,
        &companions,
    );
    let old = Action::EnterFallback {
        test_age: Millis::from_mins(61),
    };
    assert_eq!(bench.act(old).action, Some(ActionResult::TestTooOld));
    assert_eq!(bench.act(enter).action, Some(ActionResult::Done));
    bench.until(fallback(20), 5, |decision| decision.feeders[1].run.0 > 0);
    let result = bench.act(Action::LeaveFallback).action;
    assert_eq!(result, Some(ActionResult::Done));
    bench.idle(400);
    assert_eq!(bench.act(enter).action, Some(ActionResult::Done));
    bench.until(fallback(20), 5, |decision| decision.feeders[1].run.0 > 0);
    let leave = super::bench_person(Action::LeaveFallback);
    let decision = bench.tick_with(1000, fallback(20), Some(leave));
    refused(&decision, CHLORINE_FEEDER, Rule::FallbackBounded, &[]);
}

#[test]
fn ledger_trusted() {
    let mut bench = super::Bench::start(limits(|_| {}), [None, None]);
    bench.idle(700);
    let decision = bench.tick(ask(45, 0));
    // Nobody knows what was fed: the day counts as used, and a person is needed.
    let companions = [
        Rule::NoLockout,
        Rule::HourCap,
        Rule::DayCap,
        Rule::ChargeDurable,
    ];
    refused(&decision, ACID_FEEDER, Rule::LedgerTrusted, &companions);
}

#[test]
fn what_each_action_asks_of_whom() {
    // The operator sees that a cause outside the unit is gone; what may be inside it needs a technician.
    for lockout in Lockout::ALL {
        let by = match lockout {
            Lockout::Witnesses | Lockout::EmergencyStop | Lockout::PowerLoss | Lockout::Line => {
                Authority::Operator
            }
            Lockout::StateSeal
            | Lockout::LimitsSeal
            | Lockout::RecordLost
            | Lockout::Probe
            | Lockout::RunTime
            | Lockout::Response
            | Lockout::Drive => Authority::Technician,
        };
        let release = Action::Release {
            lockout,
            feeder: ACID_FEEDER,
            pool_empty: true,
            remedy: None,
        };
        assert_eq!(authority_for(&release), by, "{lockout:?}");
    }
    let test_age = Millis(0);
    for action in [
        Action::EnterFallback { test_age },
        Action::LeaveFallback,
        Action::NewProbe,
    ] {
        assert_eq!(authority_for(&action), Authority::Operator, "{action:?}");
    }
    for action in [
        Action::Initialise,
        Action::SetStage(Stage::Reduced),
        Action::SetStage(Stage::Full),
    ] {
        assert_eq!(authority_for(&action), Authority::Technician, "{action:?}");
    }
}
