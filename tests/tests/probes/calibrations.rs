//! Two-point calibration of a probe of the plant: how long it takes, and what is found at it.

use dosewarden::guard::units::Millis;
use dosewarden::probe::{
    Buffer, BufferReading, Calibration, CalibrationRefused, CentiCelsius, ConditionSpec, Finding,
    PhProbe, Settling,
};
use dosewarden_sim::plant::{LoneProbe, ProbeFault, ProbeId, ProbeSpec};

use crate::rig::{Circuit, NO_TRIM, input, nernst_uv, ph_setup};
use crate::wires;

type Made = Result<Calibration, CalibrationRefused>;

/// What a probe of the plant settles at in a buffer, as a person sees it on the device, and after
/// how long, s.
fn dipped(
    plant: &mut LoneProbe,
    probe: &mut PhProbe,
    buffer: Buffer,
) -> (Result<BufferReading, CalibrationRefused>, u32) {
    let at = CentiCelsius::from_whole(25);
    let ph = f64::from(buffer.ph(at).expect("known").0) / 1000.0;
    let setup = ph_setup(ConditionSpec::PH);
    let mut circuit = Circuit::new(true, 1000);
    let mut settling = Settling::NEW;
    for s in 1..=7200 {
        let sense = plant.step(1000, ph);
        let uv = (7.0 - sense.value) * nernst_uv(25.0);
        let seen = circuit.seen(1000, &wires(&sense), uv, false);
        let shown = probe.tick(&setup, Millis(1000), &input(seen, 25.0, true));
        assert_eq!(shown.finding, Finding::InWork);
        settling.push(probe.conditioner().value(), Millis(1000));
        if settling.stable().is_ok() {
            return (BufferReading::try_new(buffer, &settling, at), s);
        }
    }
    (BufferReading::try_new(buffer, &settling, at), 7200)
}

fn calibrated(seed: u64, fault: Option<ProbeFault>) -> (Made, u32) {
    let spec = ProbeSpec {
        lag_s: 15.0,
        noise: 0.005,
        offset: 0.05,
    };
    let mut plant = LoneProbe::new(ProbeId::Ph, &spec, 7.5, seed);
    if let Some(fault) = fault {
        plant.set_fault(fault);
    }
    let mut probe = PhProbe::new(None, NO_TRIM);
    probe.set_in_work(true);
    let (seven, first_s) = dipped(&mut plant, &mut probe, Buffer::Technical700);
    let (four, second_s) = dipped(&mut plant, &mut probe, Buffer::Technical400);
    let made = seven.and_then(|seven| Calibration::two_point(&seven, &four?));
    (made, first_s.max(second_s))
}

#[test]
fn a_healthy_probe_settles_and_calibrates_within_five_minutes() {
    for seed in 1..=5 {
        let (made, s) = calibrated(seed, None);
        let it = made.expect("healthy");
        assert!(s < 300, "seed {seed}: {s} s");
        assert!(
            it.slope_ppm().abs_diff(1_000_000) < 5000,
            "{}",
            it.slope_ppm()
        );
        // 0.05 pH of offset is 2.96 mV.
        assert!((it.zero().0 + 2958).abs() < 400, "{}", it.zero().0);
    }
}

#[test]
fn a_lost_slope_and_a_dry_probe_are_found_at_calibration() {
    let refused = |fault| calibrated(1, Some(fault)).0.expect_err("refused");
    let slope = refused(ProbeFault::Slope(0.8));
    assert!(
        matches!(slope, CalibrationRefused::Slope { ppm } if (ppm - 800_000).abs() < 5000),
        "{slope:?}"
    );
    let dry = refused(ProbeFault::Dried);
    assert!(
        matches!(dry, CalibrationRefused::NotThisBuffer { .. }),
        "{dry:?}"
    );
}

/// The bound that the docs of `STILL_WITHIN` state.
#[test]
fn a_sluggish_probe_is_taken_near_its_end() {
    let (made, s) = calibrated(1, Some(ProbeFault::Sluggish(30.0)));
    let it = made.expect("slow, not wrong");
    assert!(s > 1200, "{s} s");
    // 4 mV of 177.
    assert!(it.slope_ppm() > 970_000, "{}", it.slope_ppm());
}
