//! What a simulated second costs, part by part, each beside a yardstick that is measured in the
//! same run: the ratios compare between machines and from day to day, the nanoseconds do not.
//!
//! `cargo bench -p dosewarden-sim --bench parts`

use std::cell::RefCell;
use std::hint::black_box;
use std::time::{Duration, Instant};

use criterion::Criterion;
use dosewarden::guard::units::{Dose, MilliPh, Millis, Millivolts};
use dosewarden::guard::{
    Action, Authority, Facts, FeedRequest, FeederFacts, Guard, Inhibits, Mode, PersonAction,
    Reading, Stage, TickClock,
};
use dosewarden::regulate::Standard;
use dosewarden::{Act, CareSettings, Controller, Inputs, Person};
use dosewarden_sim::plant::{Commands, FeederCommand, MAX_FEEDERS, Plant};
use dosewarden_sim::water::{Reagent, WaterTest};
use dosewarden_sim::{DosewardenUnit, Scenario, SimPool};

const MORNING_MIN: u16 = 9 * 60;
const SECONDS_A_YEAR: f64 = 365.0 * 86_400.0;
const PERSONS: [Action; 2] = [Action::Initialise, Action::SetStage(Stage::Full)];

/// The fastest sample of each part, ns: what other programs on the machine disturb least.
#[derive(Default)]
struct Figures(RefCell<Vec<(&'static str, f64)>>);

impl Figures {
    /// Measures what `start` makes ready, anew for each sample: a pool must not grow old in it.
    fn part<F: FnMut()>(
        &self,
        criterion: &mut Criterion,
        name: &'static str,
        start: impl Fn() -> F,
    ) {
        let mut best = Duration::MAX.as_nanos() as f64;
        criterion.bench_function(name, |bench| {
            bench.iter_custom(|times| {
                let mut step = start();
                let began = Instant::now();
                for _ in 0..times {
                    step();
                }
                let took = began.elapsed();
                best = best.min(took.as_nanos() as f64 / times as f64);
                took
            });
        });
        self.0.borrow_mut().push((name, best));
    }

    fn print(&self) {
        let all = self.0.borrow();
        let Some((_, yardstick)) = all.first() else {
            return;
        };
        println!("\n{:<34}{:>10}{:>16}", "part", "ns", "of yardstick");
        for (name, ns) in all.iter() {
            println!("{name:<34}{ns:>10.0}{:>16.2}", ns / yardstick);
        }
        if let Some((_, ns)) = all.last() {
            let year_s = ns * SECONDS_A_YEAR / 1e9;
            println!("a pool-year at a tick of 1 s: {year_s:.1} s on one core");
        }
    }
}

/// Fixed work of whole numbers and fractions that nothing of ours takes part in.
fn yardstick() -> impl FnMut() {
    let mut x = 0x9E37_79B9_7F4A_7C15_u64;
    move || {
        let mut sum = 0.0_f64;
        for _ in 0..50 {
            x ^= x << 13;
            x ^= x >> 7;
            x ^= x << 17;
            sum += (x >> 40) as f64 / (1.0 + sum * sum);
        }
        black_box(sum);
    }
}

fn solve() -> impl FnMut() {
    let test = WaterTest {
        ph: 7.6,
        cya_mg_l: 50.0,
        borate_mg_l: 50.0,
        chlorine_mg_l: 3.0,
        ..WaterTest::of(27.0, 100.0, 300.0, 1500.0)
    };
    let mut water = test.water().expect("a water");
    let eq = water.equilibrium();
    let mut solved = eq.solve(&water);
    let mut dose = 1.7e-7;
    move || {
        // And back, so that the water stays one water.
        water.add(Reagent::HYDROCHLORIC, dose);
        dose = -dose;
        solved = eq.solve_from(black_box(&water), &solved);
    }
}

/// Water that both products are wanted for, everything else as it should be.
fn facts() -> Facts<MAX_FEEDERS> {
    let feeder = FeederFacts {
        feedback: Reading::now(Millis(0)),
        stock: Reading::now(true),
        cell_flow: Reading::now(true),
        hold_to_run: Reading::now(false),
    };
    Facts {
        flow_switch: Reading::now(true),
        pump_run: Reading::now(true),
        ph: Reading::now(MilliPh(7600)),
        orp: Reading::now(Millivolts(650)),
        inhibits: Inhibits::NONE,
        feeders: [feeder; MAX_FEEDERS],
        ..Facts::UNKNOWN
    }
}

fn guard_tick() -> impl FnMut() {
    let scenario = Scenario::first_pool();
    let (mut guard, _) =
        Guard::<MAX_FEEDERS, 1, 7, 25>::restore(scenario.limits.clone(), None, None);
    let (mut clock, mut now_ms, mut facts) = (TickClock::new(), 0_u32, facts());
    let mut persons = PERSONS.into_iter();
    let mut requests = [FeedRequest::NONE; MAX_FEEDERS];
    requests[0] = FeedRequest {
        dose: Dose::from_ml(50),
        mode: Mode::Automatic,
    };
    let mut record = [0; 2048];
    move || {
        now_ms = now_ms.wrapping_add(1000);
        let action = persons.next().map(|action| PersonAction {
            by: Authority::Technician,
            action,
        });
        let verdict = guard.judge(clock.step(now_ms), facts, black_box(requests), action);
        if verdict.decision().save {
            facts.saved = guard.seal_record(&mut record).ok();
        }
    }
}

fn controller_tick() -> impl FnMut() {
    let scenario = Scenario::first_pool();
    let regulators: [Standard; MAX_FEEDERS] = std::array::from_fn(|index| {
        let plan = scenario.feeders.get(index);
        plan.map_or(Standard::Never, |plan| plan.regulator)
    });
    let (mut controller, _) = Controller::<MAX_FEEDERS, 1, 7, 25, Standard>::restore(
        scenario.limits.clone(),
        scenario.settings,
        regulators,
        None,
        None,
    );
    controller.set_care(CareSettings::NONE);
    let (mut clock, mut now_ms) = (TickClock::new(), 0_u32);
    let mut inputs = Inputs::new(facts());
    let mut persons = PERSONS.into_iter();
    let mut record = [0; 2048];
    move || {
        now_ms = now_ms.wrapping_add(1000);
        inputs.person = persons.next().map(|action| Person {
            by: Authority::Technician,
            act: Act::Guard(action),
        });
        let save = controller.tick(clock.step(now_ms), &inputs).save;
        if save {
            inputs.facts.saved = controller.seal_record(&mut record).ok();
        }
    }
}

/// A morning with the pump on; `fed` drives the first feeder.
fn plant_step(fed: bool) -> impl FnMut() {
    let mut spec = Scenario::first_pool().plant;
    spec.start_min = MORNING_MIN;
    let mut plant = Plant::new(spec, 1).expect("a sound specification");
    let mut commands = Commands {
        master: true,
        ..Commands::IDLE
    };
    if fed {
        commands.feeders[0] = FeederCommand::ON;
    }
    for _ in 0..60 {
        plant.step(1000, &commands);
    }
    move || plant.step(1000, black_box(&commands))
}

fn closed_loop() -> impl FnMut() {
    let scenario = Scenario::first_pool();
    let unit = DosewardenUnit::for_scenario(&scenario);
    let mut pool = SimPool::attach(&scenario, unit).expect("a sound specification");
    pool.run_for_ms(u64::from(MORNING_MIN) * 60_000);
    move || pool.tick()
}

fn main() {
    let mut criterion = Criterion::default()
        .warm_up_time(Duration::from_secs(1))
        .measurement_time(Duration::from_secs(3))
        .configure_from_args();
    let figures = Figures::default();
    figures.part(&mut criterion, "yardstick", yardstick);
    figures.part(&mut criterion, "chemistry solve, warm", solve);
    figures.part(&mut criterion, "guard tick", guard_tick);
    figures.part(&mut criterion, "controller tick", controller_tick);
    figures.part(&mut criterion, "plant step", || plant_step(false));
    figures.part(&mut criterion, "plant step, acid fed", || plant_step(true));
    figures.part(&mut criterion, "closed loop with oracles", closed_loop);
    criterion.final_summary();
    figures.print();
}
