//! What is counted in stretches, against a count of each tick.

use super::*;
use crate::unit::DosewardenUnit;

/// A day with two alarms, refusals and doses: what is counted when it changes is what each tick would count.
#[test]
fn what_is_counted_in_stretches_is_what_each_tick_shows() {
    let scenario = Scenario::first_pool();
    let unit = DosewardenUnit::for_scenario(&scenario);
    let (reasons, alarms) = (unit.refusal_names().len(), unit.alarm_names().len());
    let mut pool = SimPool::attach(&scenario, unit).expect("a sound plant");
    let mut watch = Watch::new(&scenario, 1, reasons, alarms);
    let mut refused = vec![vec![(0_u64, 0_u64); reasons]; scenario.feeders.len()];
    let mut phases = vec![[0_u64; PHASES.len()]; scenario.feeders.len()];
    let mut stood = vec![(0_u64, 0_u32, [0_u64; ALARM_STATES.len()]); alarms];
    let mut before = 0;
    for second in 0..86_400 {
        if second == 40_000 {
            pool.cut_power(crate::scenario::Supply::Controller, 60_000);
        }
        pool.tick();
        watch.look(&pool);
        let status = *pool.status();
        for (at, feeder) in status.feeders.iter().enumerate().take(refused.len()) {
            for bit in bits(feeder.refusing) {
                refused[at][bit].0 += 1000;
                refused[at][bit].1 += 1000 * u64::from(feeder.asked);
            }
            if let Some(phase) = feeder.phase {
                phases[at][phase_at(phase)] += 1000;
            }
        }
        for bit in bits(status.alarms) {
            stood[bit].0 += 1000;
            stood[bit].1 += u32::from(before >> bit & 1 == 0);
        }
        for (state, set) in status.alarm_states.0.into_iter().enumerate() {
            bits(set).for_each(|bit| stood[bit].2[state] += 1000);
        }
        before = status.alarms;
    }
    watch.end();
    let counted: Vec<Vec<(u64, u64)>> = watch
        .refusals
        .iter()
        .map(|one| {
            one.ms
                .iter()
                .copied()
                .zip(one.asked_ms.iter().copied())
                .collect()
        })
        .collect();
    assert_eq!(counted, refused);
    let counted: Vec<[u64; PHASES.len()]> = watch
        .phases
        .iter()
        .map(|all| all.each_ref().map(|one| one.ms))
        .collect();
    assert_eq!(counted, phases);
    let counted: Vec<(u64, u32, [u64; ALARM_STATES.len()])> = watch
        .alarms
        .iter()
        .map(|one| {
            (
                one.ms,
                one.times,
                one.states.each_ref().map(|state| state.ms),
            )
        })
        .collect();
    assert_eq!(counted, stood);
    assert!(stood.iter().any(|one| one.1 > 0) && phases.iter().all(|one| one[2] > 0));
}
