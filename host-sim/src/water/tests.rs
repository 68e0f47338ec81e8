//! Properties that hold for any water.

use proptest::prelude::*;

use super::*;

fn any_test() -> impl Strategy<Value = WaterTest> {
    let salts = (
        0.0_f64..45.0,
        20.0_f64..300.0,
        0.0_f64..800.0,
        100.0_f64..8000.0,
    );
    let rest = (6.3_f64..9.0, 0.0_f64..120.0, 0.0_f64..80.0, 0.0_f64..15.0);
    (salts, rest).prop_map(
        |((temp_c, ta_mg_l, ca_mg_l, tds_mg_l), (ph, cya, borate, chlorine))| WaterTest {
            temp_c,
            ta_mg_l,
            ca_mg_l,
            tds_mg_l,
            ph,
            cya_mg_l: cya,
            borate_mg_l: borate,
            chlorine_mg_l: chlorine,
        },
    )
}

/// Waters; a test whose cyanurate and borate outweigh its alkalinity is none.
fn any_water() -> impl Strategy<Value = (WaterTest, Water)> {
    any_test().prop_filter_map("no carbonate", |test| {
        test.water().ok().map(|water| (test, water))
    })
}

fn close(one: f64, other: f64, part: f64) -> bool {
    (one - other).abs() <= part * one.abs().max(other.abs())
}

proptest! {
    #[test]
    fn ph_and_carbon_invert_each_other((test, water) in any_water()) {
        let solved = water.equilibrium().solve(&water);
        prop_assert!((solved.ph - test.ph).abs() < 1e-8, "{} for {}", solved.ph, test.ph);
    }

    #[test]
    fn any_start_gives_the_same_answer(
        (_, water) in any_water(), ph in 0.0_f64..14.0, carbonate in 0.0_f64..1e-2, hocl in 0.0_f64..1e-3,
    ) {
        let eq = water.equilibrium();
        let cold = eq.solve(&water);
        let start = Solved { ph, carbonate, hypochlorous: hocl, ..cold };
        let warm = eq.solve_from(&water, &start);
        prop_assert!((cold.ph - warm.ph).abs() < 1e-9);
        prop_assert!(close(cold.carbonate, warm.carbonate, 1e-8));
        prop_assert!(close(cold.hypochlorous, warm.hypochlorous, 1e-8));
    }

    #[test]
    fn acid_lowers_ph_and_base_raises_it((_, water) in any_water(), amount in 1e-6_f64..2e-3) {
        let eq = water.equilibrium();
        let ph = eq.solve(&water).ph;
        prop_assert!(eq.solve(&water.with(Reagent::HYDROCHLORIC, amount)).ph < ph);
        prop_assert!(eq.solve(&water.with(Reagent::HYDROXIDE, amount)).ph > ph);
        prop_assert!(eq.solve(&water.with(Reagent::CARBON_DIOXIDE, amount)).ph < ph);
    }

    #[test]
    fn every_mole_is_somewhere((_, water) in any_water()) {
        let eq = water.equilibrium();
        let solved = eq.solve(&water);
        let c = eq.carbon_species(&water, &solved);
        let pairs = c.ca_hco3 + c.ca_co3 + c.na_hco3 + c.na_co3;
        prop_assert!(close(c.co2 + c.bicarbonate + c.carbonate + pairs, water.carbon, 1e-9));
        prop_assert!(close(c.calcium + c.ca_hco3 + c.ca_co3, water.calcium, 1e-12));
        prop_assert!(close(c.sodium + c.na_hco3 + c.na_co3, water.sodium, 1e-12));
        let cl = eq.chlorine_species(&water, &solved);
        prop_assert!(close(cl.hypochlorous + cl.hypochlorite + cl.on_cyanurate, water.chlorine, 1e-9));
        prop_assert!(close(cl.on_cyanurate, cl.once_chlorinated + 2.0 * cl.twice_chlorinated, 1e-12));
        let cy = cl.cyanuric_acid + cl.cyanurate + cl.once_chlorinated + cl.twice_chlorinated;
        prop_assert!(close(cy, water.cyanurate, 1e-12));
        prop_assert!(close(eq.co2(&solved), c.co2, 1e-9));
    }

    #[test]
    fn the_buffer_is_the_slope_of_alkalinity((test, water) in any_water()) {
        let eq = water.equilibrium();
        let step = 1e-4;
        let slope = (eq.alkalinity_at(&water, test.ph + step) - eq.alkalinity_at(&water, test.ph - step)) / (2.0 * step);
        prop_assert!(close(eq.solve(&water).buffer, slope, 1e-5));
    }

    #[test]
    fn the_slope_of_co2_is_that_of_the_solve((_, water) in any_water()) {
        let eq = water.equilibrium();
        let co2 = |carbon: f64| eq.co2(&eq.solve(&Water { carbon, ..water }));
        let step = 1e-4 * water.carbon;
        let slope = (co2(water.carbon + step) - co2(water.carbon - step)) / (2.0 * step);
        prop_assert!(close(eq.co2_by_carbon(&water, &eq.solve(&water)), slope, 1e-4));
    }

    #[test]
    fn a_reagent_reaches_what_it_is_asked_for((test, water) in any_water(), by in 0.05_f64..1.0) {
        let eq = water.equilibrium();
        let products = [
            (Reagent::HYDROCHLORIC, -by),
            (Reagent::SULFURIC, -by),
            (Reagent::CARBON_DIOXIDE, -by),
            (Reagent::HYDROXIDE, by),
            (Reagent::CARBONATE, by),
        ];
        for (reagent, by) in products {
            let target = test.ph + by;
            if let Some(amount) = eq.to_reach(&water, target, reagent) {
                prop_assert!(amount > 0.0);
                let reached = eq.solve(&water.with(reagent, amount)).ph;
                prop_assert!((reached - target).abs() < 1e-6);
            } else {
                // Soda ash brings its own carbonate: the highest pH that it reaches is about 10.
                prop_assert!(reagent == Reagent::CARBONATE && target > 9.0, "{reagent:?} to {target}");
            }
            prop_assert!(eq.to_reach(&water, test.ph - by, reagent).is_none(), "{reagent:?} the other way");
        }
    }

    #[test]
    fn a_step_to_the_air_does_not_pass_the_balance((_, water) in any_water(), seconds in 1.0_f64..3600.0) {
        let eq = water.equilibrium();
        let air = ExchangeStep { velocity_cm_per_h: 8.0, depth_m: 0.5, air_atm: AIR_CO2_ATM };
        let balance = eq.co2_in_balance(AIR_CO2_ATM);
        let solved = eq.solve(&water);
        let before = eq.co2(&solved) - balance;
        let change = air.carbon_change(&eq, &water, &solved, seconds);
        let after = Water { carbon: water.carbon + change, ..water };
        let left = eq.co2(&eq.solve(&after)) - balance;
        prop_assert!(change * before <= 0.0);
        prop_assert!(left * before >= 0.0 && left.abs() <= before.abs(), "{before} to {left}");
    }
}

#[test]
fn two_buffers_do_not_send_the_solve_to_and_fro() {
    // Newton's steps from pH 7.5, between cyanurate and borate, land beyond 10.3 and back.
    let test = WaterTest {
        ph: 8.706_588_671,
        cya_mg_l: 97.0,
        borate_mg_l: 71.6,
        chlorine_mg_l: 11.4,
        ..WaterTest::of(27.2, 190.5, 127.7, 4200.0)
    };
    let water = test.water().expect("a water");
    assert!((water.ph() - test.ph).abs() < 1e-8);
}

#[test]
fn figures_that_no_water_has_are_refused() {
    let fine = WaterTest::of(25.0, 100.0, 300.0, 1000.0);
    assert!(fine.water().is_ok());
    for bad in [
        WaterTest {
            temp_c: f64::NAN,
            ..fine
        },
        WaterTest {
            temp_c: -0.1,
            ..fine
        },
        WaterTest {
            ta_mg_l: -1.0,
            ..fine
        },
        WaterTest {
            ca_mg_l: 2001.0,
            ..fine
        },
        WaterTest {
            tds_mg_l: f64::INFINITY,
            ..fine
        },
        WaterTest { ph: 3.9, ..fine },
        WaterTest {
            cya_mg_l: 501.0,
            ..fine
        },
        WaterTest {
            borate_mg_l: -1.0,
            ..fine
        },
        WaterTest {
            chlorine_mg_l: 101.0,
            ..fine
        },
    ] {
        assert!(
            matches!(bad.water(), Err(WaterError::OutOfRange { .. })),
            "{bad:?}"
        );
    }
    let held = WaterTest {
        ta_mg_l: 20.0,
        cya_mg_l: 100.0,
        ph: 8.0,
        ..fine
    };
    assert!(matches!(held.water(), Err(WaterError::NoCarbonate { .. })));
}

#[test]
fn stocks_outside_the_data_are_refused() {
    assert!(Stock::hydrochloric(37.6, 20.0).is_err());
    assert!(Stock::hydrochloric(31.45, f64::NAN).is_err());
    assert!(Stock::sulfuric(-1.0, 20.0).is_err());
    assert!(Stock::hydroxide(30.0, 0.0).is_err());
}

#[test]
fn water_without_carbon_or_salt_is_solved() {
    let pure = Water {
        temperature_c: 25.0,
        ..Water::default()
    };
    assert!((pure.ph() - 6.9974).abs() < 1e-3, "half of pKw at 25 C");
    let acid = Water {
        alkalinity: -0.01,
        ..pure
    };
    assert!((acid.ph() - 2.0).abs() < 1e-6);
}
