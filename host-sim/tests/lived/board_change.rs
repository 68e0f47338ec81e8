//! The board of a pool is changed in mid-dose, with half of the day's cap used and a lockout standing:
//! nothing more is fed than the one board could have fed.

use dosewarden::guard::units::ClockSeconds;
use dosewarden::guard::{Authority, Lockout};
use dosewarden::store::{BoardError, DayUsed};
use dosewarden_sim::scenario::{Act, PersonAct, Supply, UnitClock};
use dosewarden_sim::{ControlUnit, DosewardenUnit, Scenario, SimPool};

const MINUTE_MS: u64 = 60_000;
const HOUR_MS: u64 = 60 * MINUTE_MS;
const ACID: usize = 0;
/// The day's cap of acid, mL.
const DAY_CAP: f64 = 900.0;
const BY: Authority = Authority::Technician;

type Pool = SimPool<DosewardenUnit>;

/// So much acid is wanted for days that the caps alone bound it; a clock, and full caps from 09:00.
fn scenario() -> Scenario {
    let mut scenario = Scenario::first_pool();
    scenario.plant.bodies[0].water.ph = 8.4;
    scenario.supply.clock = UnitClock::Fitted;
    scenario
        .events
        .retain(|event| matches!(event.act, Act::Person(PersonAct::Initialise(_))));
    scenario
}

fn press(pool: &mut Pool, act: PersonAct) {
    pool.act(Act::Person(act));
    pool.run_for_ms(3_000);
}

fn fed_ml(pool: &Pool) -> f64 {
    pool.truth().feeders[ACID].fed_total / 1000.0
}

fn day_ml(pool: &Pool) -> f64 {
    let controller = pool.unit().controller().expect("it has power");
    let day = controller.guard().state().ledger.totals(ACID, 0).1;
    f64::from(day.0) / 1000.0
}

/// Half of the day's cap is used and a dose is under way.
fn in_mid_dose() -> Pool {
    let scenario = scenario();
    let unit = DosewardenUnit::for_scenario(&scenario);
    let mut pool = SimPool::attach(&scenario, unit).expect("a sound plant");
    pool.run_for_ms(9 * HOUR_MS + MINUTE_MS);
    press(&mut pool, PersonAct::FullStage(BY));
    let dosing = |pool: &Pool| pool.commands().feeders[ACID].on;
    while fed_ml(&pool) < DAY_CAP / 2.0 || dosing(&pool) {
        pool.tick();
    }
    while !dosing(&pool) {
        pool.tick();
    }
    pool.run_for_ms(10_000);
    assert!(dosing(&pool), "a dose takes a minute");
    pool
}

/// The emergency stop is pressed and the pool given away, both in mid-dose; the image.
fn exported(pool: &mut Pool) -> Vec<u8> {
    pool.act(Act::Person(PersonAct::EmergencyStop(2_000)));
    pool.unit_mut().hand_over(BY, false);
    pool.tick();
    let controller = pool.unit().controller().expect("it has power");
    let charged = controller.guard().state().feeders[ACID].charged();
    assert!(charged.0 > 0, "the charge stands open");
    pool.unit_mut().export().expect("given away")
}

fn now(pool: &Pool, hours: u32) -> Option<ClockSeconds> {
    let clock = pool.unit().controller().and_then(|one| one.guard().clock());
    clock.map(|clock| ClockSeconds(clock.0 + 3600 * hours))
}

/// The new board in its place, without power for an hour.
fn changed(pool: &mut Pool) -> DosewardenUnit {
    pool.cut_power(Supply::Controller, HOUR_MS);
    pool.run_for_ms(2_000);
    core::mem::replace(pool.unit_mut(), DosewardenUnit::for_scenario(&scenario()))
}

fn release(pool: &mut Pool) {
    let release = PersonAct::Release {
        by: BY,
        lockout: None,
        pool_empty: true,
        remedy: None,
    };
    press(pool, release);
}

fn locked_by_stop(pool: &Pool) -> bool {
    let controller = pool.unit().controller().expect("it has power");
    let stands = controller.guard().state().site_lockouts;
    stands.has(Lockout::EmergencyStop)
}

#[test]
fn a_new_board_feeds_what_the_old_one_could_have_fed_and_no_more() {
    let mut pool = in_mid_dose();
    let mut stayed = pool.clone();
    let later = now(&pool, 1);
    let image = exported(&mut pool);
    let (before, used) = (fed_ml(&pool), day_ml(&pool));
    changed(&mut pool);
    let told = pool.unit_mut().take_up(&image, BY, later);
    assert_eq!(told, Ok(None), "the day's total survives");
    pool.run_for_ms(HOUR_MS + MINUTE_MS);
    assert!(day_ml(&pool) > used, "the open charge counts in full");
    assert!(locked_by_stop(&pool), "no start clears it");
    pool.run_for_ms(HOUR_MS);
    assert_eq!(fed_ml(&pool), before);
    release(&mut pool);
    press(&mut pool, PersonAct::FullStage(BY));
    pool.run_for_ms(8 * HOUR_MS);
    let rest = fed_ml(&pool) - before;
    assert!(
        rest > 200.0,
        "it goes on, by the rest of the day's cap: {rest} mL"
    );
    assert!(fed_ml(&pool) <= DAY_CAP, "{} mL", fed_ml(&pool));
    stayed.run_for_ms(pool.now_ms() - stayed.now_ms());
    let (new, one) = (fed_ml(&pool), fed_ml(&stayed));
    assert!(
        new <= one,
        "{new} mL with a change of the board, {one} mL without"
    );
    pool.run_for_ms(36 * HOUR_MS);
    assert!(fed_ml(&pool) > DAY_CAP, "and on the days after");
    let found = pool.finish();
    let aside = ["kept_in_range", "fed_or_asked", "poor_water_alarmed"];
    let broken = found.broken().filter(|name| !aside.contains(name));
    assert_eq!(broken.collect::<Vec<_>>(), [""; 0]);
}

#[test]
fn without_the_image_a_new_board_feeds_the_day_s_cap_again() {
    let mut pool = in_mid_dose();
    changed(&mut pool);
    pool.run_for_ms(HOUR_MS + MINUTE_MS);
    press(&mut pool, PersonAct::Initialise(BY));
    press(&mut pool, PersonAct::FullStage(BY));
    pool.run_for_ms(8 * HOUR_MS);
    assert!(fed_ml(&pool) > DAY_CAP * 1.3, "{} mL", fed_ml(&pool));
}

#[test]
fn without_a_clock_the_day_counts_as_used() {
    let mut pool = in_mid_dose();
    let image = exported(&mut pool);
    let before = fed_ml(&pool);
    changed(&mut pool);
    let told = pool.unit_mut().take_up(&image, BY, None);
    assert_eq!(told, Ok(Some(DayUsed::TimeOffUnknown)));
    pool.run_for_ms(HOUR_MS + MINUTE_MS);
    release(&mut pool);
    press(&mut pool, PersonAct::FullStage(BY));
    pool.run_for_ms(23 * HOUR_MS);
    assert_eq!(fed_ml(&pool), before);
    pool.run_for_ms(6 * HOUR_MS);
    assert!(fed_ml(&pool) > before, "the day is over");
}

#[test]
fn the_old_board_feeds_nothing_more_and_takes_up_its_own_image_with_the_day_used() {
    let mut pool = in_mid_dose();
    let later = now(&pool, 1);
    let image = exported(&mut pool);
    pool.run_for_ms(10_000);
    release(&mut pool);
    let before = fed_ml(&pool);
    pool.run_for_ms(8 * HOUR_MS);
    pool.cut_power(Supply::Controller, MINUTE_MS);
    pool.run_for_ms(20 * HOUR_MS);
    assert_eq!(fed_ml(&pool), before, "through a cut and into the next day");
    let given = pool.unit().refusal_names();
    let at = given
        .iter()
        .position(|name| name == "given_away")
        .expect("a reason");
    assert!(
        pool.status().feeders[ACID].refusing >> at & 1 == 1,
        "it says why"
    );
    let mut back = pool.clone();
    changed(&mut back);
    // Back on the old board, as it lies on the bench.
    *back.unit_mut() = pool.unit().clone();
    back.unit_mut().power_down();
    let told = back.unit_mut().take_up(&image, BY, later);
    assert_eq!(told, Ok(Some(DayUsed::NotNewer)));
    pool.unit_mut().hand_over(BY, true);
    pool.run_for_ms(23 * HOUR_MS);
    assert_eq!(fed_ml(&pool), before, "taken back with the day used");
    pool.run_for_ms(24 * HOUR_MS);
    assert!(fed_ml(&pool) > before);
}

#[test]
fn a_broken_image_and_an_owner_are_refused_and_the_new_board_waits_for_a_person() {
    let mut pool = in_mid_dose();
    let live = pool.unit_mut().export();
    assert_eq!(live, Err(BoardError::NotGivenAway));
    let later = now(&pool, 1);
    let image = exported(&mut pool);
    changed(&mut pool);
    let mut torn = image.clone();
    torn[700] ^= 4;
    let unit = pool.unit_mut();
    assert_eq!(unit.take_up(&torn, BY, later), Err(BoardError::NotWhole));
    let owner = unit.take_up(&image, Authority::Owner, later);
    assert_eq!(owner, Err(BoardError::NeedsAuthority(BY)));
    let before = fed_ml(&pool);
    pool.run_for_ms(26 * HOUR_MS);
    assert_eq!(fed_ml(&pool), before, "its record is lost, as a new unit's");
    assert!(pool.status().needs_person);
}
