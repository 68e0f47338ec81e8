//! What a person is told, at both sides of each bound, and what may be charged.

use super::*;
use crate::clock::TickClock;
use crate::reading::Reading;
use crate::test_site::{LIMITS, SPEC};
use crate::units::{Fitted, MilliPh};

type Small = State<2, 1, 7, 25>;

fn seen(facts: &Facts<2>) -> Seen<2> {
    let mut clock = TickClock::new();
    clock.step(0);
    Seen::of(&LIMITS, clock.step(1000), facts)
}

/// What is told of a state, with nothing known.
fn told(change: impl FnOnce(&mut Small)) -> Notices {
    let mut state = Small::POWER_ON;
    change(&mut state);
    standing_notices(&LIMITS, &state, &seen(&Facts::UNKNOWN))
}

#[test]
fn a_save_is_overdue_after_its_time() {
    assert_eq!(told(|state| state.save_age = SPEC.save_max), Notices::NONE);
    let late = told(|state| state.save_age.0 = SPEC.save_max.0 + 1);
    assert_eq!(late, Notices::SAVE_OVERDUE);
}

#[test]
fn water_that_does_not_answer_is_told_from_the_count_on_at_which_feed_is_held() {
    let counted = |count| told(|state| state.response[1].unanswered = count);
    let most = SPEC.response.unanswered_max;
    assert_eq!(counted(most - 1), Notices::NONE);
    assert_eq!(counted(most), Notices::NO_ANSWER);
}

#[test]
fn the_end_of_fallback_is_told_while_so_much_of_it_is_left() {
    let Fitted::Fitted(fallback) = SPEC.fallback else {
        panic!("the site has it");
    };
    let left = |left| told(|state| state.fallback_left = Millis(left));
    let warn = fallback.warn_before.0;
    assert_eq!(left(warn + 1), Notices::NONE);
    assert_eq!(left(warn), Notices::FALLBACK_ENDS);
    assert_eq!(left(1), Notices::FALLBACK_ENDS);
    assert_eq!(left(0), Notices::NONE, "it is over, or never was");
}

#[test]
fn chlorine_is_weak_above_its_ph() {
    let told = |ph| {
        let facts = Facts {
            ph: Reading::now(MilliPh(ph)),
            ..Facts::UNKNOWN
        };
        let (mut state, mut decision) = (Small::POWER_ON, Decision::NOTHING);
        finish(&LIMITS, &mut state, &seen(&facts), &mut decision, false);
        decision.notices
    };
    // The site's chlorine is weak above pH 7.9.
    assert_eq!(told(7900), Notices::NONE);
    assert_eq!(told(7901), Notices::WEAK_CHLORINE);
}

#[test]
fn what_may_be_charged_is_what_the_other_rules_allow() {
    let (facts, requests) = (Facts::UNKNOWN, [FeedRequest::NONE; 2]);
    let mut clock = TickClock::new();
    let input = Input {
        elapsed: clock.step(0),
        facts: &facts,
        requests: &requests,
        action: None,
        saved: false,
        state_intact: true,
        limits_intact: true,
        off_credit: Millis(0),
    };
    let (state, seen) = (Small::POWER_ON, seen(&facts));
    let context = context(&LIMITS, &state, &seen, &input, 0).unwrap();
    let mut row = FeederDecision::DISABLED;
    let mut answers = Answers::new(&mut row.clears);
    let charge = rules::judge(&context, &mut answers);
    // Nothing is known: nothing, for no time.
    assert!(charge.refuses);
    assert_eq!((charge.most_run, charge.most_dose), (Millis(0), Dose(0)));
}
