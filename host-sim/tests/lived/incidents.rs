//! Two published incidents, repeated at an invented pool: with the guard, and without any.
//!
//! Sources: CDC, MMWR 2017;66(19):498-501 (California 2015); Michigan, Suggested Practices for Fluoride Design
//! (1991). What is judged is the plant's own truth; the bound is worked out here from the file's figures.

use dosewarden_sim::scenario::Scenario;
use dosewarden_sim::unit::UnguardedUnit;
use dosewarden_sim::{ControlUnit, DosewardenUnit, SimPool};

use dosewarden::guard::Lockout;

const STANDING_LINE: &str = include_str!("../../../examples/scenarios/standing-line.toml");
const LYING_CONTACT: &str = include_str!("../../../examples/scenarios/lying-contact.toml");
const HOUR_MS: u64 = 3_600_000;
/// What each feeder may feed past a loss of flow, uL: 60 and 80 mL/min for `tick_gap_max` 2 s and `drive_off` 200 ms.
const OVERRUN_MAX_UL: [f64; 2] = [2_200.0, 2_933.4];

fn scenario(text: &str) -> Scenario {
    Scenario::parse("incident.toml", text).unwrap_or_else(|error| panic!("{error}"))
}

/// The pool from its start until the pump has tripped and the line stands.
fn tripped<U: ControlUnit>(text: &str, unit: impl FnOnce(&Scenario) -> U) -> SimPool<U> {
    let scenario = scenario(text);
    let mut pool = SimPool::attach(&scenario, unit(&scenario)).expect("a sound plant");
    pool.run_for_ms(60_000);
    while pool.truth().flow_l_min > 1.0 {
        assert!(pool.now_ms() < HOUR_MS, "no dose in which the pump trips");
        pool.tick();
    }
    pool
}

fn standing(pool: &SimPool<impl ControlUnit>) -> [f64; 2] {
    [0, 1].map(|at| pool.truth().feeders[at].fed_standing_total)
}

fn fed(pool: &SimPool<impl ControlUnit>) -> [f64; 2] {
    [0, 1].map(|at| pool.truth().feeders[at].fed_total)
}

/// Lives until `clock_ms`; nothing may be fed.
fn nothing_fed(pool: &mut SimPool<DosewardenUnit>, clock_ms: u64) {
    let before = fed(pool);
    pool.run_for_ms(clock_ms - pool.clock_ms());
    assert_eq!(fed(pool), before, "nothing is fed until {clock_ms} ms");
}

#[track_caller]
fn at_most_the_overrun_of_acid(in_line: [f64; 2]) {
    let [acid, chlorine] = in_line;
    assert!(acid > 0.0 && acid <= OVERRUN_MAX_UL[0], "{in_line:?}");
    assert_eq!(chlorine, 0.0);
}

fn broken(pool: &mut SimPool<impl ControlUnit>) -> Vec<&'static str> {
    pool.finish().broken().collect()
}

#[test]
fn with_the_guard_a_standing_line_gets_no_more_than_the_overrun_and_waits_for_a_person() {
    let mut pool = tripped(STANDING_LINE, DosewardenUnit::for_scenario);
    // Till the drive is surely off, and a lockout stands.
    pool.run_for_ms(30_000);
    let in_line = standing(&pool);
    at_most_the_overrun_of_acid(in_line);
    let locked = |pool: &SimPool<DosewardenUnit>| {
        let guard = pool.unit().controller().expect("powered").guard();
        guard.state().site_lockouts.has(Lockout::Witnesses)
    };
    assert!(locked(&pool), "flow while the pump's contact says off");
    let asked = pool.status().feeders;
    // The pump is back after 40 minutes; the release is at 10:01.
    nothing_fed(&mut pool, 10 * HOUR_MS + 60_000);
    assert!(pool.truth().flow_l_min > 200.0, "the pump runs again");
    assert!(locked(&pool) && pool.status().needs_person);
    assert!(
        asked[0].asked || pool.status().feeders[0].asked,
        "acid is called for"
    );
    assert!(pool.status().feeders[1].asked, "chlorine is called for");
    pool.tick();
    pool.tick();
    assert!(!locked(&pool), "released");
    pool.run_for_ms(2 * HOUR_MS);
    assert!(
        fed(&pool).iter().sum::<f64>() > in_line[0] + 1000.0,
        "and then it feeds"
    );
    assert_eq!(standing(&pool), in_line, "nothing more into standing water");
    assert_eq!(pool.truth().line.gas_released_g, 0.0);
    pool.run_for_ms(22 * HOUR_MS);
    assert_eq!(broken(&mut pool), [""; 0]);
}

#[test]
fn without_a_guard_the_standing_line_gives_off_gas() {
    let mut pool = tripped(STANDING_LINE, UnguardedUnit::for_scenario);
    // While the pump stands.
    while pool.truth().flow_l_min < 1.0 {
        pool.tick();
    }
    let in_line = standing(&pool);
    assert!(in_line[0] > 100.0 * OVERRUN_MAX_UL[0], "{in_line:?}");
    assert!(in_line[1] > 100.0 * OVERRUN_MAX_UL[1], "{in_line:?}");
    pool.run_for_ms(600_000);
    let gas_g = pool.truth().line.gas_released_g;
    // 125 g/L of chlorine is in the hypochlorite: no more can come out than went in, and it is grams, not traces.
    assert!(gas_g > 10.0, "{gas_g} g");
    assert!(
        gas_g <= fed(&pool)[1] / 1e6 * 125.0 + 1e-6,
        "{gas_g} g of {in_line:?}"
    );
    let broken = broken(&mut pool);
    for oracle in ["line_gas", "standing_water", "never_both"] {
        assert!(broken.contains(&oracle), "{oracle}: {broken:?}");
    }
}

#[test]
fn a_second_witness_in_series_stops_what_a_lying_contact_would_let_through() {
    let mut pool = tripped(LYING_CONTACT, DosewardenUnit::for_scenario);
    pool.run_for_ms(30_000);
    at_most_the_overrun_of_acid(standing(&pool));
    let stands = fed(&pool);
    while pool.truth().flow_l_min < 200.0 {
        pool.tick();
    }
    // The pump is back: first the line is purged, with 60 s of flow.
    let runs_ms = pool.clock_ms();
    assert!(runs_ms > 11 * HOUR_MS, "three hours later");
    while fed(&pool) == stands {
        assert!(pool.clock_ms() < runs_ms + HOUR_MS, "it feeds again");
        pool.tick();
    }
    assert!(pool.clock_ms() > runs_ms + 60_000, "{} ms", pool.clock_ms());
    pool.run_for_ms(12 * HOUR_MS);
    assert_eq!(pool.truth().line.gas_released_g, 0.0);
    assert_eq!(broken(&mut pool), [""; 0]);
    let mut without = tripped(LYING_CONTACT, UnguardedUnit::for_scenario);
    without.run_for_ms(4 * HOUR_MS);
    assert!(without.truth().line.gas_released_g > 10.0);
}
