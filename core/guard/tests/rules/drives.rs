//! Drives, drums and the clock.

use super::bench::ask;
use super::{
    ACID_FEEDER, CHLORINE_FEEDER, acid_limits, feeding_acid, feeding_chlorine, limits, refused,
};
use dosewarden_guard::units::Millis;
use dosewarden_guard::{
    Action, ActionResult, Authority, Clear, Fitted, Lockout, PersonAction, Reading, Rule,
};

#[test]
fn clock_sane() {
    for gap in [0, 2001] {
        let mut bench = feeding_acid(limits(|_| {}));
        let decision = bench.tick_with(gap, ask(45, 0), None);
        // Proving begins anew.
        let companions = [Rule::FlowProven, Rule::ProbeSettled];
        refused(&decision, ACID_FEEDER, Rule::ClockSane, &companions);
        assert_eq!(decision.feeders[0].clears(Rule::ClockSane), Clear::NextTick);
    }
}

/// How long a dose was interrupted nobody knows where a counter stood or a program hung: its rest has to wait for the
/// whole hold, though the limits would let one resume that was cut for 2 min.
#[test]
fn clock_sane_ends_the_dose() {
    for gap in [0, 2001] {
        let mut bench = feeding_acid(limits(|spec| spec.resume_within = Millis::from_mins(2)));
        for _ in 0..3 {
            bench.tick(ask(45, 0));
        }
        bench.tick_with(gap, ask(45, 0), None);
        let waited = bench.until(ask(45, 0), 700, |decision| decision.feeders[0].run.0 > 0);
        assert!((600..610).contains(&waited), "{gap}: after {waited} s");
    }
}

#[test]
fn one_at_a_time() {
    let mut bench = feeding_chlorine(limits(|_| {}));
    let decision = bench.tick(ask(45, 60));
    refused(&decision, CHLORINE_FEEDER, Rule::OneAtATime, &[]);
    let companions = [Rule::ChargeDurable];
    refused(&decision, ACID_FEEDER, Rule::OneAtATime, &companions);
    for _ in 0..45 {
        let decision = bench.tick(ask(45, 60));
        refused(&decision, ACID_FEEDER, Rule::OneAtATime, &companions);
    }
    let waited = bench.until(ask(45, 60), 5, |decision| decision.feeders[0].run.0 > 0);
    assert!(waited <= 3);
}

#[test]
fn stock_present() {
    let mut bench = feeding_acid(acid_limits(|spec| spec.level_switch = Fitted::YES));
    bench.facts.feeders[0].stock.value = false;
    let decision = bench.tick(ask(45, 0));
    refused(&decision, ACID_FEEDER, Rule::StockPresent, &[]);
    bench.facts.feeders[0].stock = Reading::unknown(true);
    let decision = bench.tick(ask(45, 0));
    refused(&decision, ACID_FEEDER, Rule::StockPresent, &[]);
}

fn with_feedback() -> super::Limits<2, 1> {
    acid_limits(|spec| {
        spec.feedback = Fitted::Fitted(Millis::from_secs(3));
        spec.drive_off = Millis(500);
    })
}

#[test]
fn drive_obeys_when_told_to_run() {
    let mut bench = feeding_acid(with_feedback());
    // Judged by what was known before the tick: the fourth silent second counts in the fifth.
    for _ in 0..4 {
        assert!(bench.tick(ask(45, 0)).feeders[0].run.0 > 0);
    }
    let decision = bench.tick(ask(45, 0));
    refused(&decision, ACID_FEEDER, Rule::DriveObeys, &[]);
    assert!(bench.guard.state().feeder_lockouts[0].has(Lockout::Drive));
}

#[test]
fn drive_obeys_until_a_release_is_granted() {
    let mut bench = feeding_acid(with_feedback());
    for _ in 0..6 {
        bench.tick(ask(45, 0));
    }
    let release = PersonAction {
        by: Authority::Operator,
        action: Action::Release {
            lockout: Lockout::Drive,
            feeder: ACID_FEEDER,
            pool_empty: true,
            remedy: None,
        },
    };
    let decision = bench.tick_with(1000, ask(45, 0), Some(release));
    let needs = ActionResult::NeedsAuthority(Authority::Technician);
    assert_eq!(decision.action, Some(needs));
    let companions = [Rule::NoLockout, Rule::SpreadHold, Rule::ChargeDurable];
    refused(&decision, ACID_FEEDER, Rule::DriveObeys, &companions);
}

#[test]
fn drive_obeys_with_feedback_unknown() {
    let mut bench = feeding_acid(with_feedback());
    bench.facts.feeders[0].feedback = Reading::unknown(Millis(1000));
    let decision = bench.tick(ask(45, 0));
    refused(&decision, ACID_FEEDER, Rule::DriveObeys, &[]);
    let clears = decision.feeders[0].clears(Rule::DriveObeys);
    assert_eq!(clears, Clear::FeedbackKnown);
}

#[test]
fn drive_obeys_when_told_to_stop() {
    let mut bench = feeding_acid(with_feedback());
    bench.facts.feeders[0].feedback = Reading::now(Millis(1000));
    bench.tick(ask(45, 0));
    // Withdrawn; the time until now was commanded, from here on it is not.
    bench.tick(ask(0, 0));
    let decision = bench.tick(ask(0, 0));
    let row = &decision.feeders[0];
    assert!(row.vetoes.has(Rule::DriveObeys) && !decision.master);
    assert!(bench.guard.state().feeder_lockouts[0].has(Lockout::Drive));
    // Whoever else is refused by it is told so.
    let other = &decision.feeders[1];
    assert!(!other.vetoes.is_empty() && other.run.0 == 0);
}

#[test]
fn feedback_that_cannot_be_read_while_a_cycle_closes_gives_nothing_back() {
    for known in [true, false] {
        let mut bench = feeding_acid(with_feedback());
        bench.facts.feeders[0].feedback = Reading::now(Millis(1000));
        bench.tick(ask(45, 0));
        let off = Reading::now(Millis(0));
        bench.facts.feeders[0].feedback = if known {
            off
        } else {
            Reading::unknown(Millis(0))
        };
        // Withdrawn: it closes once the drive is known to be off, or has had the time twice over.
        let ticks = bench.until(ask(0, 0), 10, |now| now.feeders[0].closed.is_some());
        let closed = bench.guard.decision().feeders[0].closed.expect("it closed");
        assert_eq!(closed.fed < closed.charged, known, "{closed:?}");
        assert_eq!(ticks > 2, !known, "{ticks} s");
    }
}
