//! A tick allocates nothing, whatever happens in it: counted by an allocator that counts.

#![allow(
    clippy::expect_used,
    clippy::arithmetic_side_effects,
    reason = "a test that panics has failed, as it should"
)]

mod pool;

use std::hint::black_box;

use allocation_counter::measure;
use dosewarden::guard::units::{Dose, Millis};
use dosewarden::guard::{Action, Authority, Facts, Health, Inhibits, Lockout};
use dosewarden::{Act, Inputs, Person};

use pool::{Pool, wanting};

#[test]
fn the_counter_counts() {
    assert_eq!(measure(|| drop(black_box(vec![1_u8; 100]))).count_total, 1);
}

/// What happens to the pool in its day, by the second.
fn happens(second: u32, pool: &mut Pool) {
    let act = |act| {
        Some(Person {
            by: Authority::Technician,
            act,
        })
    };
    pool.inputs.person = match second {
        5000 => act(Act::ReadLevel {
            feeder: 0,
            level: Dose::from_ml(2100),
        }),
        9000 => act(Act::AcknowledgeAll),
        9500 => act(Act::Guard(Action::Release {
            lockout: Lockout::EmergencyStop,
            feeder: 0,
            pool_empty: true,
            remedy: None,
        })),
        _ => None,
    };
    match second {
        6000 => pool.inputs.facts.ph.health = Health::Failure,
        7000 => pool.inputs.facts.inhibits = Inhibits::EMERGENCY_STOP,
        9400 => pool.inputs = wanting(),
        12_000 => pool.inputs = Inputs::new(Facts::UNKNOWN),
        13_000 => pool.inputs = wanting(),
        16_000 => pool.inputs.pump_stops_in = Some(Millis(60_000)),
        17_000 => pool.inputs.pump_stops_in = None,
        _ => {}
    }
}

#[test]
fn a_tick_allocates_nothing() {
    let mut pool = Pool::begun();
    let (mut fed, mut reasons) = (0_u32, 0_usize);
    let seen = measure(|| {
        for second in 0..20_000 {
            happens(second, &mut pool);
            fed += u32::from(pool.tick());
            for feeder in 0..2 {
                reasons += pool.controller.why(feeder).map_or(0, Iterator::count);
            }
            if second % 100 == 0 {
                reasons += pool.controller.alarms().listed().count();
                pool.controller.events_mut().take_oldest();
            }
        }
    });
    assert!(fed > 500 && reasons > 20_000, "it lived: {fed}, {reasons}");
    assert_eq!(seen.count_total, 0, "allocations in 20,000 ticks");
}
