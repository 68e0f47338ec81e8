//! A feeder that the water does not answer is tried on, but only while chlorine may be fed: what is in its
//! drum may be hypochlorite, too weak beside the acid of the settings to show by pH.

use super::*;
use crate::Obstacle;
use crate::guard::{BodyLimits, Clear, Reading};
use crate::look::Look;

impl Pool {
    fn waits(&self) -> Option<Obstacle> {
        let mut why = self.bench.controller.why(0).expect("a feeder");
        why.find(|one| *one == Obstacle::Unanswered)
    }

    /// Cycles that begin in so many minutes.
    fn cycles_in(&mut self, mins: u32) -> u32 {
        let before = self.cycles;
        self.run(mins);
        self.cycles - before
    }
}

/// Named, with no chlorine wanted.
fn unanswered() -> Pool {
    let mut pool = Pool::new(0.0);
    pool.until_judged(3);
    assert_eq!(pool.found().verdict(), Verdict::NoAnswer);
    pool.run(2);
    pool
}

#[test]
fn what_water_does_not_answer_waits_while_no_chlorine_is_wanted() {
    let mut pool = unanswered();
    assert_eq!(pool.cycles_in(3 * 60), 0);
    let waits = pool.waits().expect("it is held");
    assert_eq!(
        (waits.name(), waits.clears()),
        ("unanswered", Clear::WaterInside)
    );
    assert_eq!(waits.look_at().first(), Some(&Look::Drum));
    let alarm = AlarmId::Feeder(0, FeederAlarm::RateWrong);
    assert!(pool.bench.alarm(alarm).is_active(), "a person is asked for");
}

#[test]
fn water_that_does_not_answer_is_tried_on_while_chlorine_is_wanted() {
    // An empty drum may be filled, and nobody enters it.
    let mut pool = unanswered();
    pool.orp = 650;
    assert!(pool.cycles_in(60) > 0);
    pool.ratio = 1.0;
    for _ in 0..8 * 60 {
        pool.run(1);
        if pool.found().verdict() == Verdict::AsConfigured {
            break;
        }
    }
    assert_eq!(pool.found().verdict(), Verdict::AsConfigured);
    pool.orp = 720;
    pool.run(2);
    assert_eq!(
        pool.waits(),
        None,
        "it answers: no chlorine has to be wanted"
    );
    assert!(pool.cycles_in(60) > 0);
}

#[test]
fn nor_is_it_tried_where_the_cut_off_refuses_the_chlorine_that_is_asked_for() {
    // At pH 9 the cut-off of 780 mV has fallen to 690.
    let mut pool = unanswered();
    pool.ph = 9000.0;
    pool.orp = 705;
    pool.run(2);
    assert!(pool.bench.controller.wanted(1).stands());
    assert!(pool.waits().is_some());
    pool.orp = 650;
    pool.run(2);
    assert_eq!(pool.waits(), None);
}

#[test]
fn without_orp_nothing_shows_what_the_water_has_and_it_is_tried_on() {
    let mut pool = unanswered();
    let body = BodyLimits {
        fallback: Fitted::NotFitted,
        ..CHLORINE.bodies[0]
    };
    let spec = FeederSpec {
        governor: Governor::TimedShare,
        bodies: [body],
        ..CHLORINE
    };
    let limits = LimitsSpec {
        fallback: Fitted::NotFitted,
        feeders: [FeederLimits::Enabled(ACID), FeederLimits::Enabled(spec)],
        ..SPEC
    };
    let found = pool.found();
    let limits = Limits::try_new(limits).unwrap();
    assert_eq!(pool.bench.controller.set_limits(limits), SetLimits::Applied);
    assert!(pool.bench.controller.set_response(0, found));
    assert!(pool.cycles_in(60) > 0);
}

#[test]
fn a_cycle_that_stands_is_given() {
    let mut pool = unanswered();
    pool.orp = 650;
    for _ in 0..3600 {
        if pool.tick().feeds(0) {
            break;
        }
    }
    pool.orp = 720;
    pool.tick();
    assert_eq!(pool.waits(), None);
    assert!(pool.tick().feeds(0));
    pool.until_closed();
    pool.run(1);
    assert!(pool.waits().is_some());
}

#[test]
fn a_person_who_holds_the_button_feeds_it() {
    let mut pool = unanswered();
    // Past the hold of its last cycle, and its hour.
    pool.run(60);
    pool.bench.act(by_hand(0, 8));
    pool.bench.inputs.facts.feeders[0].hold_to_run = Reading::now(true);
    assert_eq!(pool.cycles_in(1), 1);
}

#[test]
fn after_a_refill_it_waits_only_while_the_water_is_past_the_cut_off_of_chlorine() {
    let mut pool = unanswered();
    let amount = Dose::from_ml(500);
    let level = Act::ReadLevel {
        feeder: 0,
        level: amount,
    };
    pool.bench.act(level);
    pool.bench.act(Act::Refill { feeder: 0, amount });
    assert_eq!(pool.found().verdict(), Verdict::Unproven);
    pool.orp = 790;
    pool.run(2);
    let alarm = AlarmId::Feeder(0, FeederAlarm::RateWrong);
    assert!(!pool.bench.alarm(alarm).is_active(), "nothing is named yet");
    assert!(pool.waits().is_some());
    assert_eq!(pool.cycles_in(60), 0);
    // Whoever has put it right does not wait for the chlorine to be used.
    pool.orp = 740;
    pool.ratio = 1.0;
    pool.until_judged(4);
    assert_eq!(pool.found().verdict(), Verdict::AsConfigured);
    pool.orp = 790;
    pool.run(2);
    assert_eq!(pool.waits(), None);
}
