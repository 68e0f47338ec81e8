//! What counts as a sign, and how near to its bound an oracle came.

use super::Pool;
use super::control::Control;
use super::trial::{Held, Signs, turn_of_another};
use crate::scenario::Scenario;
use crate::unit::{ControlUnit, DosewardenUnit, UnitStatus};

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
    let control = Control::of_rooms(&[
        held("chlorine_ceiling", 2.0, 10.0),
        held("acid_floor", 7.5, 6.5),
        held("holds_kept", 600.0, 600.0),
    ]);
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
    // What the sound run had nothing of: from nothing.
    let (oracle, share) = nearest(&[held("hand_feed_held", 30.0, 60.0)]).unwrap();
    assert_eq!(oracle, "hand_feed_held");
    assert!((share - 0.5).abs() < 1e-9, "{share}");
}
