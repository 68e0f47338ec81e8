//! Stages, proof tests, overdue tests, prime, limits and cold water, on the first pool: each helps,
//! is bounded, is told, and is refused with its reason.

use dosewarden::event::EventKind;
use dosewarden::guard::Authority;
use dosewarden::probe::MicrogramsPerL;
use dosewarden::proof::{Interlock, ProofStep};
use dosewarden::stages::Rung;
use dosewarden::water_tests::TestedValue;
use dosewarden_sim::plant::{FeederFault, PlantFault, TemperatureSpec};
use dosewarden_sim::scenario::{Act, CareAct, FIRST_POOL, PersonAct, Supply, Work};
use dosewarden_sim::{ControlUnit, Scenario};

use crate::common::{Pool, attached, told};

const HOUR_MS: u64 = 3_600_000;
const MINUTE_MS: u64 = 60_000;
const ACID: usize = 0;

fn scenario(new_unit: &str) -> Scenario {
    let text = format!(
        "{FIRST_POOL}\n[care]\nnew_unit = \"{new_unit}\"\nobserve_for = \"3 h\"\n\
         reduced_for = \"4 h\"\nproof_every = \"2 days\"\nemergency_stop = \"not fitted\"\n\
         cold_below = \"10 C\"\nalkalinity_every = \"1 day\"\ncyanurate_every = \"60 days\"\n"
    );
    let mut scenario = Scenario::parse("care.toml", &text).expect("it is read");
    // Only the start is left of what happens there.
    let initialised = |act: &Act| matches!(act, Act::Person(PersonAct::Initialise(_)));
    scenario.events.retain(|event| initialised(&event.act));
    scenario
}

fn pool(scenario: &Scenario, hours: u64) -> Pool {
    let mut pool = attached(scenario);
    pool.run_for_ms(hours * HOUR_MS);
    pool
}

fn care(pool: &mut Pool, act: CareAct) -> Option<String> {
    let by = Authority::Technician;
    told(pool, PersonAct::Care { by, act })
}

fn done(pool: &mut Pool, act: CareAct) {
    assert_eq!(care(pool, act), None, "{act:?}");
}

fn refused(why: Option<String>, words: &[&str]) {
    let why = why.expect("refused");
    for word in words {
        assert!(why.contains(word), "no {word:?} in {why:?}");
    }
}

fn fed(pool: &Pool, feeder: usize) -> f64 {
    pool.truth().feeders[feeder].fed_total
}

fn all_fed(pool: &Pool) -> f64 {
    pool.truth().feeders.iter().map(|one| one.fed_total).sum()
}

fn rung(pool: &Pool) -> Rung {
    pool.unit().controller().expect("it has power").rung()
}

fn logged(pool: &Pool, wanted: impl Fn(&EventKind) -> bool) -> bool {
    let controller = pool.unit().controller().expect("it has power");
    controller.events().iter().any(|one| wanted(&one.kind))
}

fn alarm(pool: &Pool, name: &str) -> bool {
    let names = pool.unit().alarm_names();
    let at = names.iter().position(|one| one == name);
    pool.status().alarms >> at.expect("an alarm of this name") & 1 == 1
}

fn step(pool: &Pool) -> Option<ProofStep> {
    pool.unit().proof_waits_for()
}

/// Nothing was broken but how well the water was kept: nothing was fed for a while.
fn held(pool: &mut Pool) {
    let found = pool.finish();
    let broken = found.broken().filter(|name| *name != "kept_in_range");
    assert_eq!(broken.collect::<Vec<_>>(), [""; 0]);
}

/// A proof test of a witness of flow, by stopping the pump.
fn prove_by_pump(pool: &mut Pool, one: Interlock) {
    done(pool, CareAct::Prove(one));
    while step(pool) == Some(ProofStep::Prepare) {
        pool.tick();
    }
    pool.set_fault(PlantFault::CirculationTripped);
    pool.run_for_ms(20_000);
    assert_eq!(step(pool), None, "{one:?}");
    pool.clear_fault(PlantFault::CirculationTripped);
    pool.run_for_ms(5 * MINUTE_MS);
}

/// A proof test by a fault of one feeder that looks as if somebody tripped the interlock.
fn prove_by_fault(pool: &mut Pool, one: Interlock, fault: PlantFault) {
    done(pool, CareAct::Prove(one));
    while step(pool) == Some(ProofStep::Prepare) {
        pool.tick();
    }
    pool.set_fault(fault);
    pool.run_for_ms(20_000);
    assert_eq!(step(pool), None, "{one:?}");
    pool.clear_fault(fault);
    pool.run_for_ms(5 * MINUTE_MS);
}

/// The proof tests of the first pool that need no feed.
fn prove_all(pool: &mut Pool) {
    let levels = [0, 1].map(Interlock::LevelSwitch);
    prove_by_pump(pool, Interlock::FlowSwitch);
    prove_by_pump(pool, Interlock::PumpContact);
    for (feeder, one) in levels.into_iter().enumerate() {
        let lifted = PlantFault::Feeder(feeder, FeederFault::LevelStuckEmpty);
        prove_by_fault(pool, one, lifted);
    }
    let both = [Interlock::FlowSwitch, Interlock::PumpContact];
    for one in levels.into_iter().chain(both) {
        assert!(pool.unit().proof(one).took_ms().is_some(), "{one:?}");
    }
}

/// Those of feedback: the lockout that it ends in is released.
fn prove_feedback(pool: &mut Pool) {
    for feeder in [0, 1] {
        let off = PlantFault::Feeder(feeder, FeederFault::FeedbackStuckOff);
        prove_by_fault(pool, Interlock::Feedback(feeder as u8), off);
        let release = PersonAct::Release {
            by: Authority::Technician,
            lockout: None,
            pool_empty: true,
            remedy: None,
        };
        assert_eq!(told(pool, release), None);
    }
}

#[test]
fn a_new_unit_observes_until_a_person_has_all_the_evidence() {
    let mut pool = pool(&scenario("observes"), 12);
    assert_eq!((rung(&pool), all_fed(&pool)), (Rung::ObserveOnly, 0.0));
    assert!(logged(&pool, |one| matches!(
        one,
        EventKind::WouldFeed { .. }
    )));
    let up = PersonAct::ReducedStage(Authority::Technician);
    refused(
        told(&mut pool, up),
        &["proof test of the flow switch", "run contact"],
    );
    refused(
        told(&mut pool, PersonAct::FullStage(Authority::Technician)),
        &["the reduced stage"],
    );
    let owner = PersonAct::ReducedStage(Authority::Owner);
    refused(told(&mut pool, owner), &["Technician"]);
    prove_all(&mut pool);
    assert_eq!(all_fed(&pool), 0.0, "a proof test feeds nothing");
    // The test of what cannot be seen from inside: a person watches.
    let master = pool
        .unit()
        .controller()
        .map(|one| one.guard().decision().master);
    assert_eq!(master, Some(false));
    let why = told(&mut pool, up);
    if why.is_some() {
        refused(why, &["series"]);
        done(&mut pool, CareAct::Prove(Interlock::MasterContact));
        done(&mut pool, CareAct::StoodStill(true));
        assert_eq!(told(&mut pool, up), None);
    }
    assert_eq!(rung(&pool), Rung::Reduced);
    let full = PersonAct::FullStage(Authority::Technician);
    refused(
        told(&mut pool, full),
        &[
            "4 more hours",
            "kit's test of pH",
            "drive feedback of feeder 1",
        ],
    );
    prove_feedback(&mut pool);
    pool.run_for_ms(5 * HOUR_MS);
    assert!(all_fed(&pool) > 0.0);
    refused(
        told(&mut pool, full),
        &["for this stage: a kit's test of pH"],
    );
    let ph = dosewarden::guard::units::MilliPh(6800);
    refused(care(&mut pool, CareAct::KitPh(Some(ph))), &["KitDisagrees"]);
    done(&mut pool, CareAct::KitPh(None));
    assert_eq!(told(&mut pool, full), None);
    assert_eq!(rung(&pool), Rung::Full);
    held(&mut pool);
}

#[test]
fn stepping_down_to_observing_ends_feed_at_once_also_across_a_power_cut() {
    let mut pool = pool(&scenario("feeds"), 34);
    assert!(all_fed(&pool) > 0.0);
    let down = |by| PersonAct::Care {
        by,
        act: CareAct::Observe,
    };
    refused(told(&mut pool, down(Authority::Owner)), &["Operator"]);
    assert_eq!(told(&mut pool, down(Authority::Operator)), None);
    pool.run_for_ms(5_000);
    let before = all_fed(&pool);
    pool.cut_power(Supply::All, 10_000);
    pool.run_for_ms(3 * HOUR_MS);
    assert_eq!(all_fed(&pool), before);
    assert_eq!(rung(&pool), Rung::ObserveOnly);
}

#[test]
fn an_interlock_that_is_dead_fails_its_test_and_feed_is_held_until_one_passes() {
    let mut pool = pool(&scenario("feeds"), 34);
    assert!(alarm(&pool, "proof_overdue"), "never made");
    prove_all(&mut pool);
    done(&mut pool, CareAct::Prove(Interlock::PumpContact));
    refused(
        care(&mut pool, CareAct::Prove(Interlock::FlowSwitch)),
        &["one at a time"],
    );
    while step(&pool) == Some(ProofStep::Prepare) {
        pool.tick();
    }
    // The person says so, and the pump runs on: its contact gives no sign.
    done(&mut pool, CareAct::Trip);
    pool.run_for_ms(10_000);
    let record = |pool: &Pool| pool.unit().proof(Interlock::PumpContact);
    assert!(record(&pool).has_failed() && alarm(&pool, "proof_overdue"));
    let before = all_fed(&pool);
    pool.run_for_ms(3 * HOUR_MS);
    assert_eq!(all_fed(&pool), before, "held");
    pool.cut_power(Supply::All, 10_000);
    pool.run_for_ms(10 * MINUTE_MS);
    assert!(record(&pool).has_failed(), "kept");
    prove_by_pump(&mut pool, Interlock::PumpContact);
    pool.run_for_ms(3 * HOUR_MS);
    assert!(all_fed(&pool) > before, "and resumes");
}

#[test]
fn a_proof_test_in_mid_dose_sees_the_feeder_stop() {
    let mut pool = pool(&scenario("feeds"), 34);
    done(&mut pool, CareAct::Prove(Interlock::FlowSwitch));
    while step(&pool) != Some(ProofStep::Trip) || !pool.truth().feeders[ACID].drive_on {
        pool.tick();
        assert!(pool.now_ms() < 60 * HOUR_MS, "acid is never fed");
        if step(&pool).is_none() {
            done(&mut pool, CareAct::Prove(Interlock::FlowSwitch));
        }
    }
    pool.set_fault(PlantFault::CirculationTripped);
    pool.run_for_ms(20_000);
    assert!(!pool.truth().feeders[ACID].drive_on);
    let passed = |one: &EventKind| {
        matches!(
            one,
            EventKind::ProofEnded {
                end: dosewarden::proof::ProofEnd::Passed { fed: true, .. },
                ..
            }
        )
    };
    assert!(logged(&pool, passed));
    pool.clear_fault(PlantFault::CirculationTripped);
    pool.run_for_ms(HOUR_MS);
    held(&mut pool);
}

#[test]
fn an_overdue_test_is_an_alarm_and_smaller_cycles_until_it_is_made() {
    let mut pool = pool(&scenario("feeds"), 34);
    let test = |pool: &mut Pool| {
        let work = Work::Test {
            value: TestedValue::Alkalinity,
            found: Some(MicrogramsPerL::from_mg_l(90)),
        };
        let by = Authority::Operator;
        assert_eq!(told(pool, PersonAct::Work { by, work }), None);
    };
    test(&mut pool);
    pool.run_for_ms(23 * HOUR_MS);
    assert!(!alarm(&pool, "test_overdue"));
    pool.run_for_ms(2 * HOUR_MS);
    assert!(alarm(&pool, "test_overdue"));
    let controller = pool.unit().controller().expect("it has power");
    let guard = controller.guard();
    let cap = guard.limits().caps(ACID, 0, guard.state().stage).cycle;
    let before = fed(&pool, ACID);
    for _ in 0..20 * 3600 {
        pool.tick();
        let asked = pool.status().feeders[ACID].asked_dose;
        assert!(asked <= cap.0 / 2, "{asked} of {cap:?}");
    }
    assert!(fed(&pool, ACID) > before, "it is still fed");
    test(&mut pool);
    pool.run_for_ms(2_000);
    assert!(!alarm(&pool, "test_overdue"));
}

#[test]
fn caps_are_tightened_at_once_and_loosened_when_it_is_confirmed() {
    let mut pool = pool(&scenario("feeds"), 34);
    let change = |share, confirmed| CareAct::ChangeCaps {
        feeder: ACID,
        share,
        confirmed,
    };
    let day = |pool: &Pool| {
        let controller = pool.unit().controller().expect("it has power");
        let limits = controller.guard().limits();
        limits.feeder(ACID).expect("acid").bodies[0].day_cap.0
    };
    let full = day(&pool);
    let by = Authority::Operator;
    let act = change(8_000, false);
    assert_eq!(told(&mut pool, PersonAct::Care { by, act }), None);
    assert_eq!(day(&pool), full / 100 * 80);
    let act = change(10_000 * 10 / 8, true);
    refused(
        told(&mut pool, PersonAct::Care { by, act }),
        &["Technician"],
    );
    refused(care(&mut pool, change(12_500, false)), &["confirm"]);
    assert_eq!(day(&pool), full / 100 * 80);
    for _ in 0..5 {
        if care(&mut pool, change(12_500, true)).is_none() {
            break;
        }
    }
    assert_eq!(day(&pool), full);
    pool.cut_power(Supply::All, 10_000);
    pool.run_for_ms(60_000);
    assert_eq!(day(&pool), full);
}

#[test]
fn water_that_is_too_cold_is_not_fed() {
    let mut scenario = scenario("feeds");
    scenario.plant.bodies[0].temperature = TemperatureSpec::steady(8.0);
    let cold = pool(&scenario, 34);
    assert_eq!(all_fed(&cold), 0.0);
    let names = cold.unit().refusal_names();
    let at = names.iter().position(|one| one == "inhibits_clear");
    let refusing = cold.status().feeders[ACID].refusing;
    assert_eq!(refusing >> at.expect("a rule of this name") & 1, 1);
    scenario.plant.bodies[0].temperature = TemperatureSpec::steady(12.0);
    assert!(all_fed(&pool(&scenario, 34)) > 0.0);
}
