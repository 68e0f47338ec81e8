//! A pool and a spa on one pump: what is fed where, by the plant's truth.

use dosewarden::guard::Authority;
use dosewarden::guard::units::Dose;
use dosewarden_sim::fault::{Chosen, Part, Place, find};
use dosewarden_sim::plant::{Commands, PlantFault, Senses, ValvesSpec};
use dosewarden_sim::scenario::{Act, PersonAct, Poured, Scenario, ToBody};
use dosewarden_sim::unit::{Reply, UnitStatus};
use dosewarden_sim::{ControlUnit, DosewardenUnit, SimPool};

use crate::common::{attached, told};

const POOL_AND_SPA: &str = include_str!("../../../examples/scenarios/pool-and-spa.toml");
const HOUR_MS: u64 = 3_600_000;
const DAY_MS: u64 = 24 * HOUR_MS;
const POOL: usize = 0;
const SPA: usize = 1;

fn scenario() -> Scenario {
    Scenario::parse("pool-and-spa.toml", POOL_AND_SPA).unwrap_or_else(|error| panic!("{error}"))
}

/// What was fed in a tick.
fn fed(pool: &SimPool<impl ControlUnit>) -> f64 {
    pool.truth().feeders.iter().map(|feeder| feeder.fed).sum()
}

fn run(pool: &mut SimPool<impl ControlUnit>, scenario: &Scenario) -> Vec<&'static str> {
    pool.run_for_ms(scenario.run_ms() - pool.now_ms());
    pool.finish().broken().collect()
}

#[test]
fn each_body_gets_its_own_and_no_oracle_is_broken() {
    let scenario = scenario();
    let mut pool = attached(&scenario);
    let mut into = [[0.0; 2]; 2];
    let (mut turns, mut cut) = (0, 0);
    let mut driven = false;
    while pool.now_ms() < scenario.run_ms() {
        let before = pool.truth().body;
        pool.tick();
        let truth = pool.truth();
        for (sum, feeder) in into[truth.body].iter_mut().zip(&truth.feeders) {
            *sum += feeder.fed;
        }
        turns += usize::from(truth.body != before);
        let stuck = 3 * DAY_MS + 10 * HOUR_MS + 12_000..3 * DAY_MS + 15 * HOUR_MS;
        if stuck.contains(&pool.clock_ms()) {
            assert_eq!(fed(&pool), 0.0, "the valves stick halfway");
        }
        let drives = |pool: &SimPool<DosewardenUnit>| {
            let mut feeders = pool.truth().feeders.iter();
            feeders.any(|feeder| feeder.drive_on)
        };
        let seen = pool.unit().controller_of_two().expect("it has power");
        let travels = seen.guard().state().steady.0 == 0;
        cut += usize::from(driven && travels && !drives(&pool));
        driven = drives(&pool);
    }
    assert_eq!(
        pool.finish().broken().collect::<Vec<_>>(),
        Vec::<&str>::new()
    );
    assert!(into.iter().flatten().all(|fed| *fed > 10_000.0), "{into:?}");
    assert!(turns >= 12, "{turns} turns");
    assert!(
        cut >= 3,
        "{cut} doses were cut by valves that began to travel"
    );
}

#[test]
fn the_hold_of_a_body_goes_on_where_it_was_left() {
    let mut scenario = scenario();
    scenario
        .events
        .retain(|event| event.at_ms < 2 * DAY_MS && !matches!(event.act, Act::TurnValves(_)));
    let mut pool = attached(&scenario);
    // Until a dose of acid has ended in the pool.
    pool.run_for_ms(DAY_MS + 8 * HOUR_MS);
    while !pool.truth().feeders[0].drive_on {
        pool.tick();
    }
    while pool.truth().feeders[0].drive_on {
        pool.tick();
    }
    pool.run_for_ms(3 * 60_000);
    let since = |pool: &SimPool<DosewardenUnit>| {
        let controller = pool.unit().controller_of_two().expect("it has power");
        controller.guard().state().since_cycle[0].map(|ms| ms.0)
    };
    let [left, _] = since(&pool);
    assert!(left < 10 * 60_000, "the hold runs");
    let fed_before = pool.truth().feeders[0].fed_total;
    pool.act(Act::TurnValves(SPA));
    pool.run_for_ms(30 * 60_000);
    let [in_pool, in_spa] = since(&pool);
    assert!(
        in_pool < left + 60_000,
        "half an hour of the spa is none of the pool: {in_pool}"
    );
    assert!(in_spa < 30 * 60_000, "the spa has its own: {in_spa}");
    assert!(
        pool.truth().feeders[0].fed_total > fed_before,
        "fed there meanwhile"
    );
    assert_eq!(pool.truth().body, SPA);
}

/// Ours, told that the first body is selected whatever the valves say.
struct IgnoresBody(DosewardenUnit);

impl ControlUnit for IgnoresBody {
    fn power_up(&mut self) {
        self.0.power_up();
    }
    fn power_down(&mut self) {
        self.0.power_down();
    }
    fn time_passes(&mut self, true_ms: u32) {
        self.0.time_passes(true_ms);
    }
    fn tick(&mut self, dt_ms: u32, senses: &Senses) -> Commands {
        let senses = Senses {
            body: Some(POOL),
            ..*senses
        };
        self.0.tick(dt_ms, &senses)
    }
    fn person(&mut self, act: &PersonAct) -> Reply {
        self.0.person(act)
    }
    fn late_reply(&mut self) -> Option<Reply> {
        self.0.late_reply()
    }
    fn status(&self) -> UnitStatus {
        self.0.status()
    }
    fn refusal_names(&self) -> &[String] {
        self.0.refusal_names()
    }
    fn alarm_names(&self) -> &[String] {
        self.0.alarm_names()
    }
}

#[test]
fn a_unit_that_ignores_the_body_is_caught() {
    let scenario = scenario();
    let unit = IgnoresBody(DosewardenUnit::for_scenario(&scenario));
    let mut pool = SimPool::attach(&scenario, unit).expect("a sound plant");
    let broken = run(&mut pool, &scenario);
    for oracle in ["body_flushed", "cycle_total"] {
        assert!(broken.contains(&oracle), "{oracle} not in {broken:?}");
    }
}

#[test]
fn a_unit_that_is_not_told_feeds_a_pools_dose_into_the_spa() {
    let mut scenario = scenario();
    scenario.limits_of_two = None;
    scenario.plant.valves = scenario.plant.valves.map(|valves| ValvesSpec {
        position: false,
        ..valves
    });
    let mut pool = attached(&scenario);
    assert!(pool.unit().controller_of_two().is_none());
    let broken = run(&mut pool, &scenario);
    assert!(broken.contains(&"body_flushed"), "{broken:?}");
}

#[test]
fn switches_that_lie_are_beyond_the_unit_and_caught_by_the_oracle() {
    let mut scenario = scenario();
    scenario
        .events
        .retain(|event| event.at_ms < DAY_MS + 8 * HOUR_MS);
    let mut pool = attached(&scenario);
    pool.run_for_ms(DAY_MS + 8 * HOUR_MS);
    pool.set_fault(PlantFault::PositionStuck);
    pool.run_for_ms(HOUR_MS);
    assert!(!pool.findings().is_broken("body_flushed"));
    while !pool.truth().feeders[0].drive_on {
        pool.tick();
    }
    pool.act(Act::TurnValves(SPA));
    pool.run_for_ms(60_000);
    assert!(pool.findings().is_broken("body_flushed"));
}

#[test]
fn what_is_poured_in_goes_to_the_body_that_is_named() {
    let mut pool = attached(&scenario());
    let alkalinity = |pool: &SimPool<DosewardenUnit>| {
        [POOL, SPA].map(|body| pool.truth().bodies[body].alkalinity_mg_l)
    };
    let pour = |body| {
        let (what, amount) = (Poured::Bicarbonate, 1_000);
        let what = ToBody::Pour { what, amount };
        Act::Person(PersonAct::ToBody { body, what })
    };
    pool.run_for_ms(1_000);
    let [in_pool, in_spa] = alkalinity(&pool);
    pool.act(pour(SPA));
    pool.run_for_ms(1_000);
    let [same, more] = alkalinity(&pool);
    assert!((same - in_pool).abs() < 0.01);
    // 11.9 eq in 3 m3, 50.04 mg a meq.
    assert!((more - in_spa - 198.6).abs() < 1.0, "{in_spa} to {more}");
    let act = PersonAct::ToBody {
        body: SPA,
        what: ToBody::ExchangeWater(2_000),
    };
    pool.act(Act::Person(act));
    pool.run_for_ms(1_000);
    let [same, less] = alkalinity(&pool);
    assert!(
        (same - in_pool).abs() < 0.01 && less < more - 50.0,
        "{less}"
    );
}

/// mL of acid fed in each body in so long, after a person has entered a day's acid for the pool, saying into which body.
fn after_a_day_by_hand(body: Option<usize>) -> [f64; 2] {
    let mut pool = attached(&scenario());
    pool.run_for_ms(DAY_MS + 8 * HOUR_MS);
    assert_eq!(pool.truth().body, POOL);
    let by_hand = PersonAct::HandDose {
        by: Authority::Owner,
        feeder: 0,
        dose: Dose::from_ml(3000),
        body,
    };
    assert_eq!(told(&mut pool, by_hand), None);
    let mut into = [0.0; 2];
    for to in [SPA, POOL] {
        pool.act(Act::TurnValves(to));
        let end = pool.now_ms() + 5 * HOUR_MS;
        while pool.now_ms() < end {
            pool.tick();
            into[pool.truth().body] += pool.truth().feeders[0].fed / 1000.0;
        }
    }
    into
}

#[test]
fn a_dose_by_hand_into_the_pool_does_not_starve_the_spa() {
    let [pool, spa] = after_a_day_by_hand(Some(POOL));
    assert_eq!(pool, 0.0, "its day is used up");
    assert!(spa > 5.0, "{spa} mL");
    let [pool, spa] = after_a_day_by_hand(Some(SPA));
    assert!(pool > 5.0, "{pool} mL");
    assert_eq!(spa, 0.0);
    assert_eq!(
        after_a_day_by_hand(None),
        [0.0; 2],
        "nobody says into which"
    );
}

#[test]
fn a_visit_tests_the_body_that_it_names() {
    let visits = scenario()
        .events
        .into_iter()
        .filter_map(|event| match event.act {
            Act::Visit(visit) => Some(visit.body),
            _ => None,
        });
    assert_eq!(visits.collect::<Vec<_>>(), [Some(POOL), Some(SPA)]);
    // The spa's water is half as hard to find: its alkalinity is tested, and not the pool's.
    let mut scenario = scenario();
    scenario.plant.bodies[SPA].water.alkalinity_mg_l = 60.0;
    scenario
        .events
        .retain(|event| matches!(event.act, Act::Visit(_)));
    let mut pool = attached(&scenario);
    pool.run_for_ms(2 * DAY_MS + 15 * HOUR_MS);
    let [in_pool, in_spa] = [POOL, SPA].map(|body| pool.truth().bodies[body].alkalinity_mg_l);
    assert!((in_pool - 100.0).abs() < 15.0, "{in_pool}");
    assert!((in_spa - 100.0).abs() < 15.0, "made up from 60: {in_spa}");
}

#[test]
fn valves_turned_by_a_fault_of_the_catalogue_are_survived() {
    for severity in [0.2, 0.6, 1.0] {
        let mut scenario = scenario();
        scenario
            .events
            .retain(|event| event.at_ms < 2 * DAY_MS && !matches!(event.act, Act::TurnValves(_)));
        scenario.days = 2;
        for plan in &mut scenario.bodies {
            plan.kept = None; // two hours of the spa are not what it was planned for
        }
        let chosen = Chosen {
            fault: find("H13").expect("in the catalogue"),
            part: Part::Site,
            severity,
            at_ms: DAY_MS + 9 * HOUR_MS,
            for_ms: None,
        };
        chosen.put_into(&mut scenario).expect("two bodies");
        let mut pool = attached(&scenario);
        let mut turned = false;
        while pool.now_ms() < scenario.run_ms() {
            pool.tick();
            turned |= pool.truth().body == SPA;
        }
        assert!(turned, "severity {severity}");
        let findings = pool.finish();
        assert!(
            findings.held(),
            "{:?}",
            findings.broken().collect::<Vec<_>>()
        );
    }
}

#[test]
fn valves_that_are_turned_back_on_the_way_owe_a_purge_too() {
    let mut scenario = scenario();
    scenario
        .events
        .retain(|event| event.at_ms < DAY_MS + 8 * HOUR_MS);
    let mut pool = attached(&scenario);
    pool.run_for_ms(DAY_MS + 8 * HOUR_MS);
    let mut came = 0;
    for _ in 0..4 {
        while !pool.truth().feeders.iter().any(|feeder| feeder.drive_on) {
            pool.tick();
        }
        pool.act(Act::TurnValves(SPA));
        pool.run_for_ms(20_000);
        came += usize::from(pool.truth().body == SPA);
        pool.act(Act::TurnValves(POOL));
        pool.run_for_ms(10 * 60_000);
        assert_eq!(pool.truth().body, POOL);
    }
    assert_eq!(came, 4, "past halfway each time");
    assert!(
        !pool.findings().is_broken("body_flushed"),
        "{:?}",
        pool.findings()
    );
}

/// The valves may have selected either body when a person comes with a pool's amount.
#[test]
fn what_faults_pour_or_exchange_goes_into_the_body_that_it_was_sized_by() {
    let (two, one) = (scenario(), Scenario::first_pool());
    for id in ["C6", "C9", "C12", "U11"] {
        let fault = find(id).expect("a fault");
        let acts = |scenario: &Scenario| {
            let place = Place {
                scenario,
                part: fault.parts_of(scenario)[0],
                severity: 1.0,
                at_ms: 0,
            };
            let made = fault.make(&place).expect("it can be made");
            made.steps.iter().map(|step| step.act).collect::<Vec<_>>()
        };
        let is_named = |act: &Act| matches!(act, Act::Person(PersonAct::ToBody { body: POOL, .. }));
        assert!(acts(&two).iter().all(is_named), "{id}: {:?}", acts(&two));
        assert!(!acts(&one).iter().any(is_named), "{id}: {:?}", acts(&one));
    }
}
