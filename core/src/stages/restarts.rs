//! What a restart does to a unit whose program keeps the guard's record alone.

use crate::bench::{Bench, SPEC, regulators};
use crate::guard::{Action, Authority, Stage};
use crate::stages::{Evidence, Rung, StageSettings};
use crate::{Act, ActResult, CareSettings};

/// In full health after a restart; `set` says what the program sets before the first tick.
fn restarted(before: &Bench, set: impl Fn(&mut Bench)) -> Bench {
    let mut bench = Bench::untold(SPEC, regulators(), before.copies.clone());
    set(&mut bench);
    bench.water(7600, 650);
    bench
}

fn feeds(bench: &mut Bench, secs: u32) -> bool {
    let mut fed = false;
    for _ in 0..secs {
        let shown = bench.tick();
        fed |= shown.feeds(0) || shown.feeds(1);
    }
    fed
}

/// The stage that a technician set is in the guard's record, and observing is not: a reset must not end it.
#[test]
fn a_unit_that_observed_does_so_after_a_reset_whatever_its_program_kept() {
    let mut new = Bench::untold(SPEC, regulators(), [None, None]);
    new.water(7600, 650);
    let begun = new.act(Act::Guard(Action::Initialise));
    assert_eq!(begun.act, Some(ActResult::Done));
    assert!(!feeds(&mut new, 3600));
    assert!(new.copies[0].is_some(), "a record was kept");

    let mut again = restarted(&new, |_| {});
    assert_eq!(again.controller.rung(), Rung::ObserveOnly);
    assert!(!feeds(&mut again, 7200));
    let usual = CareSettings::USUAL;
    let mut told = restarted(&new, |bench| bench.controller.set_care(usual));
    assert!(!feeds(&mut told, 7200));
}

/// A program that keeps how far the unit was goes on from there.
#[test]
fn a_unit_that_fed_goes_on_once_what_was_kept_is_put_back() {
    let mut before = Bench::usual();
    assert_eq!(before.controller.rung(), Rung::Full);
    before.run(60);
    let kept = *before.controller.restraints();
    let usual = CareSettings {
        stages: crate::guard::units::Fitted::Fitted(StageSettings::USUAL),
        ..CareSettings::NONE
    };
    // Whichever of the two is said first.
    let mut first = restarted(&before, |bench| {
        bench.controller.set_restraints(kept);
        bench.controller.set_care(usual);
    });
    let mut last = restarted(&before, |bench| {
        bench.controller.set_care(usual);
        bench.controller.set_restraints(kept);
    });
    for bench in [&mut first, &mut last] {
        assert_eq!(bench.controller.rung(), Rung::Full);
        assert!(feeds(bench, 7200));
    }
    let not_kept = restarted(&before, |bench| bench.controller.set_care(usual));
    assert_eq!(not_kept.controller.evidence(), &Evidence::OBSERVING);
}

/// Where stages need no evidence, nobody has to put anything back: the guard's record holds the stage.
#[test]
fn a_unit_without_evidence_feeds_after_a_reset_and_a_person_may_still_let_it_observe() {
    let before = Bench::usual();
    let mut again = restarted(&before, |bench| {
        bench.controller.set_care(CareSettings::NONE)
    });
    assert_eq!(again.controller.rung(), Rung::Full);
    assert!(feeds(&mut again, 7200));
    again.act_as(
        Authority::Technician,
        Act::Guard(Action::SetStage(Stage::Reduced)),
    );
    assert_eq!(again.controller.rung(), Rung::Reduced);
    // Told of none again, observing that was put back stands.
    let mut observed = *again.controller.restraints();
    observed.evidence = Evidence::OBSERVING;
    let mut kept = restarted(&before, |bench| {
        bench.controller.set_restraints(observed);
        bench.controller.set_care(CareSettings::NONE);
    });
    assert_eq!(kept.controller.rung(), Rung::ObserveOnly);
    assert!(!feeds(&mut kept, 3600));
}
