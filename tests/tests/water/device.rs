//! What a device has of the chemistry, against the simulator's over the whole range.

use dosewarden::guard::units::MilliPh;
use dosewarden::water::{self, AcidStrength, Balance, WaterError};
use dosewarden_sim::water as exact;
use dosewarden_sim::water::{Reagent, Water};
use proptest::prelude::*;

const MURIATIC: AcidStrength = AcidStrength { meq_per_l: 9971 };

/// Bounds that the docs of `dosewarden::water` state.
const ACID_PARTS: f64 = 0.005;
const ACID_MMOL: f64 = 0.0001;
const PH: f64 = 0.003;
const HOCL_PARTS: f64 = 0.005;
const HOCL_UG: f64 = 0.05;

fn same_test(test: &water::WaterTest) -> exact::WaterTest {
    exact::WaterTest {
        temp_c: f64::from(test.temperature_centi_c) / 100.0,
        ta_mg_l: f64::from(test.alkalinity_mg_l),
        ca_mg_l: f64::from(test.calcium_mg_l),
        tds_mg_l: f64::from(test.tds_mg_l),
        ph: f64::from(test.ph.0) / 1000.0,
        cya_mg_l: f64::from(test.cyanuric_acid_mg_l),
        borate_mg_l: f64::from(test.borate_mg_l),
        chlorine_mg_l: f64::from(test.chlorine_ug_l) / 1000.0,
    }
}

/// The range that is claimed.
fn any_test() -> impl Strategy<Value = water::WaterTest> {
    let salts = (200_i32..=4000, 40_u32..=200, 100_u32..=600, 300_u32..=6000);
    let some = |max: u32| prop_oneof![Just(0), 1..=max];
    let rest = (6500_i32..=8500, some(100), some(60), some(10_000));
    (salts, rest).prop_map(
        |((temperature, ta, ca, tds), (ph, cya, borate, chlorine))| water::WaterTest {
            ph: MilliPh(ph),
            cyanuric_acid_mg_l: cya,
            borate_mg_l: borate,
            chlorine_ug_l: chlorine,
            ..water::WaterTest::of(temperature, ta, ca, tds)
        },
    )
}

/// Both waters; `None` where cyanurate and borate outweigh the alkalinity, which both have to see.
fn both(test: &water::WaterTest) -> Option<(Balance, Water)> {
    let ours = Balance::try_new(test);
    let theirs = same_test(test).water();
    // Within a thousandth of the edge one may see carbonate that the other does not.
    match (ours, theirs) {
        (Ok(ours), Ok(theirs)) => Some((ours, theirs)),
        (Err(WaterError::NoCarbonate), Err(exact::WaterError::NoCarbonate { .. })) => None,
        (Err(_), Ok(water)) if water.carbon < 1e-5 => None,
        (
            Ok(_),
            Err(exact::WaterError::NoCarbonate {
                other_mg_l,
                ta_mg_l,
            }),
        ) if other_mg_l < ta_mg_l + 0.5 => None,
        (ours, theirs) => panic!("{test:?}: {ours:?} {theirs:?}"),
    }
}

/// Differences in acid (mmol/L), pH after that acid, and HOCl (ug/L), with the exact figures.
fn differences(test: &water::WaterTest, to: i32) -> Option<[(f64, f64); 3]> {
    let (ours, water) = both(test)?;
    let eq = water.equilibrium();
    let target = f64::from(to) / 1000.0;
    let acid = (water.alkalinity - eq.alkalinity_at(&water, target)) * 1000.0;
    let our_acid = f64::from(ours.acid_nmol_per_l(MilliPh(to)).expect("in range")) / 1e6;
    let dose = (acid.max(0.0) / 9.971 * 1e6) as u32;
    let taken = f64::from(dose) * 9.971 / 1e9;
    let ph = eq.solve(&water.with(Reagent::HYDROCHLORIC, taken)).ph;
    let our_ph = f64::from(ours.ph_after_acid(dose, MURIATIC).0) / 1000.0;
    let there = exact::Water {
        alkalinity: eq.alkalinity_at(&water, target),
        ..water
    };
    let solved = eq.solve(&there);
    let hocl = eq.chlorine_species(&there, &solved).hypochlorous * 70.906e6;
    let our_hocl = f64::from(ours.hypochlorous_ng_l(MilliPh(to))) / 1000.0;
    Some([
        (our_acid - acid, acid),
        (our_ph - ph, ph),
        (our_hocl - hocl, hocl),
    ])
}

fn hold(test: &water::WaterTest, to: i32) {
    if let Some([(acid, of_acid), (ph, _), (hocl, of_hocl)]) = differences(test, to) {
        let acid_max = ACID_PARTS * of_acid.abs() + ACID_MMOL;
        assert!(
            acid.abs() <= acid_max,
            "{test:?} to {to}: {acid} of {of_acid} mmol/L"
        );
        assert!(ph.abs() <= PH, "{test:?} to {to}: pH off by {ph}");
        let hocl_max = HOCL_PARTS * of_hocl + HOCL_UG;
        assert!(
            hocl.abs() <= hocl_max,
            "{test:?} to {to}: {hocl} of {of_hocl} ug/L"
        );
    }
}

proptest! {
    #[test]
    fn within_its_bounds_over_the_whole_range(test in any_test(), step in 100_i32..2000) {
        let to = (test.ph.0 - step).max(6500);
        if test.ph.0 - to >= 100 {
            hold(&test, to);
        }
    }

    #[test]
    fn a_dose_ends_where_it_was_meant_to(test in any_test(), step in 100_i32..2000) {
        let to = MilliPh((test.ph.0 - step).max(6500));
        if let (Ok(water), true) = (Balance::try_new(&test), to.0 < test.ph.0) {
            let dose = water.acid_ul_per_m3_floor(to, MURIATIC).expect("acid lowers pH");
            let end = water.ph_after_acid(dose, MURIATIC);
            // Rounded down in both: never below, and a microlitre above.
            prop_assert!((to.0 - 1..=to.0 + 3).contains(&end.0), "{} for {}", end.0, to.0);
            prop_assert!(water.ph_after_acid(dose + 1000, MURIATIC) <= end);
        }
    }
}

/// Tests on a grid with every corner, and two targets for each.
fn grid() -> Vec<(water::WaterTest, i32)> {
    let mut all = Vec::new();
    for temperature in [200, 750, 1250, 2250, 2500, 3250, 4000] {
        for ta in [40, 100, 200] {
            for (ca, tds) in [
                (100, 300),
                (600, 300),
                (300, 1500),
                (100, 6000),
                (600, 6000),
            ] {
                for (cya, borate, chlorine) in
                    [(0, 0, 0), (0, 0, 10_000), (100, 0, 1000), (30, 60, 10_000)]
                {
                    for ph in [6700, 7500, 8500] {
                        let test = water::WaterTest {
                            ph: MilliPh(ph),
                            cyanuric_acid_mg_l: cya,
                            borate_mg_l: borate,
                            chlorine_ug_l: chlorine,
                            ..water::WaterTest::of(temperature, ta, ca, tds)
                        };
                        all.extend([(test, 6500), (test, ph - 100)]);
                    }
                }
            }
        }
    }
    all
}

#[test]
fn within_its_bounds_on_a_grid_with_every_corner() {
    for (test, to) in grid() {
        hold(&test, to);
    }
}

#[test]
fn the_committed_figures_are_what_is_measured() {
    let (mut acid_worst, mut ph_worst, mut hocl_worst) = (0.0_f64, 0.0_f64, 0.0_f64);
    let mut compared = 0;
    for (test, to) in grid() {
        if let Some([(acid, of_acid), (ph, _), (hocl, of_hocl)]) = differences(&test, to) {
            acid_worst = acid_worst.max(acid.abs() / of_acid);
            ph_worst = ph_worst.max(ph.abs());
            if of_hocl > 0.0 {
                hocl_worst = hocl_worst.max(hocl.abs() / of_hocl);
            }
            compared += 1;
        }
    }
    assert!(compared > 2000, "{compared}");
    let measured = format!(
        "| acid for a step | {compared} | {:.2} % |\n| pH after a dose | {compared} | {ph_worst:.4} |\n\
         | HOCl | {compared} | {:.2} % |\n",
        100.0 * acid_worst,
        100.0 * hocl_worst,
    );
    assert!(
        crate::table::PAGE.contains(&measured),
        "put this into host-sim/WATER.md:\n{measured}"
    );
}

#[test]
fn the_share_of_hocl_is_that_of_the_formula() {
    for centi_c in [200, 1000, 2500, 3333, 4000] {
        let test = water::WaterTest::of(centi_c, 100, 300, 1000);
        let (ours, water) = both(&test).expect("a water");
        let pka = water.equilibrium().hypochlorous_pka();
        for ph in [6500, 7200, 7500, 7800, 8500] {
            let exact = exact::hypochlorous_share(f64::from(ph) / 1000.0, pka) * 1000.0;
            let share = f64::from(ours.hypochlorous_permille(MilliPh(ph)));
            assert!(
                share <= exact + 1.0 && share >= exact - 2.0,
                "{ph}: {share} {exact}"
            );
        }
    }
}

#[test]
fn the_table_is_what_the_formulas_give() {
    for (row, temperature) in water::TABLE.iter().zip((0_u8..).step_by(5)) {
        let c = f64::from(temperature);
        let carbonate = exact::Carbonate::at(c);
        let cyanurate = exact::Cyanurate::at(exact::CyanurateSet::OBrien, c);
        let formulas = [
            -carbonate.k1,
            -carbonate.k2,
            -exact::log_water(c),
            -exact::log_boric(c),
            -exact::log_hypochlorous(c),
            -cyanurate.acid,
            carbonate.ca_hco3,
            carbonate.ca_co3,
            exact::log_na_hco3(c),
            exact::log_na_co3(c),
            exact::davies_a(c),
            cyanurate.second_chlorine,
        ];
        for (place, (figure, formula)) in row.iter().zip(formulas).enumerate() {
            let off = f64::from(*figure) - formula * 1e5;
            assert!(
                off.abs() < 0.51,
                "{c} C, column {place}: {figure}, {formula}"
            );
        }
    }
}

#[test]
fn chlorine_by_the_strength_of_its_drum() {
    // 12.5 trade percent is 125 g/L (White 1972, second-hand): 8.0 mL raise 1 m3 by 1 mg/L.
    assert_eq!(water::hypochlorite_ul_per_m3_floor(1000, 125), Some(8000));
    assert_eq!(water::hypochlorite_ul_per_m3_floor(1000, 0), None);
    assert_eq!(water::hypochlorite_ul_per_m3_floor(999, 7), Some(142_714));
}

#[test]
fn what_is_out_of_range_is_an_error_or_none() {
    let fine = water::WaterTest::of(2500, 100, 300, 1000);
    let water = Balance::try_new(&fine).expect("a water");
    assert_eq!(water.acid_nmol_per_l(MilliPh(3999)), None);
    assert_eq!(water.acid_ul_per_m3_floor(MilliPh(7600), MURIATIC), None);
    assert_eq!(
        water.acid_ul_per_m3_floor(MilliPh(7200), AcidStrength { meq_per_l: 0 }),
        None
    );
    assert_eq!(water.ph_after_acid(u32::MAX, MURIATIC), water::PH_RANGE.0);
}

#[test]
fn a_test_of_no_water_is_an_error() {
    let fine = water::WaterTest::of(2500, 100, 300, 1000);
    let bad = [
        (
            water::WaterTest {
                temperature_centi_c: 4501,
                ..fine
            },
            WaterError::Temperature,
        ),
        (
            water::WaterTest {
                alkalinity_mg_l: 501,
                ..fine
            },
            WaterError::Alkalinity,
        ),
        (
            water::WaterTest {
                calcium_mg_l: 2001,
                ..fine
            },
            WaterError::Calcium,
        ),
        (
            water::WaterTest {
                tds_mg_l: 10_001,
                ..fine
            },
            WaterError::Solids,
        ),
        (
            water::WaterTest {
                ph: MilliPh(9001),
                ..fine
            },
            WaterError::Ph,
        ),
        (
            water::WaterTest {
                cyanuric_acid_mg_l: 301,
                ..fine
            },
            WaterError::CyanuricAcid,
        ),
        (
            water::WaterTest {
                borate_mg_l: 101,
                ..fine
            },
            WaterError::Borate,
        ),
        (
            water::WaterTest {
                chlorine_ug_l: 20_001,
                ..fine
            },
            WaterError::Chlorine,
        ),
    ];
    for (test, error) in bad {
        assert_eq!(Balance::try_new(&test), Err(error));
    }
}

#[test]
fn alkalinity_that_is_all_cyanurate_is_an_error() {
    let test = water::WaterTest {
        cyanuric_acid_mg_l: 100,
        ..water::WaterTest::of(2500, 10, 300, 1000)
    };
    assert_eq!(Balance::try_new(&test), Err(WaterError::NoCarbonate));
}
