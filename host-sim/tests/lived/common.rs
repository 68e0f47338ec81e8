//! Pools of our unit, and what it answers to a person.

use dosewarden_sim::pool::LogWhat;
use dosewarden_sim::scenario::{Act, PersonAct, Scenario};
use dosewarden_sim::unit::Reply;
use dosewarden_sim::{DosewardenUnit, SimPool};

const HOUR_MS: u64 = 3_600_000;

/// A pool of our unit.
pub(crate) type Pool = SimPool<DosewardenUnit>;

/// The pool of a scenario, before its first tick.
pub(crate) fn attached(scenario: &Scenario) -> Pool {
    let unit = DosewardenUnit::for_scenario(scenario);
    SimPool::attach(scenario, unit).expect("a sound plant")
}

/// The first pool on the morning of day 2, in full caps, its pH probe off by `offset`.
pub(crate) fn morning(offset: f64) -> Pool {
    let mut scenario = Scenario::first_pool();
    scenario.plant.ph_probe.offset = offset;
    scenario.events.retain(|event| {
        matches!(
            event.act,
            Act::Person(PersonAct::Initialise(_) | PersonAct::FullStage(_))
        )
    });
    let mut pool = attached(&scenario);
    pool.run_for_ms(34 * HOUR_MS);
    pool
}

/// Why an act was refused; `None` if it was done.
#[track_caller]
pub(crate) fn told(pool: &mut Pool, act: PersonAct) -> Option<String> {
    pool.act(Act::Person(act));
    pool.run_for_ms(2_000);
    let reply = pool.log().iter().rev().find_map(|line| match &line.what {
        LogWhat::Reply(reply) => Some(reply.clone()),
        _ => None,
    });
    match reply {
        Some(Reply::Done) => None,
        Some(Reply::Refused(why)) => Some(why),
        other => panic!("{other:?}"),
    }
}
