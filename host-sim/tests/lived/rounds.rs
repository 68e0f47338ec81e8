//! A planned site lives by its stages, and a person makes the proof tests of it: each interlock is tripped by hand and
//! put back.

use dosewarden::guard::Authority;
use dosewarden::proof::Interlock;
use dosewarden::stages::Rung;
use dosewarden_sim::plan::{COMMUNITY_POOL, HOME_POOL, HOTEL_SPA, Plan, SALT_POOL, Site};
use dosewarden_sim::plant::PlantFault;
use dosewarden_sim::pool::LogWhat;
use dosewarden_sim::scenario::{Act, CareAct, PersonAct, ProofsOf};
use dosewarden_sim::unit::Reply;
use dosewarden_sim::{ControlUnit, DosewardenUnit, Scenario, SimPool};

const HOUR_MS: u64 = 3_600_000;

type Pool = SimPool<DosewardenUnit>;

fn planned(text: &str) -> Scenario {
    let site = Site::parse("site.toml", text).unwrap_or_else(|error| panic!("{error}"));
    let plan = Plan::of(&site).unwrap_or_else(|error| panic!("{error}"));
    Scenario::parse("planned.toml", &plan.scenario).unwrap_or_else(|error| panic!("{error}"))
}

fn attach(scenario: &Scenario) -> Pool {
    let unit = DosewardenUnit::for_scenario(scenario);
    SimPool::attach(scenario, unit).expect("a sound plant")
}

fn rung(pool: &Pool) -> Rung {
    pool.unit().controller().expect("it has power").rung()
}

fn fed(pool: &Pool) -> f64 {
    pool.truth().feeders.iter().map(|one| one.fed_total).sum()
}

fn refusals(pool: &Pool) -> Vec<String> {
    let refused = |what: &LogWhat| match what {
        LogWhat::Reply(Reply::Refused(why)) => Some(why.clone()),
        _ => None,
    };
    pool.log()
        .iter()
        .filter_map(|line| refused(&line.what))
        .collect()
}

/// Interlocks without a proof test that passed.
fn unproven(pool: &Pool) -> Vec<Interlock> {
    let lacks = |one: &Interlock| pool.unit().proof(*one).took_ms().is_none();
    pool.unit().interlocks().iter().filter(lacks).collect()
}

#[test]
fn each_example_site_comes_to_full_caps_by_its_evidence_before_its_sixth_day() {
    for (name, text) in [
        ("home pool", HOME_POOL),
        ("hotel spa", HOTEL_SPA),
        ("community pool", COMMUNITY_POOL),
        ("salt pool", SALT_POOL),
    ] {
        let mut pool = attach(&planned(text));
        let mut rungs = vec![];
        while pool.now_ms() < 5 * 24 * HOUR_MS {
            pool.run_for_ms(60_000);
            if rungs.last() != Some(&rung(&pool)) {
                rungs.push(rung(&pool));
            }
            let observes = rung(&pool) == Rung::ObserveOnly;
            assert!(
                !observes || fed(&pool) == 0.0,
                "{name}: fed while it observes"
            );
        }
        // Before a person starts it, it stands in the guard's own first stage.
        let steps = [Rung::ObserveOnly, Rung::Reduced, Rung::Full];
        assert!(
            rungs.ends_with(&steps),
            "{name}: {rungs:?}, {:?}",
            refusals(&pool)
        );
        assert_eq!(refusals(&pool), [""; 0], "{name}");
        assert_eq!(unproven(&pool), [], "{name}");
        assert!(!pool.truth().faulty, "{name}: all is put back");
    }
}

/// The home pool at the end of its first hours, without the round of its own.
fn observing(also: impl Fn(&mut Scenario)) -> Pool {
    let mut scenario = planned(HOME_POOL);
    let initialises = |act: &Act| matches!(act, Act::Person(PersonAct::Initialise(_)));
    scenario.events.retain(|event| initialises(&event.act));
    also(&mut scenario);
    let mut pool = attach(&scenario);
    pool.run_for_ms(9 * HOUR_MS);
    pool
}

fn round(pool: &mut Pool, of: ProofsOf) {
    let (by, act) = (Authority::Technician, CareAct::ProveAll(of));
    pool.act(Act::Person(PersonAct::Care { by, act }));
}

#[test]
fn a_dead_interlock_fails_and_the_round_goes_on_with_the_others() {
    let mut pool = observing(|_| ());
    pool.set_fault(PlantFault::PumpContactStuckOn);
    round(&mut pool, ProofsOf::WithoutFeed);
    pool.run_for_ms(2 * HOUR_MS);
    assert!(pool.unit().proof(Interlock::PumpContact).has_failed());
    let feedback = [0, 1].map(Interlock::Feedback);
    assert_eq!(
        unproven(&pool),
        [Interlock::PumpContact, feedback[0], feedback[1]]
    );
    assert_eq!(fed(&pool), 0.0, "a proof test without feed feeds nothing");
    pool.clear_fault(PlantFault::PumpContactStuckOn);
    pool.run_for_ms(60_000);
    assert!(!pool.truth().faulty, "what was tripped is put back");
}

#[test]
fn a_welded_series_contact_is_seen_by_the_person_who_pushes_a_contactor_in() {
    let mut pool = observing(|_| ());
    pool.set_fault(PlantFault::MasterWelded);
    round(&mut pool, ProofsOf::WithoutFeed);
    pool.run_for_ms(2 * HOUR_MS);
    let proof = |one| pool.unit().proof(one);
    assert!(proof(Interlock::MasterContact).has_failed());
    assert!(proof(Interlock::FlowSwitch).took_ms().is_some());
}

#[test]
fn a_power_cut_ends_the_test_under_way_and_the_interlock_is_put_back() {
    let mut pool = observing(|_| ());
    round(&mut pool, ProofsOf::WithoutFeed);
    while !pool.truth().faulty {
        pool.tick();
    }
    pool.cut_power(dosewarden_sim::scenario::Supply::Controller, 30_000);
    pool.run_for_ms(2 * HOUR_MS);
    assert!(!pool.truth().faulty);
    let first = unproven(&pool);
    assert_eq!(first.first(), Some(&Interlock::FlowSwitch), "{first:?}");
    assert!(
        !first.contains(&Interlock::LevelSwitch(0)),
        "the others went on"
    );
}
