//! What a test of the water changes, against closed forms.

use super::*;
use crate::guard::units::{Dose, Fitted};

const COMMISSIONED: BufferingWater = BufferingWater {
    alkalinity_mg_l: 100,
    cyanuric_acid_mg_l: 0,
    borate_mg_l: 0,
    tds_mg_l: 1000,
    temperature_c: 25,
};

/// By how much acid moves water of this test over water of that, from buffer intensities in closed
/// form at 25 C, in floating point: carbonate 2.303 [H] / (K1 + [H]) of its alkalinity, a weak acid
/// 2.303 C K [H] / (K + [H])^2 (Stumm and Morgan, Aquatic Chemistry, the chapter on acids and
/// bases). pK of carbonic acid 6.35 and 10.33, of cyanuric acid 6.88 and of boric acid 9.24, less
/// 0.06 (the second of carbonic acid 0.2) for the salts: from memory, to two places.
fn by_intensity(is: &BufferingWater, was: &BufferingWater, at: i32) -> f64 {
    // 10^(1/100), so many times; `pk` in hundredths.
    let power = |hundredths: i32| {
        let up = (0..hundredths.abs()).fold(1.0, |power, _| power * 1.023_292_992_280_754);
        if hundredths < 0 { 1.0 / up } else { up }
    };
    let share = |pk: i32| 1.0 / (1.0 + power(pk - at / 10));
    let intensity = |water: &BufferingWater| {
        let cyanurate = f64::from(water.cyanuric_acid_mg_l) / 129.075;
        let borate = f64::from(water.borate_mg_l) / 10.81;
        let others = [(cyanurate, share(682)), (borate, share(918))];
        let alkalinity = f64::from(water.alkalinity_mg_l) / 50.043;
        let held: f64 = others.iter().map(|(total, share)| total * share).sum();
        let own: f64 = others
            .iter()
            .map(|(total, share)| total * share * (1.0 - share))
            .sum();
        (alkalinity - held) * (1.0 - share(629) + share(1013)) + own
    };
    intensity(was) / intensity(is)
}

#[test]
fn the_step_follows_what_buffers() {
    for at in [7200, 7400, 7600] {
        for alkalinity_mg_l in [60, 80, 100, 140] {
            for cyanuric_acid_mg_l in [0, 30, 60] {
                for borate_mg_l in [0, 30] {
                    let is = BufferingWater {
                        alkalinity_mg_l,
                        cyanuric_acid_mg_l,
                        borate_mg_l,
                        ..COMMISSIONED
                    };
                    let found = f64::from(is.step_milli(&COMMISSIONED, at).unwrap()) / 1000.0;
                    let wanted = by_intensity(&is, &COMMISSIONED, i32::from(at));
                    let off = (found / wanted - 1.0).abs();
                    assert!(off < 0.06, "{at} {is:?}: {found} and {wanted}");
                }
            }
        }
    }
    assert_eq!(COMMISSIONED.step_milli(&COMMISSIONED, 7400), Some(1000));
}

/// What the settings leave out cancels.
#[test]
fn calcium_changes_little() {
    let acid = |water: &BufferingWater, calcium_mg_l: u32| {
        let test = WaterTest {
            ph: MilliPh(7450),
            cyanuric_acid_mg_l: u32::from(water.cyanuric_acid_mg_l),
            borate_mg_l: u32::from(water.borate_mg_l),
            ..WaterTest::of(2500, u32::from(water.alkalinity_mg_l), calcium_mg_l, 1000)
        };
        let water = Balance::try_new(&test).unwrap();
        f64::from(water.acid_nmol_per_l(MilliPh(7350)).unwrap())
    };
    for calcium_mg_l in [100, 600] {
        for (cyanuric_acid_mg_l, borate_mg_l) in [(0, 0), (50, 0), (0, 30)] {
            let is = BufferingWater {
                alkalinity_mg_l: 60,
                cyanuric_acid_mg_l,
                borate_mg_l,
                ..COMMISSIONED
            };
            let found = f64::from(is.step_milli(&COMMISSIONED, 7400).unwrap()) / 1000.0;
            let wanted = acid(&COMMISSIONED, calcium_mg_l) / acid(&is, calcium_mg_l);
            let off = (found / wanted - 1.0).abs();
            assert!(off < 0.01, "{calcium_mg_l} {is:?}: {found} and {wanted}");
        }
    }
    // And what they do not leave out does not: this is why.
    let spa = |borate_mg_l| BufferingWater {
        borate_mg_l,
        temperature_c: 38,
        ..COMMISSIONED
    };
    let warm = spa(30).step_milli(&spa(0), 7400).unwrap();
    let cool = BufferingWater {
        borate_mg_l: 30,
        ..COMMISSIONED
    };
    let cool = cool.step_milli(&COMMISSIONED, 7400).unwrap();
    assert!(cool > warm + 30, "{cool} and {warm}");
}

#[test]
fn a_test_counts_beside_what_was_commissioned_and_is_bounded() {
    let expected = |water| ExpectedResponse {
        feeder: 0,
        dose: Dose(1),
        moves: 100,
        at: 7400,
        more_per_tenth_percent: 18,
        error_percent: 20,
        settle_s: 300,
        other_dose: Dose(1),
        other_raises: 0,
        learns: true,
        water,
    };
    let fitted = expected(Fitted::Fitted(COMMISSIONED));
    let mut tests = WaterTests::NONE;
    assert_eq!(fitted.step_milli(&tests), Some(1000), "nothing was tested");
    let mut enter = |value, mg_l| {
        tests
            .enter(value, MicrogramsPerL::from_mg_l(mg_l))
            .expect("in range");
        tests
    };
    let half = fitted.step_milli(&enter(TestedValue::Alkalinity, 50));
    assert!(half.is_some_and(|milli| (1950..=2050).contains(&milli)));
    let tests = enter(TestedValue::Alkalinity, 5);
    assert_eq!(fitted.step_milli(&tests), Some(4000));
    let tests = enter(TestedValue::Alkalinity, 500);
    assert_eq!(fitted.step_milli(&tests), Some(250));
    assert_eq!(expected(Fitted::NotFitted).step_milli(&tests), None);
    let mut borate = WaterTests::NONE;
    let found = borate.enter(TestedValue::Borate, MicrogramsPerL::from_mg_l(50));
    assert_eq!(found, Ok(()));
    assert!(fitted.step_milli(&borate) < Some(950), "it buffers too");
    enter(TestedValue::Alkalinity, 20);
    let none = enter(TestedValue::Cyanurate, 300);
    assert_eq!(
        fitted.step_milli(&none),
        None,
        "cyanurate has more than all"
    );
}
