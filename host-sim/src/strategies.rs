//! Proptest strategies for whole scenarios (feature `strategies`): random pools, limits, set
//! points, flow faults, power cuts and visits. Those of the plant alone stand in
//! [`crate::plant::strategies`].
//!
//! What comes out is a site that can be kept: its limits suit its water, and at no time do both
//! flow witnesses lie, which no controller could see.
//!
//! ```
//! use dosewarden_sim::strategies::any_scenario;
//! use dosewarden_sim::{DosewardenUnit, SimPool};
//! use proptest::prelude::*;
//! use proptest::test_runner::{Config, TestRunner};
//!
//! let mut runner = TestRunner::new(Config::with_cases(2));
//! let outcome = runner.run(&any_scenario(1), |scenario| {
//!     let unit = DosewardenUnit::for_scenario(&scenario);
//!     let mut pool = SimPool::attach(&scenario, unit).expect("a sound plant");
//!     pool.run_for_days(1);
//!     prop_assert!(!pool.finish().is_broken("standing_water"));
//!     Ok(())
//! });
//! assert!(outcome.is_ok(), "{outcome:?}");
//! ```

use dosewarden::guard::units::{Dose, MilliPh, Millis, Millivolts, Percent, Rate};
use dosewarden::guard::{
    Authority, BodyLimits, Cutoff, FeederLimits, FeederSpec, Fitted, Governor, Limits, LimitsSpec,
    Product, Remedy,
};
use dosewarden::regulate::{Band, Direction, SizedDose, Standard};
use proptest::prelude::*;

use crate::plant::strategies::any_spec;
use crate::plant::{FeederKind, PlantFault, PlantSpec};
use crate::scenario::{Act, Event, FeederPlan, PersonAct, Scenario, SiteLimits, Supply, Trigger};

const HOUR_MS: u64 = 3_600_000;
const DAY_MS: u64 = 24 * HOUR_MS;

/// Figures that shape a site's limits.
#[derive(Clone, Copy, Debug)]
struct Figures {
    cycle_s: u32,
    cycles_an_hour: u32,
    cycles_a_day: u32,
    hold_min: u32,
    prove_s: u32,
    settle_s: u32,
    delay_s: u32,
    resume_s: u32,
    gap_ms: u32,
    set_ph: i32,
    set_mv: i32,
}

fn any_figures() -> impl Strategy<Value = Figures> {
    (
        (40_u32..240, 2_u32..5, 8_u32..25, 3_u32..20),
        (5_u32..120, 10_u32..600, 10_u32..600, 0_u32..300),
        (1000_u32..2500, 7300_i32..7600, 690_i32..740),
    )
        .prop_map(|(caps, times, rest)| Figures {
            cycle_s: caps.0,
            cycles_an_hour: caps.1,
            cycles_a_day: caps.2,
            hold_min: caps.3,
            prove_s: times.0,
            settle_s: times.1,
            delay_s: times.2,
            resume_s: times.3,
            gap_ms: rest.0,
            set_ph: rest.1,
            set_mv: rest.2,
        })
}

/// Limits that a technician could have set for this plant.
fn limits(plant: &PlantSpec, figures: &Figures) -> SiteLimits {
    let base = Scenario::first_pool();
    let mut spec: LimitsSpec<4, 1> = *base.limits.spec();
    spec.tick_gap_max = Millis(figures.gap_ms);
    spec.witness_age_max = Millis(figures.gap_ms);
    spec.power_on_delay = Millis::from_secs(figures.delay_s);
    spec.power_on_delay_new_probe = Millis::from_secs(figures.delay_s * 2);
    spec.flow_prove = Millis::from_secs(figures.prove_s);
    spec.probe_settle = Millis::from_secs(figures.settle_s);
    spec.resume_within = Millis::from_secs(figures.resume_s);
    // Three volumes of the line, and what the fall of the flow takes.
    let circulation = &plant.circulation;
    let purge_s = circulation.line_volume_l * 180.0 / circulation.feed_min_l_min;
    spec.purge = Millis::from_secs(purge_s.ceil() as u32 + 10);
    for (slot, feeder) in spec.feeders.iter_mut().zip(&plant.feeders) {
        *slot = FeederLimits::Enabled(feeder_limits(&feeder.kind, figures));
    }
    Limits::try_new(spec).unwrap_or_else(|error| unreachable!("{error}: {figures:?}"))
}

fn feeder_limits(kind: &FeederKind, figures: &Figures) -> FeederSpec<1> {
    let base = Scenario::first_pool();
    let template = |index| match base.limits.spec().feeders[index] {
        FeederLimits::Enabled(spec) => spec,
        FeederLimits::Disabled => unreachable!("the first pool has two feeders"),
    };
    let (mut spec, per_hour): (FeederSpec<1>, f64) = match *kind {
        FeederKind::Acid { ml_per_min, .. } => (template(0), ml_per_min * 6e4),
        FeederKind::Hypochlorite { ml_per_min, .. } => (template(1), ml_per_min * 6e4),
        FeederKind::Generator { g_per_h, .. } => (template(1), g_per_h * 1e3),
    };
    let rate = Rate(per_hour.ceil() as u32);
    let cycle = rate.dose_ceil(Millis::from_secs(figures.cycle_s));
    let times = |n: u32| Dose(cycle.0.saturating_mul(n));
    if matches!(
        kind,
        FeederKind::Generator {
            cell_switch: true,
            ..
        }
    ) {
        spec.product = Product::GeneratedChlorine;
        spec.cell_flow_switch = Fitted::YES;
    }
    spec.level_switch = Fitted::NotFitted;
    spec.rate = rate;
    spec.rate_any_tube = rate.raised_ceil(Percent(50));
    spec.dose_min = Dose((cycle.0 / 10).max(1));
    spec.slice_max = cycle;
    spec.run_max = Millis::from_secs(figures.cycle_s * 2);
    let oxidiser = spec.governor == Governor::Orp;
    spec.bodies = [BodyLimits {
        cycle_cap: cycle,
        hour_cap: times(figures.cycles_an_hour),
        day_cap: times(figures.cycles_a_day),
        reduced_share: Percent(50),
        spread_hold: Millis::from_mins(figures.hold_min),
        cutoff: if oxidiser {
            Cutoff::Oxidiser {
                orp: Millivolts(figures.set_mv + 60),
                ph_floor: MilliPh(6800),
                ph_weak: MilliPh(7900),
                weak_share: Percent(50),
                orp_ph: MilliPh(7500),
                orp_fall: Millivolts(60),
            }
        } else {
            Cutoff::AbovePh(MilliPh(figures.set_ph - 200))
        },
        fallback: Fitted::NotFitted,
    }];
    spec
}

fn plans(plant: &PlantSpec, limits: &SiteLimits, figures: &Figures) -> Vec<FeederPlan> {
    let plan = |(index, feeder): (usize, &crate::plant::FeederSpec)| {
        let cycle = limits.body(index, 0).map_or(Dose(1), |body| body.cycle_cap);
        let made = match feeder.kind {
            FeederKind::Acid { .. } => {
                SizedDose::try_new(Direction::Lowers, figures.set_ph, 30, cycle, 50)
                    .map(Standard::from)
            }
            FeederKind::Hypochlorite { .. } => {
                SizedDose::try_new(Direction::Raises, figures.set_mv, 3, cycle, 10)
                    .map(Standard::from)
            }
            FeederKind::Generator { .. } => Band::try_new(
                Direction::Raises,
                figures.set_mv - 10,
                figures.set_mv,
                cycle,
            )
            .map(Standard::from),
        };
        FeederPlan {
            name: feeder.kind.product().name().replace(' ', "_"),
            regulator: made.unwrap_or_else(|error| unreachable!("{error}")),
        }
    };
    plant.feeders.iter().enumerate().map(plan).collect()
}

/// Flow faults that one of two witnesses can see, alone in their time.
fn any_flow_fault() -> impl Strategy<Value = Vec<PlantFault>> {
    prop_oneof![
        Just(vec![PlantFault::CirculationTripped]),
        Just(vec![
            PlantFault::CirculationTripped,
            PlantFault::FlowSwitchStuckOn
        ]),
        (0.0..1.0_f64).prop_map(|share| vec![PlantFault::FlowReduced(share)]),
        Just(vec![PlantFault::FlowSwitchStuckOn]),
        Just(vec![PlantFault::FlowSwitchStuckOff]),
        Just(vec![PlantFault::FlowSwitchChatters]),
        Just(vec![PlantFault::PumpContactStuckOn]),
        Just(vec![PlantFault::PumpContactStuckOff]),
    ]
}

fn any_supply() -> impl Strategy<Value = Supply> {
    prop_oneof![
        Just(Supply::All),
        Just(Supply::Controller),
        Just(Supply::Pump)
    ]
}

/// At any time, or as soon as a feeder has been on for some seconds.
fn any_cut(days: u64) -> impl Strategy<Value = Event> {
    let trigger = proptest::option::of((0_usize..2, 1_u32..60));
    (0..days * DAY_MS, trigger, any_supply(), 2_000..2 * HOUR_MS).prop_map(
        |(at_ms, trigger, supply, for_ms)| Event {
            trigger: trigger.map(|(feeder, s)| Trigger {
                feeder,
                for_ms: s * 1000,
            }),
            ..Event::at(at_ms, Act::PowerCut { supply, for_ms })
        },
    )
}

/// Up to one flow fault in each quarter of a day, so that none meets another.
fn any_faults(days: u64) -> impl Strategy<Value = Vec<Event>> {
    let quarter = 6 * HOUR_MS;
    let one =
        proptest::option::weighted(0.3, (any_flow_fault(), 0..quarter / 2, 5_000..quarter / 2));
    proptest::collection::vec(one, (days * 4) as usize).prop_map(move |quarters| {
        let mut events = Vec::new();
        for (index, fault) in quarters.into_iter().enumerate() {
            let Some((faults, from, for_ms)) = fault else {
                continue;
            };
            let at_ms = index as u64 * quarter + from;
            events.extend(faults.into_iter().map(|fault| {
                let for_ms = Some(for_ms);
                Event::at(at_ms, Act::Fault { fault, for_ms })
            }));
        }
        events
    })
}

/// A technician starts the unit, raises the stage, and comes by every three hours to release what
/// stands.
fn visits(days: u64) -> Vec<Event> {
    let by = Authority::Technician;
    let event = |at_ms, act| Event::at(at_ms, Act::Person(act));
    let mut events = vec![
        event(60_000, PersonAct::Initialise(by)),
        event(120_000, PersonAct::FullStage(by)),
    ];
    events.extend((1..days * 8).map(|visit| {
        let remedy = Some(Remedy::Line);
        let release = PersonAct::Release {
            by,
            lockout: None,
            pool_empty: true,
            remedy,
        };
        event(visit * 3 * HOUR_MS, release)
    }));
    events
}

/// A scenario of `days`, 1 and up, that a sound controller keeps.
///
/// # Panics
/// Never with the strategies that it is made of.
pub fn any_scenario(days: u32) -> impl Strategy<Value = Scenario> {
    let long = u64::from(days.max(1));
    let cuts = proptest::collection::vec(any_cut(long), 0..4);
    (
        any_spec(),
        any_figures(),
        any_faults(long),
        cuts,
        any::<u32>(),
    )
        .prop_map(move |(mut plant, figures, faults, cuts, seed)| {
            // The sites of this strategy have both witnesses, and drives that stop in time.
            plant.circulation.pump_contact = true;
            plant.circulation.flow_meter = false;
            let limits = limits(&plant, &figures);
            let mut scenario = Scenario::first_pool();
            scenario.feeders = plans(&plant, &limits, &figures);
            let starts_ms = u64::from(plant.start_min) * 60_000;
            scenario.events = visits(long).into_iter().chain(faults).chain(cuts).collect();
            for event in &mut scenario.events {
                event.at_ms += starts_ms;
            }
            scenario.events.sort_by_key(|event| event.at_ms);
            scenario.held_to.acid_wanted_above_ph = Some(f64::from(figures.set_ph) / 1000.0 + 0.1);
            // Free chlorine that reads below the set point even at low pH, where most of it is HOCl.
            let basin = &plant.bodies[0];
            let below_mv = f64::from(figures.set_mv) - 20.0 - basin.orp_at_1_mg_l_mv;
            let hocl_mg_l = libm::pow(10.0, below_mv / basin.orp_per_decade_mv);
            scenario.held_to.chlorine_wanted_below_mg_l = Some(hocl_mg_l / 0.9);
            scenario.held_to.chlorine_min_mg_l = 0.0;
            scenario.name = "a random site".to_owned();
            scenario.days = days.max(1);
            scenario.seed = u64::from(seed);
            scenario.limits = limits;
            scenario.plant = plant;
            scenario
        })
}
