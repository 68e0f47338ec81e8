//! What counts as a sign, and how near to its bound an oracle came.

use super::control::Control;
use super::live::{begun, live, with_faults};
use super::trial::{FaultFrom, Held, Signs, Span, judged, lived, turn_of_another};
use super::{Planned, Pool, Subject};
use crate::fault::{Chosen, Part, find};
use crate::plan::HOME_POOL;
use crate::plant::{MAX_FEEDERS, PlantFault};
use crate::pool::LogWhat;
use crate::scenario::clock::DAY_MS;
use crate::scenario::{Act, Scenario};
use crate::unit::{ControlUnit, DosewardenUnit, UnitFault, UnitStatus};

fn pool() -> Pool {
    let scenario = Scenario::first_pool();
    Pool::attach(&scenario, DosewardenUnit::for_scenario(&scenario)).unwrap()
}

/// A feeder that asks and is refused by these.
fn refused(pool: &Pool, by: &[&str]) -> UnitStatus {
    let mut status = UnitStatus::default();
    status.feeders[0].asked = true;
    for name in by {
        let names = pool.unit().refusal_names();
        let bit = names.iter().position(|own| own == name).unwrap();
        status.feeders[0].refusing |= 1 << bit;
    }
    status
}

#[test]
fn the_turn_of_another_is_no_sign_and_any_other_refusal_is_one() {
    let pool = pool();
    let (turn, nothing) = (turn_of_another(&pool), UnitStatus::default());
    let sign = |by: &[&str]| Signs::besides(&refused(&pool, by), &nothing, turn);
    assert_eq!(sign(&["one_at_a_time", "other_has_turn"]), Signs::default());
    assert_ne!(sign(&["day_cap"]), Signs::default());
    assert_eq!(sign(&["one_at_a_time", "day_cap"]), sign(&["day_cap"]));
    // What was shown before is not new, and what is not asked for is not refused.
    let status = refused(&pool, &["day_cap"]);
    let again = Signs::besides(&status, &status, turn);
    assert_eq!(again, Signs::default());
    let mut idle = status;
    idle.feeders[0].asked = false;
    assert_eq!(Signs::besides(&idle, &nothing, turn), Signs::default());
}

#[test]
fn what_the_sound_run_shows_later_hides_nothing_before() {
    let pool = pool();
    let sign = |by: &[&str]| Signs::besides(&refused(&pool, by), &UnitStatus::default(), 0);
    let (one, both) = (sign(&["day_cap"]), sign(&["day_cap", "hour_cap"]));
    let control = Control::of(vec![(10, one), (20, both)], &[]);
    let until = [9, 10, 19, 20, 99].map(|ms| control.signs_until(ms));
    assert_eq!(until, [Signs::default(), one, one, both, both]);
}

#[test]
fn a_trial_is_told_of_by_what_the_sound_run_shows_after_the_end_of_the_trial() {
    let mut alike = pool();
    let (pool, turn) = (alike.clone(), turn_of_another(&alike));
    let (from_ms, for_ms) = (pool.clock_ms(), DAY_MS / 2);
    let mut signs = Signs::default();
    while alike.clock_ms() < from_ms + for_ms {
        alike.tick();
        signs.add(Signs::besides(alike.status(), &UnitStatus::default(), turn));
    }
    let refused_by = |shown_from_ms| {
        let control = Control::of(vec![(shown_from_ms, signs)], &[]);
        let span = Span {
            from_ms,
            for_ms,
            until_settled: false,
        };
        let fault = FaultFrom {
            at_ms: from_ms,
            all_from_ms: from_ms,
            told: None,
            had_given: [0.0; MAX_FEEDERS],
        };
        lived(pool.clone(), span, fault, &control).refused_by
    };
    assert_eq!(refused_by(from_ms + for_ms), None);
    assert!(refused_by(from_ms + for_ms + 1).is_some());
}

fn held(oracle: &'static str, worst: f64, bound: f64) -> Held {
    Held {
        oracle,
        worst,
        bound,
        unit: "",
    }
}

#[test]
fn nearest_is_by_the_way_from_the_sound_run_to_the_bound() {
    let control = Control::of(
        Vec::new(),
        &[
            held("chlorine_ceiling", 2.0, 10.0),
            held("acid_floor", 7.5, 6.5),
            held("holds_kept", 600.0, 600.0),
        ],
    );
    let nearest = |all: &[Held]| {
        let nearest = control.nearest(all)?;
        Some((nearest.by.oracle, nearest.share))
    };
    // Nearer by share of the bound alone is pH 7.4; chlorine has come half of its way.
    let both = [
        held("acid_floor", 7.4, 6.5),
        held("chlorine_ceiling", 6.0, 10.0),
    ];
    let (oracle, share) = nearest(&both).unwrap();
    assert_eq!(oracle, "chlorine_ceiling");
    assert!((share - 0.5).abs() < 1e-9, "{share}");
    assert_eq!(nearest(&both[..1]).unwrap().0, "acid_floor");
    // As far as in the sound run, or further; at the bound there already; a bound of nothing.
    let as_sound = [
        held("chlorine_ceiling", 2.0, 10.0),
        held("acid_floor", 7.6, 6.5),
        held("holds_kept", 600.0, 600.0),
        held("lockout_kept", 0.0, 0.0),
    ];
    assert_eq!(nearest(&as_sound), None);
    // Three times a hold is not near it, however long the sound run's was; twice is.
    let control = Control::of(Vec::new(), &[held("power_on_delay", 9_000.0, 120.0)]);
    let of = |worst| control.nearest(&[held("power_on_delay", worst, 120.0)]);
    assert_eq!(of(240.1), None);
    assert!(of(240.0).is_some_and(|nearest| nearest.share > 0.98));
    // What the sound run had nothing of: from nothing.
    let by_hand = control
        .nearest(&[held("hand_feed_held", 30.0, 60.0)])
        .unwrap();
    let (oracle, share) = (by_hand.by.oracle, by_hand.share);
    assert_eq!(oracle, "hand_feed_held");
    assert!((share - 0.5).abs() < 1e-9, "{share}");
}

fn chosen(subject: &Subject, id: &str, after_min: u64, for_min: Option<u64>) -> Chosen {
    Chosen {
        fault: find(id).unwrap(),
        part: Part::Site,
        severity: 0.5,
        at_ms: subject.origin.clock_ms() + after_min * 60_000,
        for_ms: for_min.map(|min| min * 60_000),
    }
}

#[test]
fn a_trial_that_starts_from_a_copy_of_the_sound_day_is_the_one_from_the_origin() {
    let subject = Subject::of_site("home-pool.toml", HOME_POOL, None).unwrap();
    let origin_ms = subject.origin.clock_ms();
    // Before the first copy, in the day, at its end and past it.
    for after_min in [29, 30, 250, 1_439, 1_500] {
        let faults = [chosen(&subject, "P1", after_min, None)];
        let mut from_copy = begun(&subject, &faults, None).unwrap();
        let copied_ms = from_copy.clock_ms();
        let first_ms = faults[0].at_ms.min(origin_ms + DAY_MS);
        assert!(copied_ms <= faults[0].at_ms && copied_ms + 30 * 60_000 > first_ms);
        let mut from_origin = with_faults(subject.origin.clone(), &subject, &faults, None);
        for pool in [&mut from_copy, &mut from_origin] {
            pool.run_for_ms(faults[0].at_ms + 3_600_000 - pool.clock_ms());
        }
        assert_eq!(from_copy.truth(), from_origin.truth());
        assert_eq!(from_copy.status(), from_origin.status());
        assert_eq!(from_copy.log(), from_origin.log());
        assert_eq!(judged(&mut from_copy), judged(&mut from_origin));
    }
}

/// By its onset alone it would have ended before the dose that it waits for, and stood to the end of the run.
#[test]
fn a_fault_that_waits_for_a_feed_stands_as_long_as_was_drawn_from_there() {
    let subject = Subject::of_site("home-pool.toml", HOME_POOL, None).unwrap();
    for (id, usual_ms) in [("K4", 3_600_000), ("H1", 7_200_000)] {
        for for_min in [Some(3), Some(300), None] {
            let faults = [chosen(&subject, id, 0, for_min)];
            let mut pool = begun(&subject, &faults, None).unwrap();
            let before = pool.log().len();
            pool.run_for_ms(8 * 3_600_000);
            let came = |wanted: fn(&LogWhat) -> bool| {
                let mut lines = pool.log().iter().skip(before);
                lines.find(|line| wanted(&line.what)).unwrap().clock_ms
            };
            let begins = |what: &LogWhat| match what {
                LogWhat::Act(Act::Unit { fault, .. }) => *fault == UnitFault::Hung,
                LogWhat::Act(Act::Fault { fault, .. }) => *fault == PlantFault::CirculationTripped,
                _ => false,
            };
            let ends = |what: &LogWhat| {
                matches!(
                    what,
                    LogWhat::Act(Act::UnitEnds(_) | Act::FaultEnds(_)) | LogWhat::FaultEnded(_)
                )
            };
            let (from_ms, to_ms) = (came(begins), came(ends));
            assert!(from_ms >= subject.dose_from_ms, "{id} {from_ms}");
            let lasts_ms = for_min.map_or(usual_ms, |min| min * 60_000);
            assert_eq!(to_ms - from_ms, lasts_ms, "{id} {for_min:?}");
        }
    }
}

#[test]
fn without_a_fault_a_trial_is_told_from_the_dose_on() {
    let subject = Subject::of_site("home-pool.toml", HOME_POOL, None).unwrap();
    let pool = begun(&subject, &[], None).unwrap();
    assert!(pool.clock_ms() <= subject.dose_to_ms);
    let planned = Planned {
        case: 0,
        chosen: Vec::new(),
        reset_at_ms: None,
        for_ms: 3_600_000,
    };
    let outcome = live(&subject, &planned).unwrap();
    assert_eq!(outcome.ended_at_ms, subject.dose_to_ms + planned.for_ms);
}

/// What was given before the copy from which the trial goes on was given by the sound run too.
#[test]
fn what_a_late_fault_gives_more_is_counted_whole() {
    let subject = Subject::of_site("home-pool.toml", HOME_POOL, None).unwrap();
    let siphon = Chosen {
        part: Part::Feeder(1),
        severity: 1.0,
        ..chosen(&subject, "H9", 600, None)
    };
    let planned = Planned {
        case: 0,
        chosen: vec![siphon],
        reset_at_ms: None,
        for_ms: 3 * 3_600_000,
    };
    let outcome = live(&subject, &planned).unwrap();
    assert_eq!(outcome.ended_at_ms, siphon.at_ms + planned.for_ms);
    // 2 L/h, less what the sound run gives and this one does not.
    let more = outcome.fed_more[1];
    assert!((5_000.0..6_100.0).contains(&more), "{more}");
}
