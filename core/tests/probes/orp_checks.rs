//! ORP in a reference solution.

use dosewarden::guard::units::{Millis, Millivolts};
use dosewarden::probe::{
    Age, CentiCelsius, CheckRefused, ConditionSpec, Finding, NOT_THIS_SOLUTION, OrpProbe,
    REFERENCE_TOLERANCE, ReferenceCheck, ReferenceElectrode, Solution,
};

use crate::rig::{Circuit, Wires, checked, input, orp_setup, settled};

const SATURATED: ReferenceElectrode = ReferenceElectrode::SilverSaturated;

fn expected(solution: Solution, electrode: ReferenceElectrode, celsius: i32) -> Option<i32> {
    solution
        .expected(electrode, CentiCelsius::from_whole(celsius))
        .map(|mv| mv.0)
}

/// ZoBell's: Eh = 428 - 2.2 (T - 25) mV against hydrogen; silver chloride in saturated potassium
/// chloride stands at 197 mV at 25 C and falls by 1 mV a degree (textbooks; from memory).
#[test]
fn zobell_by_its_formula() {
    for celsius in [15, 20, 25, 30, 35] {
        let eh = 428.0 - 2.2 * f64::from(celsius - 25);
        let silver = 199.0 - 1.0 * f64::from(celsius - 25);
        let ours = expected(Solution::Zobell, SATURATED, celsius).expect("known");
        assert!(
            (f64::from(ours) - (eh - silver)).abs() <= 2.5,
            "{celsius} C: {ours}"
        );
    }
    let saturated = [241, 235, 229, 223, 217];
    let three_five = [238, 231, 223, 216, 209];
    for (row, celsius) in [15, 20, 25, 30, 35].into_iter().enumerate() {
        let of = |electrode| expected(Solution::Zobell, electrode, celsius);
        assert_eq!(of(SATURATED), Some(saturated[row]));
        assert_eq!(of(ReferenceElectrode::Silver3M5), Some(three_five[row]));
    }
    assert_eq!(expected(Solution::Zobell, SATURATED, 27), Some(227));
    assert_eq!(expected(Solution::Zobell, SATURATED, 14), None);
    assert_eq!(expected(Solution::Zobell, SATURATED, 36), None);
    // Light's: 476 mV at 25 C (from memory).
    assert_eq!(expected(Solution::Light, SATURATED, 25), Some(476));
    for (celsius, mv) in [(19, None), (20, Some(476)), (30, Some(476)), (31, None)] {
        assert_eq!(expected(Solution::Light, SATURATED, celsius), mv);
    }
}

fn check(mv: f64) -> Result<ReferenceCheck, CheckRefused> {
    let at = CentiCelsius::from_whole(25);
    ReferenceCheck::take(Solution::Zobell, SATURATED, &settled(mv * 1000.0), at)
}

#[test]
fn passes_within_the_tolerance_fails_beyond_and_refuses_far_beyond() {
    let limit = f64::from(REFERENCE_TOLERANCE.0);
    assert!(check(229.0 + limit).is_ok_and(|c| c.passed() && c.error == REFERENCE_TOLERANCE));
    assert!(check(229.0 - limit).is_ok_and(|c| c.passed()));
    assert!(check(230.0 + limit).is_ok_and(|c| !c.passed()));
    assert!(check(228.0 - limit).is_ok_and(|c| !c.passed()));
    let far = f64::from(NOT_THIS_SOLUTION.0);
    assert!(check(229.0 + far).is_ok());
    assert_eq!(
        check(230.0 + far),
        Err(CheckRefused::NotThisSolution {
            reads: Millivolts(330),
            expected: Millivolts(229),
        })
    );
}

#[test]
fn a_failed_an_old_and_a_missing_check_show_in_the_status() {
    let setup = orp_setup(ConditionSpec::ORP);
    let finding = |check: Option<ReferenceCheck>| {
        let mut circuit = Circuit::new(true, 1000);
        let mut probe = OrpProbe::new(check);
        let seen = circuit.seen(1000, &Wires::default(), 700_000.0, false);
        probe
            .tick(&setup, Millis(1), &input(seen, 25.0, true))
            .finding
    };
    let with = |error, days| {
        Some(ReferenceCheck {
            error: Millivolts(error),
            age: Age::from_days(days),
        })
    };
    assert_eq!(finding(Some(checked())), Finding::Fine);
    assert_eq!(finding(with(-21, 0)), Finding::CheckFailed);
    assert_eq!(finding(with(0, 90)), Finding::CheckOld);
    assert_eq!(finding(with(0, 89)), Finding::Fine);
    assert_eq!(finding(None), Finding::CheckOld);
}

#[test]
fn only_steady_water_jumps_and_only_the_way_back_from_a_solution_is_no_jump() {
    let setup = orp_setup(ConditionSpec::ORP);
    let mut circuit = Circuit::new(true, 1000);
    let mut probe = OrpProbe::new(Some(checked()));
    let mut after = |probe: &mut OrpProbe, mv: f64, is_steady: bool, ticks| {
        let mut shown = None;
        for _ in 0..ticks {
            let seen = circuit.seen(1000, &Wires::default(), mv * 1000.0, false);
            let told = probe.tick(&setup, Millis(1000), &input(seen, 25.0, is_steady));
            shown = Some((told.finding, told.reading.value.0));
        }
        shown.expect("ticked")
    };
    assert_eq!(after(&mut probe, 700.0, true, 1), (Finding::Fine, 700));
    assert_eq!(after(&mut probe, 500.0, false, 20).0, Finding::Fine);
    assert_eq!(after(&mut probe, 700.0, true, 20).0, Finding::Jumped);
    // Whoever says again that nobody is at work has looked at nothing.
    probe.set_in_work(false);
    assert_eq!(after(&mut probe, 700.0, true, 1).0, Finding::Jumped);
    probe.set_in_work(true);
    assert_eq!(after(&mut probe, 229.0, true, 60).0, Finding::InWork);
    probe.set_in_work(false);
    assert_eq!(after(&mut probe, 700.0, true, 1), (Finding::Fine, 700));
}
