//! The life cycle against the standard's states.

use super::*;

use AlarmState::{
    Acknowledged, Normal, OutOfService, ReturnedUnacknowledged, Shelved, SuppressedByDesign,
    Unacknowledged,
};

const STATES: [AlarmState; 7] = [
    Normal,
    Unacknowledged,
    Acknowledged,
    ReturnedUnacknowledged,
    Shelved,
    SuppressedByDesign,
    OutOfService,
];

const MOVES: [Move; 12] = [
    Move::Comes,
    Move::Goes,
    Move::Acknowledge,
    Move::Shelve,
    Move::Unshelve(false),
    Move::Unshelve(true),
    Move::Suppress,
    Move::Unsuppress(false),
    Move::Unsuppress(true),
    Move::TakeOut,
    Move::PutBack(false),
    Move::PutBack(true),
];

/// ANSI/ISA-18.2 (IEC 62682), alarm state transitions, by the state names of OPC 10000-9: the
/// condition comes and goes, a person acknowledges.
#[test]
fn the_transitions_of_isa_18_2_for_an_alarm_in_service() {
    let standard = [
        (Normal, Move::Comes, Unacknowledged),
        (Unacknowledged, Move::Acknowledge, Acknowledged),
        (Acknowledged, Move::Goes, Normal),
        (Unacknowledged, Move::Goes, ReturnedUnacknowledged),
        (ReturnedUnacknowledged, Move::Acknowledge, Normal),
        // Re-alarm.
        (ReturnedUnacknowledged, Move::Comes, Unacknowledged),
    ];
    for (from, by, to) in standard {
        assert_eq!(next(from, by), Some(to), "{from:?} {by:?}");
    }
    // Nothing else happens by condition or acknowledgement.
    for from in STATES {
        for by in [Move::Comes, Move::Goes, Move::Acknowledge] {
            let listed = standard.iter().any(|(f, b, _)| (*f, *b) == (from, by));
            assert_eq!(next(from, by).is_some(), listed, "{from:?} {by:?}");
        }
    }
}

/// ANSI/ISA-18.2 (IEC 62682): shelved, suppressed by design and out of service are entered from the
/// states in service, and left to normal or to unacknowledged, by whether the condition stands.
#[test]
fn the_transitions_of_isa_18_2_for_an_alarm_that_is_set_aside() {
    for from in [Normal, Unacknowledged, Acknowledged, ReturnedUnacknowledged] {
        assert_eq!(next(from, Move::Shelve), Some(Shelved));
        assert_eq!(next(from, Move::Suppress), Some(SuppressedByDesign));
        assert_eq!(next(from, Move::TakeOut), Some(OutOfService));
    }
    type Back = fn(bool) -> Move;
    let backs: [(AlarmState, Back); 3] = [
        (Shelved, Move::Unshelve),
        (SuppressedByDesign, Move::Unsuppress),
        (OutOfService, Move::PutBack),
    ];
    for (from, back) in backs {
        assert_eq!(next(from, back(true)), Some(Unacknowledged));
        assert_eq!(next(from, back(false)), Some(Normal));
        // Each is left by its own move only, and shelving again does not prolong it.
        for other in backs.iter().filter(|(state, _)| *state != from) {
            assert_eq!(next(from, other.1(true)), None);
        }
        assert_eq!(next(from, Move::Shelve), None);
    }
}

#[test]
fn every_move_in_every_state_is_as_committed() {
    use std::fmt::Write;
    let mut text = std::string::String::new();
    for from in STATES {
        for by in MOVES {
            let to = next(from, by).map_or("refused".into(), |to| std::format!("{to:?}"));
            writeln!(text, "{from:?} {by:?}: {to}").unwrap();
        }
    }
    insta::assert_snapshot!(text);
}

const SLOW: Delays = Delays {
    on: Millis(3000),
    off: Millis(2000),
};

fn tick(alarm: &mut Alarm, condition: Condition) -> AlarmState {
    alarm.step(condition, false, false, SLOW, Millis(1000));
    alarm.state
}

#[test]
fn delays_count_on_both_ways_and_a_break_begins_them_anew() {
    let mut alarm = Alarm::NORMAL;
    let mut at = |condition| tick(&mut alarm, condition);
    use Condition::{Gone, Stands, Unknown};
    assert_eq!([at(Stands), at(Stands), at(Gone)], [Normal; 3]);
    assert_eq!([at(Stands), at(Stands)], [Normal; 2]);
    assert_eq!(at(Unknown), Normal, "neither delay runs");
    assert_eq!(at(Stands), Unacknowledged);
    assert_eq!([at(Gone), at(Stands), at(Gone)], [Unacknowledged; 3]);
    assert_eq!(at(Gone), ReturnedUnacknowledged);
}

#[test]
fn acknowledging_cures_nothing() {
    let mut alarm = Alarm::NORMAL;
    assert!(!alarm.acknowledge(), "there is nothing to acknowledge");
    for _ in 0..3 {
        tick(&mut alarm, Condition::Stands);
    }
    assert!(alarm.acknowledge() && !alarm.acknowledge());
    for _ in 0..100 {
        assert_eq!(tick(&mut alarm, Condition::Stands), Acknowledged);
    }
}

#[test]
fn shelving_ends_by_itself_and_the_alarm_comes_again() {
    let mut alarm = Alarm::NORMAL;
    for _ in 0..3 {
        tick(&mut alarm, Condition::Stands);
    }
    assert!(alarm.shelve(Shelving::Timed(Millis(5000))));
    for _ in 0..4 {
        assert_eq!(tick(&mut alarm, Condition::Stands), Shelved);
    }
    assert_eq!(tick(&mut alarm, Condition::Stands), Unacknowledged);
}

#[test]
fn one_shot_shelving_ends_with_the_condition_or_with_its_time() {
    let shelved = || {
        let mut alarm = Alarm::NORMAL;
        for _ in 0..3 {
            tick(&mut alarm, Condition::Stands);
        }
        assert!(alarm.shelve(Shelving::OneShot(Millis(60_000))));
        alarm
    };
    let mut alarm = shelved();
    assert_eq!(tick(&mut alarm, Condition::Gone), Shelved);
    assert_eq!(tick(&mut alarm, Condition::Gone), Normal);
    let mut alarm = shelved();
    for _ in 0..59 {
        assert_eq!(tick(&mut alarm, Condition::Stands), Shelved);
    }
    assert_eq!(tick(&mut alarm, Condition::Stands), Unacknowledged);
}

#[test]
fn timed_shelving_outlasts_the_condition() {
    let mut alarm = Alarm::NORMAL;
    for _ in 0..3 {
        tick(&mut alarm, Condition::Stands);
    }
    alarm.shelve(Shelving::Timed(Millis(60_000)));
    for _ in 0..5 {
        assert_eq!(tick(&mut alarm, Condition::Gone), Shelved);
    }
    assert!(alarm.unshelve());
    assert_eq!(alarm.state, Normal);
}

#[test]
fn suppressed_by_design_follows_the_plant() {
    let mut alarm = Alarm::NORMAL;
    let mut at = |condition, suppressed| {
        alarm.step(condition, suppressed, false, SLOW, Millis(1000));
        alarm.state
    };
    for _ in 0..5 {
        assert_eq!(at(Condition::Stands, true), SuppressedByDesign);
    }
    assert_eq!(at(Condition::Stands, false), Unacknowledged, "it stands");
    assert_eq!(at(Condition::Stands, true), SuppressedByDesign);
    at(Condition::Gone, true);
    at(Condition::Gone, true);
    assert_eq!(at(Condition::Gone, false), Normal);
}

/// OPC 10000-9, latching: a state of its own beside the others, ended by a reset, which needs the
/// condition gone and the alarm acknowledged.
#[test]
fn a_latch_stands_apart_and_ends_by_a_reset_only() {
    let mut alarm = Alarm::NORMAL;
    let step = |alarm: &mut Alarm, condition| {
        alarm.step(condition, false, true, SLOW, Millis(1000));
    };
    for _ in 0..3 {
        step(&mut alarm, Condition::Stands);
    }
    assert!(alarm.latched && !alarm.reset(), "it stands");
    alarm.acknowledge();
    assert!(!alarm.reset(), "it still stands");
    for _ in 0..2 {
        step(&mut alarm, Condition::Gone);
    }
    assert!(alarm.state == Normal && alarm.latched);
    assert!(alarm.reset() && !alarm.latched && !alarm.reset());
}

#[test]
fn out_of_service_is_left_by_a_person_only() {
    let mut alarm = Alarm::NORMAL;
    assert!(alarm.take_out() && !alarm.take_out());
    for _ in 0..10 {
        assert_eq!(tick(&mut alarm, Condition::Stands), OutOfService);
    }
    assert!(alarm.put_back());
    assert_eq!(alarm.state, Unacknowledged);
}

#[test]
fn only_what_counts_and_latches_stays_listed() {
    let at_once = Delays {
        on: Millis(0),
        off: Millis(0),
    };
    let after = |suppressed_before: bool, latching| {
        let mut alarm = Alarm::NORMAL;
        alarm.step(
            Condition::Gone,
            suppressed_before,
            latching,
            at_once,
            Millis(1),
        );
        alarm.step(Condition::Stands, false, latching, at_once, Millis(1));
        alarm.latched
    };
    assert!(after(false, true));
    assert!(!after(false, false) && !after(true, true) && !after(true, false));
}

/// By ANSI/ISA-18.2 (IEC 62682): not acknowledged, or gone and not acknowledged; and active is what stands in service.
#[test]
fn what_calls_and_what_is_active() {
    for state in STATES {
        assert_eq!(
            state.calls(),
            [Unacknowledged, ReturnedUnacknowledged].contains(&state)
        );
        assert_eq!(
            state.is_active(),
            [Unacknowledged, Acknowledged].contains(&state)
        );
    }
}

#[cfg(feature = "serde")]
#[test]
fn a_state_is_named_as_it_is_kept() {
    for state in STATES {
        let kept = serde_json::to_string(&state).unwrap();
        assert_eq!(kept, std::format!("\"{}\"", state.name()));
    }
}
