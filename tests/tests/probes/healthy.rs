//! False alarms: a year of healthy water, five seeds, and no probe is said to be anything but in
//! order, ages apart.

use std::collections::BTreeMap;

use dosewarden::guard::Authority;
use dosewarden::guard::units::Millis;
use dosewarden::probe::{
    Buffer, CentiCelsius, ConditionSpec, Finding, OrpProbe, PhProbe, ProbeLog, Solution, Trend,
};
use dosewarden_sim::plant::{LoneProbe, ProbeId, ProbeSpec};

use crate::rig::{
    Circuit, NO_TRIM, checked, in_buffer, input, nernst_uv, orp_setup, perfect, ph_setup, settled,
};
use crate::water;
use crate::wires;

const YEAR_S: u32 = 365 * 86_400;
const SEEDS: [u64; 5] = [1, 2, 3, 4, 5];
const VISIT_DAYS: u32 = 60;

/// What was found in how many ticks.
#[derive(Default)]
struct Found(BTreeMap<String, u32>);

impl Found {
    fn add(&mut self, finding: Finding) {
        if finding != Finding::Fine {
            *self.0.entry(format!("{finding:?}")).or_default() += 1;
        }
    }
}

fn ph_year(seed: u64, tick_ms: u32, noise: f64) -> Found {
    let spec = ProbeSpec {
        lag_s: 15.0,
        noise,
        offset: 0.0,
    };
    let setup = ph_setup(ConditionSpec::PH);
    let mut plant = LoneProbe::new(ProbeId::Ph, &spec, water::at(0).ph, seed);
    let mut circuit = Circuit::new(true, 1000);
    let mut probe = PhProbe::new(Some(perfect()), NO_TRIM);
    let (mut trend, mut log) = (Trend::NEW, ProbeLog::new());
    let mut found = Found::default();
    let mut worst = 0.0_f64;
    let ticks = u64::from(YEAR_S) * 1000 / u64::from(tick_ms);
    let visit_ticks = u64::from(VISIT_DAYS) * 86_400_000 / u64::from(tick_ms);
    for tick in 1..=ticks {
        let s = (tick * u64::from(tick_ms) / 1000) as u32;
        let water = water::at(s);
        let sense = plant.step(tick_ms, water.ph);
        let uv = (7.0 - sense.value) * nernst_uv(water.celsius);
        let seen = circuit.seen(tick_ms, &wires(&sense), uv, false);
        let out = probe.tick(
            &setup,
            Millis(tick_ms),
            &input(seen, water.celsius, water.is_steady),
        );
        found.add(out.finding);
        if water.is_steady {
            worst = worst.max((f64::from(out.reading.value.0) / 1000.0 - water.ph).abs());
        }
        if tick % visit_ticks == 0 {
            let at = |buffer| in_buffer(buffer, 20.0, 1.0, 0.0).expect("reads");
            let buffers = (at(Buffer::Technical400), at(Buffer::Technical700));
            probe
                .calibrate(
                    Authority::Operator,
                    (&buffers.0, &buffers.1),
                    &mut trend,
                    &mut log,
                )
                .expect("a healthy probe");
        }
    }
    assert!(worst < 0.04 + 6.0 * noise, "the value is off by {worst} pH");
    found
}

fn orp_year(seed: u64, tick_ms: u32, noise: f64) -> Found {
    let spec = ProbeSpec {
        lag_s: 60.0,
        noise,
        offset: 0.0,
    };
    let setup = orp_setup(ConditionSpec::ORP);
    let mut plant = LoneProbe::new(ProbeId::Orp, &spec, water::at(0).orp_mv, seed);
    let mut circuit = Circuit::new(true, 1000);
    let mut probe = OrpProbe::new(Some(checked()));
    let mut log = ProbeLog::new();
    let mut found = Found::default();
    let ticks = u64::from(YEAR_S) * 1000 / u64::from(tick_ms);
    let visit_ticks = u64::from(VISIT_DAYS) * 86_400_000 / u64::from(tick_ms);
    for tick in 1..=ticks {
        let water = water::at((tick * u64::from(tick_ms) / 1000) as u32);
        let sense = plant.step(tick_ms, water.orp_mv);
        let seen = circuit.seen(tick_ms, &wires(&sense), sense.value * 1000.0, false);
        let out = probe.tick(
            &setup,
            Millis(tick_ms),
            &input(seen, water.celsius, water.is_steady),
        );
        found.add(out.finding);
        if tick % visit_ticks == 0 {
            let check = probe.check(
                Authority::Operator,
                Solution::Zobell,
                &settled(229_000.0),
                CentiCelsius::from_whole(25),
                &setup,
                &mut log,
            );
            assert!(check.expect("in the solution").passed());
        }
    }
    found
}

#[test]
fn a_year_of_healthy_water_raises_no_false_alarm_on_ph() {
    for (seed, noise) in SEEDS.into_iter().zip([0.001, 0.002, 0.005, 0.01, 0.02]) {
        let found = ph_year(seed, 5000, noise).0;
        assert!(found.is_empty(), "seed {seed}, noise {noise} pH: {found:?}");
    }
}

#[test]
fn a_year_of_healthy_water_raises_no_false_alarm_on_orp() {
    for (seed, noise) in SEEDS.into_iter().zip([0.1, 0.3, 1.0, 2.0, 4.0]) {
        let found = orp_year(seed, 5000, noise).0;
        assert!(found.is_empty(), "seed {seed}, noise {noise} mV: {found:?}");
    }
}

/// A probe quieter than the converter's count cannot be told from a stuck one: the bound that the
/// docs state.
#[test]
fn noise_far_under_a_count_does_trip_the_flat_check() {
    let found = ph_year(1, 5000, 0.0001).0;
    assert!(found.contains_key("Flat"), "{found:?}");
}
