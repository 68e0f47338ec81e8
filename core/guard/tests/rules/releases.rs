//! What a release asks for: its cause gone, and what the person has to say.

use super::bench::{Bench, R, ask};
use super::{ACID_FEEDER, bench_person, feeding_acid, limits, ready};
use dosewarden_guard::units::MilliPh;
use dosewarden_guard::{Action, ActionResult, LedgerTrust, Lockout, Remedy, Rule};

fn release(lockout: Lockout, pool_empty: bool, remedy: Option<Remedy>) -> Action {
    Action::Release {
        lockout,
        feeder: ACID_FEEDER,
        pool_empty,
        remedy,
    }
}

#[test]
fn a_line_is_released_only_with_the_pool_empty() {
    let mut bench = feeding_acid(limits(|_| {}));
    bench.facts.flow_switch.value = false;
    // A stall of ten seconds under the permit: more than a tick and the drive's off delay.
    bench.tick_with(10_000, ask(45, 0), None);
    bench.tick(ask(45, 0));
    assert!(bench.guard.state().site_lockouts.has(Lockout::Line));
    let said = |bench: &mut Bench, pool_empty| {
        let result = bench.act(release(Lockout::Line, pool_empty, None)).action;
        result.expect("a person acted")
    };
    assert_eq!(said(&mut bench, true), ActionResult::CauseStands);
    bench.facts.flow_switch.value = true;
    bench.idle(60);
    assert_eq!(said(&mut bench, false), ActionResult::SayPoolEmpty);
    let decision = bench.tick(ask(45, 0));
    assert!(decision.feeders[0].vetoes.has(Rule::NoLockout));
    assert_eq!(said(&mut bench, true), ActionResult::Done);
    assert_eq!(said(&mut bench, true), ActionResult::NothingToRelease);
}

#[test]
fn an_answer_is_released_only_with_what_was_done_about_it() {
    let mut bench = feeding_acid(limits(|_| {}));
    bench.until(ask(45, 0), 200, |now| now.feeders[0].closed.is_some());
    bench.facts.ph.value = MilliPh(7751); // 0.151 up, by acid
    bench.idle(601);
    let silent = bench.act(release(Lockout::Response, true, None)).action;
    assert_eq!(silent, Some(ActionResult::SayRemedy));
    assert!(bench.guard.state().feeder_lockouts[ACID_FEEDER].has(Lockout::Response));
    let told = release(Lockout::Response, false, Some(Remedy::Probe));
    assert_eq!(bench.act(told).action, Some(ActionResult::Done));
    assert!(bench.guard.state().response[ACID_FEEDER].quarter);
}

#[test]
fn a_lost_record_is_released_a_day_later_and_not_a_tick_before() {
    let mut bench = Bench::start(limits(|_| {}), [None, None]);
    let lost = release(Lockout::RecordLost, false, None);
    for _ in 1..43_200 {
        bench.tick_with(2000, ask(45, 0), None);
    }
    let technician = Some(bench_person(lost));
    let early = bench.tick_with(1999, ask(45, 0), technician).action;
    assert_eq!(early, Some(ActionResult::CauseStands));
    let now = bench.tick_with(1, ask(45, 0), technician).action;
    assert_eq!(now, Some(ActionResult::Done));
    assert_eq!(bench.guard.state().trust, LedgerTrust::Trusted);
    // What is counted stays: the day that was filled then has passed by itself.
    let again = bench.act(Action::Initialise).action;
    assert_eq!(again, Some(ActionResult::NotLost));
    bench.idle(8000);
    bench.until(ask(45, 0), 700, |now| now.feeders[0].run.0 > 0);
}

#[test]
fn a_record_that_is_trusted_and_locked_by_its_loss_is_released_at_once() {
    // The guard writes none such; a store that mixes two records may.
    let bench = ready(limits(|_| {}));
    let bytes = bench.copies[0].as_deref().expect("it was saved");
    let mut record = R::decode(bytes).expect("whole");
    record.state.site_lockouts = record.state.site_lockouts.with(Lockout::RecordLost);
    let mut mixed = vec![0; R::LEN];
    record.encode(&mut mixed).expect("it has room");
    let mut bench = Bench::start(limits(|_| {}), [Some(mixed.clone()), Some(mixed)]);
    let decision = bench.tick(ask(45, 0));
    assert!(decision.feeders[0].vetoes.has(Rule::NoLockout));
    let lost = release(Lockout::RecordLost, false, None);
    assert_eq!(bench.act(lost).action, Some(ActionResult::Done));
}
