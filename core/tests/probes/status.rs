//! Status, its words, what a person does, and how much memory a probe takes.

use std::collections::BTreeSet;

use dosewarden::guard::units::{MilliPh, Millis};
use dosewarden::guard::{Authority, Health};
use dosewarden::probe::{
    Age, Anchor, Buffer, Calibration, ConditionSpec, Conditioned, Finding, Microvolts, OrpProbe,
    PROBE_LOG_KEPT, PhProbe, ProbeAct, ProbeEntry, ProbeKind, ProbeLog, Trend, Trim,
};

use crate::rig::{Circuit, NO_TRIM, Wires, in_buffer, input, perfect, ph_setup};

#[test]
fn a_probe_takes_at_most_100_bytes() {
    assert!(size_of::<PhProbe>() <= 100, "{}", size_of::<PhProbe>());
    assert!(size_of::<OrpProbe>() <= 100, "{}", size_of::<OrpProbe>());
    // Kept beside them, and only touched at a visit.
    assert!(size_of::<Trend>() <= 64 && size_of::<Anchor>() <= 64);
}

#[test]
fn each_finding_has_a_status_and_words_of_its_own() {
    let words: BTreeSet<_> = Finding::ALL.iter().map(|finding| finding.words()).collect();
    assert_eq!(words.len(), Finding::ALL.len());
    let of = |health| Finding::ALL.iter().filter(|f| f.health() == health).count();
    assert_eq!(of(Health::Normal), 1);
    assert_eq!(of(Health::Failure), 10);
    assert_eq!(of(Health::CheckFunction), 2);
    assert_eq!(of(Health::OutOfSpecification), 6);
    assert_eq!(of(Health::MaintenanceRequired), 4);
    let worse = Finding::TrimExpired.gravest(Finding::Noisy);
    assert_eq!(worse.gravest(Finding::CheckOld), Finding::Noisy);
    assert_eq!(Finding::Open.gravest(Finding::Short), Finding::Open);
    assert_eq!(
        Finding::Noisy
            .gravest(Finding::InWork)
            .gravest(Finding::Flat),
        Finding::Flat
    );
}

/// One tick of a probe whose electrode is at `uv`.
fn tick(probe: &mut PhProbe, uv: f64, celsius: f64) -> Conditioned<MilliPh> {
    let seen = Circuit::new(true, 1000).seen(500, &Wires::default(), uv, false);
    probe.tick(
        &ph_setup(ConditionSpec::PH),
        Millis(1000),
        &input(seen, celsius, true),
    )
}

#[test]
fn the_status_goes_with_calibration_age_scale_and_work() {
    let calibrated = |days| {
        let kept = Calibration::restore(Microvolts(0), 1_000_000, Age::from_days(days));
        PhProbe::new(kept.ok(), NO_TRIM)
    };
    let finding = |mut probe: PhProbe, uv| tick(&mut probe, uv, 25.0).finding;
    assert_eq!(finding(calibrated(89), 0.0), Finding::Fine);
    assert_eq!(finding(calibrated(90), 0.0), Finding::CalibrationOld);
    assert_eq!(
        finding(PhProbe::new(None, NO_TRIM), 0.0),
        Finding::NotCalibrated
    );
    assert_eq!(finding(calibrated(0), 178_000.0), Finding::OffScale);
    assert_eq!(finding(calibrated(0), -178_000.0), Finding::OffScale);
    assert_eq!(finding(calibrated(0), 177_000.0), Finding::Fine);
    let mut probe = calibrated(0);
    let shown = tick(&mut probe, 0.0, 25.0);
    assert_eq!(
        (shown.trusted(), shown.reading.health),
        (Some(MilliPh(7000)), Health::Normal)
    );
    probe.set_in_work(true);
    let shown = tick(&mut probe, 170_000.0, 25.0);
    assert_eq!(
        (shown.trusted(), shown.reading.health),
        (None, Health::CheckFunction)
    );
    // Back in the water: what the buffers read is not what the water jumped from.
    for _ in 0..20 {
        tick(&mut probe, 170_000.0, 25.0);
    }
    probe.set_in_work(false);
    for _ in 0..20 {
        let shown = tick(&mut probe, -20_000.0, 25.0);
        assert_eq!(
            (shown.finding, shown.reading.value),
            (Finding::Fine, MilliPh(7338))
        );
    }
    probe.pass_off(Some(90 * 24));
    assert_eq!(
        tick(&mut probe, -20_000.0, 25.0).finding,
        Finding::CalibrationOld
    );
}

#[test]
fn temperature_is_compensated() {
    let ph = |celsius| {
        let mut probe = PhProbe::new(Some(perfect()), NO_TRIM);
        tick(&mut probe, 60_000.0, celsius).reading.value.0
    };
    // 60 mV by Nernst's slope at 0, 25 and 40 C: 54.20, 59.16, 62.14 mV a pH.
    assert_eq!([ph(0.0), ph(25.0), ph(40.0)], [5893, 5986, 6034]);
    // One line does for less than a tenth of a degree. 177 mV by the slopes at 25.00 and 25.10 C, 59.159 and 59.179 mV.
    let mut probe = PhProbe::new(Some(perfect()), NO_TRIM);
    let shown =
        [25.0, 25.09, 25.1].map(|celsius| tick(&mut probe, 177_000.0, celsius).reading.value.0);
    assert_eq!(shown, [4008, 4008, 4009]);
}

#[test]
fn a_calibration_ends_the_trim_feeds_the_trend_and_is_logged() {
    let trim = Trim::restore(MilliPh(150), Age::NEW).expect("in bounds");
    let mut probe = PhProbe::new(Some(perfect()), trim);
    let (mut trend, mut log) = (Trend::NEW, ProbeLog::new());
    assert_eq!(
        tick(&mut probe, -25_000.0, 25.0).reading.value,
        MilliPh(7573)
    );
    let four = in_buffer(Buffer::Technical400, 25.0, 0.95, 3000.0).expect("reads");
    let seven = in_buffer(Buffer::Technical700, 25.0, 0.95, 3000.0).expect("reads");
    let mut calibrate = |by, a, b| probe.calibrate(by, (a, b), &mut trend, &mut log).is_ok();
    assert!(!calibrate(Authority::Owner, &four, &seven));
    assert!(!calibrate(Authority::Operator, &four, &four));
    assert!(calibrate(Authority::Operator, &four, &seven));
    assert_eq!(probe.trim_kept(), &NO_TRIM);
    // 7 + (25 + 3) / (0.95 x 59.16), and 0.15 of trim before.
    assert_eq!(
        tick(&mut probe, -25_000.0, 25.0).reading.value,
        MilliPh(7498)
    );
    let entries: Vec<ProbeEntry> = std::iter::from_fn(|| log.take()).collect();
    assert_eq!(
        entries.iter().map(|e| e.done).collect::<Vec<_>>(),
        [false, false, true]
    );
    let last = entries[2];
    assert_eq!((last.probe, last.act), (ProbeKind::Ph, ProbeAct::Calibrate));
    assert_eq!((last.before, last.after / 100), (1_000_000, 9500));
    assert_ne!(trend, Trend::NEW);
    assert!(
        probe
            .replace(Authority::Operator, &mut trend, &mut log)
            .is_ok()
    );
    assert_eq!((probe.calibration(), trend), (None, Trend::NEW));
}

#[test]
fn the_log_drops_the_oldest_and_counts_it() {
    let mut probe = PhProbe::new(Some(perfect()), NO_TRIM);
    let mut log = ProbeLog::new();
    for _ in 0..PROBE_LOG_KEPT + 3 {
        assert!(probe.confirm(Authority::Operator, &mut log).is_ok());
    }
    assert_eq!(
        (std::iter::from_fn(|| log.take()).count(), log.dropped()),
        (PROBE_LOG_KEPT, 3)
    );
}

#[test]
fn water_jumps_only_where_it_is_steady_and_saying_again_that_nobody_works_takes_no_jump_back() {
    let setup = ph_setup(ConditionSpec::PH);
    let mut circuit = Circuit::new(true, 1000);
    let mut probe = PhProbe::new(Some(perfect()), NO_TRIM);
    let mut after = |probe: &mut PhProbe, uv: f64, is_steady: bool| {
        let mut finding = None;
        for _ in 0..20 {
            let seen = circuit.seen(1000, &Wires::default(), uv, false);
            let shown = probe.tick(&setup, Millis(1000), &input(seen, 25.0, is_steady));
            finding = Some(shown.finding);
        }
        finding.expect("ticked")
    };
    assert_eq!(after(&mut probe, 0.0, true), Finding::Fine);
    assert_eq!(after(&mut probe, 60_000.0, false), Finding::Fine);
    assert_eq!(after(&mut probe, 0.0, true), Finding::Jumped);
    probe.set_in_work(false);
    assert_eq!(after(&mut probe, 0.0, true), Finding::Jumped);
}
