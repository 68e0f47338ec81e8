//! A step of the plant allocates nothing, and a tick of the whole loop only when something is written or told: counted by an
//! allocator that counts.

use allocation_counter::measure;
use dosewarden_sim::plant::{Commands, FeederCommand, Plant};
use dosewarden_sim::{DosewardenUnit, Scenario, SimPool};

const HOUR_S: u32 = 3_600;

/// Both products in turn for a minute each, with a pause, as long as the pump may run.
fn commands(second: u32) -> Commands {
    let mut commands = Commands::IDLE;
    let feeder = match second % 1_800 {
        0..60 => Some(0),
        900..960 => Some(1),
        _ => None,
    };
    if let Some(feeder) = feeder {
        commands.feeders[feeder] = FeederCommand::ON;
        commands.master = true;
    }
    commands
}

#[test]
fn a_step_of_the_plant_allocates_nothing() {
    let scenario = Scenario::first_pool();
    let mut plant = Plant::new(scenario.plant, 1).expect("a sound plant");
    let mut fed = 0_u32;
    let seen = measure(|| {
        // A day and an hour, so that the pump stops and starts, and everything of a day comes.
        for second in 0..25 * HOUR_S {
            plant.step(1_000, &commands(second));
            let feeders = &plant.truth().feeders;
            fed += u32::from(feeders.iter().any(|feeder| feeder.fed > 0.0));
        }
    });
    assert!(fed > 1_000, "it was fed: {fed}");
    assert_eq!(seen.count_total, 0, "allocations in 90,000 steps");
}

#[test]
fn a_tick_of_the_loop_allocates_only_when_something_is_written_or_told() {
    let scenario = Scenario::first_pool();
    let unit = DosewardenUnit::for_scenario(&scenario);
    let mut pool = SimPool::attach(&scenario, unit).expect("a sound plant");
    pool.run_for_ms(26 * u64::from(HOUR_S) * 1_000);
    let ticks = 20 * HOUR_S;
    let (mut with, mut fed) = (0_u32, 0_u32);
    for _ in 0..ticks {
        with += u32::from(measure(|| pool.tick()).count_total > 0);
        fed += u32::from(pool.truth().feeders.iter().any(|feeder| feeder.fed > 0.0));
    }
    assert!(fed > 60, "it was fed: {fed}");
    assert!(with * 50 < ticks, "{with} of {ticks} ticks allocate");
}
