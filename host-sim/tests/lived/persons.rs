//! What persons do at our unit, on the first pool: it helps, it is bounded, and it is told.

use dosewarden_sim::plant::PlantFault;
use dosewarden_sim::pool::LogWhat;
use dosewarden_sim::scenario::{Act, CareAct, PersonAct, Supply};
use dosewarden_sim::unit::Reply;

use dosewarden::guard::{Authority, Lockout, Remedy};

use crate::common::{Pool, morning};

const HOUR_MS: u64 = 3_600_000;

/// Nothing was broken, but for how near the water was kept: these runs end hours after the first
/// day, while it still comes down.
fn held(pool: &mut Pool) {
    let found = pool.finish();
    let broken = found.broken().filter(|name| *name != "kept_in_range");
    assert_eq!(broken.collect::<Vec<_>>(), [""; 0]);
}

fn fed(pool: &Pool) -> f64 {
    pool.truth()
        .feeders
        .iter()
        .map(|feeder| feeder.fed_total)
        .sum()
}

fn replies(pool: &Pool) -> Vec<Reply> {
    let lines = pool.log().iter().filter_map(|line| match &line.what {
        LogWhat::Reply(reply) => Some(reply.clone()),
        _ => None,
    });
    lines.collect()
}

fn release(lockout: Option<Lockout>) -> Act {
    Act::Person(PersonAct::Release {
        by: Authority::Technician,
        lockout,
        pool_empty: true,
        remedy: Some(Remedy::WaterTested),
    })
}

#[test]
fn an_emergency_stop_locks_out_until_it_is_released() {
    let mut pool = morning(0.0);
    pool.act(Act::Person(PersonAct::EmergencyStop(60_000)));
    pool.run_for_ms(5_000);
    let before = fed(&pool);
    pool.run_for_ms(2 * HOUR_MS);
    assert_eq!(fed(&pool), before, "fed during an emergency stop");
    assert!(pool.status().needs_person);
    pool.act(Act::Person(PersonAct::Acknowledge(Authority::Owner)));
    pool.run_for_ms(HOUR_MS);
    assert!(pool.status().needs_person, "acknowledging does not cure");
    pool.act(release(Some(Lockout::EmergencyStop)));
    pool.run_for_ms(3 * HOUR_MS);
    assert!(!pool.status().needs_person);
    assert!(fed(&pool) > before, "feeding has to resume");
    held(&mut pool);
}

#[test]
fn cycling_the_power_clears_no_lockout() {
    let mut pool = morning(0.0);
    pool.act(Act::Person(PersonAct::EmergencyStop(10_000)));
    pool.run_for_ms(60_000);
    for _ in 0..5 {
        pool.cut_power(Supply::All, 10_000);
        pool.run_for_ms(600_000);
        assert!(pool.status().needs_person);
    }
}

#[test]
fn a_pause_holds_and_ends_by_itself() {
    let mut pool = morning(0.0);
    pool.act(Act::Person(PersonAct::Pause(2 * HOUR_MS)));
    pool.run_for_ms(5_000);
    let before = fed(&pool);
    pool.run_for_ms(HOUR_MS);
    assert_eq!(fed(&pool), before);
    assert!(!pool.status().needs_person);
    pool.run_for_ms(4 * HOUR_MS);
    assert!(fed(&pool) > before);
}

/// Waits for a moment at which acid neither runs nor waits for its hold.
fn until_acid_is_idle(pool: &mut Pool) {
    let idle = |pool: &Pool| {
        let acid = &pool.status().feeders[0];
        !acid.asked && acid.refusing == 0
    };
    while !idle(pool) {
        assert!(pool.now_ms() < 44 * HOUR_MS, "acid is never idle");
        pool.tick();
    }
}

#[test]
fn a_tube_is_primed_while_the_button_is_held() {
    let mut pool = morning(0.0);
    until_acid_is_idle(&mut pool);
    let acid = |pool: &Pool| pool.truth().feeders[0].fed_total;
    let before = acid(&pool);
    let prime = |by, for_ms| {
        let act = CareAct::Prime { feeder: 0, for_ms };
        Act::Person(PersonAct::Care { by, act })
    };
    pool.act(prime(Authority::Owner, 10_000));
    pool.run_for_ms(15_000);
    let refused = Reply::Refused("NeedsAuthority(Operator)".to_owned());
    assert_eq!(replies(&pool).last(), Some(&refused));
    assert_eq!(acid(&pool), before);
    pool.act(prime(Authority::Operator, 20_000));
    pool.run_for_ms(60_000);
    let primed = acid(&pool) - before;
    // 60 mL/min for less than 20 s.
    assert!((5_000.0..20_000.0).contains(&primed), "{primed} uL");
    held(&mut pool);
}

#[test]
fn a_manual_feed_runs_while_the_button_is_held_and_within_its_limits() {
    let mut pool = morning(0.0);
    until_acid_is_idle(&mut pool);
    let before = pool.truth().feeders[0].fed_total;
    pool.act(Act::Person(PersonAct::ManualFeed {
        feeder: 0,
        for_ms: 30_000,
    }));
    pool.run_for_ms(60_000);
    let by_hand = pool.truth().feeders[0].fed_total - before;
    // 60 mL/min for less than half a minute: the cycle has to be charged first.
    assert!((10_000.0..30_000.0).contains(&by_hand), "{by_hand} uL");
    held(&mut pool);
}

#[test]
fn without_authority_or_power_an_act_is_refused_and_told() {
    let mut pool = morning(0.0);
    pool.act(Act::Person(PersonAct::ReducedStage(Authority::Owner)));
    pool.run_for_ms(2_000);
    let refused = |pool: &Pool| match replies(pool).last() {
        Some(Reply::Refused(why)) => why.clone(),
        other => panic!("{other:?}"),
    };
    assert!(refused(&pool).contains("Technician"), "{}", refused(&pool));
    pool.act(release(None));
    assert!(refused(&pool).contains("no such lockout"));
    pool.cut_power(Supply::Controller, 60_000);
    pool.run_for_ms(2_000);
    pool.act(Act::Person(PersonAct::FullStage(Authority::Technician)));
    assert!(refused(&pool).contains("no power"));
}

#[test]
fn a_release_is_refused_while_the_cause_stands() {
    let mut pool = morning(0.0);
    pool.set_fault(PlantFault::FlowSwitchStuckOn);
    pool.set_fault(PlantFault::CirculationTripped);
    pool.run_for_ms(120_000);
    assert!(pool.status().needs_person);
    pool.act(release(Some(Lockout::Witnesses)));
    pool.run_for_ms(5_000);
    assert!(pool.status().needs_person);
    pool.clear_fault(PlantFault::FlowSwitchStuckOn);
    pool.clear_fault(PlantFault::CirculationTripped);
    pool.run_for_ms(120_000);
    assert!(pool.status().needs_person, "it does not end by itself");
    pool.act(release(None));
    pool.run_for_ms(5_000);
    assert!(!pool.status().needs_person);
}

#[test]
fn a_drum_that_is_low_is_told_and_refilled() {
    let mut pool = morning(0.0);
    let low = |pool: &Pool| {
        let names = dosewarden_sim::ControlUnit::alarm_names(pool.unit());
        let at = names.iter().position(|name| name == "acid: stock_low");
        pool.status().alarms >> at.expect("an alarm of this name") & 1 == 1
    };
    let enter = |litres: u32| {
        Act::Person(PersonAct::ReadLevel {
            feeder: 0,
            level: Some(dosewarden::guard::units::Dose::from_ml(litres * 1000)),
        })
    };
    pool.act(enter(2));
    pool.run_for_ms(HOUR_MS);
    assert!(low(&pool));
    pool.act(Act::Person(PersonAct::Refill(0)));
    pool.act(Act::Person(PersonAct::ReadLevel {
        feeder: 0,
        level: None,
    }));
    pool.run_for_ms(HOUR_MS);
    assert!(!low(&pool));
}
