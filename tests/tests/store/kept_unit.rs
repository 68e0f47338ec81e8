//! The simulated unit keeps what persons did in two copies: through cuts, torn writes and rot.

use dosewarden::Restraints;
use dosewarden::guard::units::HOUR_MS;
use dosewarden_sim::scenario::{Act, PersonAct, Supply};
use dosewarden_sim::unit::InsideFault;
use dosewarden_sim::{DosewardenUnit, Scenario, SimPool};

/// Writes on the busiest day of the first pool's week, what the docs of the store reckon with.
const KEPT_A_DAY: u32 = 60;

fn pool() -> SimPool<DosewardenUnit> {
    let scenario = Scenario::first_pool();
    let unit = DosewardenUnit::for_scenario(&scenario);
    let mut pool = SimPool::attach(&scenario, unit).unwrap();
    pool.run_for_ms(60_000);
    pool
}

/// The restraints after a pause of 6 h, this fault, and a cut.
fn after(faults: &[InsideFault]) -> Restraints<2> {
    let mut pool = pool();
    pool.act(Act::Person(PersonAct::Pause(6 * u64::from(HOUR_MS))));
    pool.run_for_ms(60_000);
    for fault in faults {
        pool.act(Act::Inside(*fault));
    }
    pool.cut_power(Supply::Controller, 5_000);
    pool.run_for_ms(60_000);
    *pool.unit().controller().expect("it has power").restraints()
}

#[test]
fn a_pause_outlives_cuts_a_torn_write_and_rot_in_one_copy() {
    let rot = |copy| InsideFault::Rot { copy, at: 77 };
    for faults in [
        &[][..],
        &[InsideFault::TearNextWrite],
        &[rot(0)],
        &[rot(1)],
        &[InsideFault::WritesIgnored, InsideFault::WritesWork],
    ] {
        let own = after(faults);
        assert!(own.paused.0 > 5 * HOUR_MS, "{faults:?}: {own:?}");
        assert!(!own.evidence.is_observing, "{faults:?}");
    }
}

#[test]
fn a_record_that_is_lost_leaves_a_unit_that_only_observes() {
    for fault in [
        InsideFault::Rot { copy: 2, at: 77 },
        InsideFault::OtherVersion,
    ] {
        let own = after(&[fault]);
        assert_eq!(own.paused.0, 0, "{fault:?}");
        assert!(own.evidence.is_observing, "{fault:?}");
    }
    let erased = after(&[InsideFault::Erased]);
    assert_eq!(erased, Restraints::NONE, "as new, the guard's record too");
}

#[test]
fn an_older_copy_of_both_is_taken_for_true() {
    let mut pool = pool();
    pool.act(Act::Inside(InsideFault::CopyAway));
    pool.act(Act::Person(PersonAct::Pause(6 * u64::from(HOUR_MS))));
    pool.run_for_ms(60_000);
    pool.act(Act::Inside(InsideFault::CopyBack));
    pool.cut_power(Supply::Controller, 5_000);
    pool.run_for_ms(60_000);
    let own = pool
        .unit()
        .controller()
        .map(|one| one.restraints().paused.0);
    assert_eq!(own, Some(0), "as the docs of the store say");
}

#[test]
fn a_cut_at_any_moment_after_a_pause_leaves_it_or_never_knew_it() {
    let mut kept = 0;
    for wait_ms in 0..8 {
        let mut pool = pool();
        pool.act(Act::Person(PersonAct::Pause(6 * u64::from(HOUR_MS))));
        pool.run_for_ms(wait_ms * 1000);
        pool.cut_power(Supply::Controller, 5_000);
        pool.run_for_ms(60_000);
        let own = *pool.unit().controller().expect("it has power").restraints();
        assert!(!own.evidence.is_observing, "no cut loses the record");
        kept += u32::from(own.paused.0 > 5 * HOUR_MS);
        assert!(wait_ms < 3 || own.paused.0 > 5 * HOUR_MS, "{wait_ms} s");
    }
    assert!(kept >= 5);
}

#[test]
fn the_first_pool_keeps_no_more_often_than_the_docs_reckon() {
    let scenario = Scenario::first_pool();
    let mut pool = pool();
    let mut days = Vec::new();
    let mut before = pool.unit().kept_writes();
    for _ in 0..scenario.days {
        pool.run_for_days(1);
        let now = pool.unit().kept_writes();
        days.push(now - before);
        before = now;
    }
    let most = days.iter().max().copied().unwrap();
    assert!(most <= KEPT_A_DAY, "{days:?}");
    assert!(most > KEPT_A_DAY / 2, "reckoned too high: {days:?}");
}
