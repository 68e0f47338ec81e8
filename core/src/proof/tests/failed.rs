//! What is no sign, and what a failed test holds.

use super::*;

#[test]
fn a_sample_that_is_late_is_no_sign() {
    let mut tried = Tried::new(fitted());
    tried.ready(Interlock::FlowSwitch);
    tried.bench.inputs.facts.flow_switch.age = Millis(60_000);
    assert_eq!(tried.run(30), None);
    assert_eq!(
        tried.step(),
        Some(ProofStep::Trip),
        "nobody has done anything"
    );
    tried.act(ProofAct::Done).expect("it is waited for");
    let end = tried.run(120).map(|(_, end)| end);
    assert_eq!(end, Some(ProofEnd::NoSign));
}

#[test]
fn one_that_failed_holds_feed_unless_its_test_needs_feed() {
    let mut tried = Tried::new(fitted());
    let told = |tried: &Tried| {
        let mut care = crate::Care::UNKNOWN;
        let limits = tried.bench.controller.guard().limits();
        tried.tests.tell(&SETTINGS, limits, &mut care);
        care
    };
    let one = Interlock::Feedback(0);
    tried.ready(one);
    tried.act(ProofAct::Done).expect("it is waited for");
    let end = tried.run(600).map(|(_, end)| end);
    assert_eq!(end, Some(ProofEnd::NoSign));
    assert!(
        !told(&tried).interlock_failed,
        "it could never be tested again"
    );
    assert!(told(&tried).unproven.is_some_and(|set| set.has(one)));
    tried.ready(Interlock::PumpContact);
    tried.act(ProofAct::Done).expect("it is waited for");
    let end = tried.run(120).map(|(_, end)| end);
    assert_eq!(end, Some(ProofEnd::NoSign));
    assert!(told(&tried).interlock_failed);
}

#[test]
fn a_meter_that_says_nothing_is_no_sign_and_each_step_says_what_to_do() {
    let mut tried = Tried::new(fitted());
    let words = |tried: &Tried| tried.tests.run().map(ProofRun::words);
    tried.bench.inputs.facts.flow_meter = Reading::unknown(FlowMlPerS(3000));
    let one = Interlock::FlowMeter;
    tried.act(ProofAct::Start(one)).expect("it starts");
    assert_eq!(tried.run(30), None);
    assert_eq!(tried.step(), Some(ProofStep::Prepare), "is there flow?");
    assert_eq!(words(&tried), Some(one.prepare()));
    tried.bench.inputs.facts.flow_meter = Reading::now(FlowMlPerS(3000));
    assert_eq!(tried.run(100), None);
    assert_eq!(
        (tried.step(), words(&tried)),
        (Some(ProofStep::Trip), Some(one.step()))
    );
    tried.act(ProofAct::Done).expect("it is waited for");
    assert_eq!(tried.step(), Some(ProofStep::Stops));
    assert_eq!(words(&tried), Some("wait: feed has to stop"));
}

#[test]
fn a_time_that_stands_for_failed_is_told_as_the_one_before_it() {
    let longest = Proof::passed(u16::MAX);
    assert!(!longest.has_failed() && Proof::FAILED.has_failed());
    assert_eq!(Proof::NEVER.age_hours(), None);
    assert_eq!(
        (longest.age_hours(), Proof::FAILED.age_hours()),
        (Some(0), Some(0))
    );
}

#[test]
fn without_feedback_feed_has_stopped_when_no_permit_is_given() {
    let mut tried = Tried::new(SPEC);
    tried.bench.water(7600, 650);
    tried.run(5);
    tried.ready(Interlock::FlowSwitch);
    let end = tried.tripped(Interlock::FlowSwitch);
    assert!(
        matches!(end, Some(ProofEnd::Passed { fed: true, .. })),
        "{end:?}"
    );
}

#[test]
fn only_the_series_contact_is_judged_by_eye_and_a_begun_test_is_told_by_its_interlock() {
    let mut tried = Tried::new(fitted());
    tried.ready(Interlock::FlowSwitch);
    let told = tried.bench.controller.events().iter().any(|event| {
        event.kind
            == EventKind::Proof {
                by: Authority::Operator,
                interlock: Some(Interlock::FlowSwitch),
                done: true,
            }
    });
    assert!(told);
    for still in [true, false] {
        let refused = Err(ProofRefused::WaitsFor(ProofStep::Trip));
        assert_eq!(tried.act(ProofAct::StoodStill(still)), refused);
    }
    tried.act(ProofAct::GiveUp).expect("it is given up");
    tried.ready(Interlock::MasterContact);
    for _ in 0..5 {
        assert_eq!(tried.tick(), None);
        assert_eq!(tried.step(), Some(ProofStep::Trip), "it stays open");
    }
}

#[test]
fn feed_that_ran_when_it_was_tripped_is_told_also_of_who_trips_it_before_saying_so() {
    let mut tried = Tried::new(fitted());
    tried.ready(Interlock::PumpContact);
    tried.bench.water(7600, 650);
    tried.bench.until(700, |shown| shown.feeds(0));
    tried.run(3);
    tried.trip(Interlock::PumpContact, true);
    let end = tried.run(20).map(|(_, end)| end);
    assert!(
        matches!(end, Some(ProofEnd::Passed { fed: true, .. })),
        "{end:?}"
    );
}
