//! Stocks, units, and what products do beside their job; each published value with its source, as in `published`.

use dosewarden_sim::water::units::{US_FL_OZ_ML, US_GAL_L, celsius};
use dosewarden_sim::water::{Reagent, Stock, WaterTest, trade_percent_g_per_l};

use crate::data::{self, rows};
use crate::published::{near, reference};

#[test]
fn strength_of_stocks() {
    // Laliberte's model in another program (computed), to its digits.
    for row in rows(data::DENSITIES) {
        let (percent, c) = (row.get("wt_pct"), row.get("temp_C"));
        let stock = match row.text("acid") {
            "HCl" => Stock::hydrochloric(percent, c),
            _ => Stock::sulfuric(percent, c),
        };
        let stock = stock.expect("in the data");
        near(
            "density",
            stock.density_kg_per_m3,
            row.get("density_kg_m3"),
            0.051,
        );
        near("mol/L", stock.mol_per_l, row.get("mol_per_L"), 5.1e-4);
        near("eq/L", stock.eq_per_l, row.get("eq_per_L"), 5.1e-4);
    }
    // 93 % sulfuric acid of sp. gr. 1.835 (read): 34.8 eq/L, to its digits.
    near(
        "93 %",
        Stock::sulfuric_of_density(93.0, 1835.0).eq_per_l,
        34.8,
        0.05,
    );
    // 12.5 trade percent (White 1972, second-hand): 8.0 mL raise 1 m3 by 1 mg/L, to its digits.
    near("12.5 %", 1000.0 / trade_percent_g_per_l(12.5), 8.0, 0.05);
}

#[test]
fn units_of_the_handbook() {
    // NIST Handbook 44 appendix C (read): exact.
    near("gal", US_GAL_L, 3.785_411_784, 0.0);
    near("fl oz", US_FL_OZ_ML, 29.573_529_562_5, 0.0);
    near("128 fl oz", US_FL_OZ_ML * 128.0 / 1000.0, US_GAL_L, 1e-12);
    near("F", celsius(212.0), 100.0, 1e-12);
}

#[test]
fn what_products_do_beside_their_job() {
    // Common practice, no source: 10 mg/L of hypochlorite lifts 7.5 by 0.2 at TA 100 before it is used; 50 mg/L
    // of borate as boron doubles the buffer of TA 80. Each to what its digits allow.
    let water = reference(100.0, 7.5);
    let fed = water.with(Reagent::HYPOCHLORITE, 10.0 / 70_906.0);
    near("hypochlorite", fed.ph() - 7.5, 0.2, 0.05);
    let used = fed.with(Reagent::CHLORINE_USED, 10.0 / 70_906.0);
    near("once it is used", used.alkalinity, water.alkalinity, 1e-15);
    let buffer = |borate_mg_l| {
        let test = WaterTest {
            borate_mg_l,
            ..WaterTest::of(25.0, 80.0, 300.0, 1000.0)
        };
        let water = test.water().expect("a water");
        water.equilibrium().solve(&water).buffer
    };
    near("borate", buffer(50.0) / buffer(0.0), 2.0, 0.4);
}

#[test]
fn products_by_their_formulas() {
    // By stoichiometry: a mole of H2SO4 does what two of HCl do; soda is one of bicarbonate and one of caustic;
    // gas is hypochlorite with two of HCl, but for the sodium.
    let water = reference(100.0, 7.8);
    let eq = water.equilibrium();
    let of = |reagent| eq.to_reach(&water, 7.2, reagent).expect("reachable");
    near(
        "H2SO4",
        2.0 * of(Reagent::SULFURIC),
        of(Reagent::HYDROCHLORIC),
        1e-12,
    );
    let soda = water.with(Reagent::CARBONATE, 1e-4);
    let parts = water
        .with(Reagent::BICARBONATE, 1e-4)
        .with(Reagent::HYDROXIDE, 1e-4);
    near("soda, alkalinity", soda.alkalinity, parts.alkalinity, 1e-15);
    near("soda, carbon", soda.carbon, parts.carbon, 1e-15);
    near("soda, sodium", soda.sodium, parts.sodium, 1e-15);
    let gas = water.with(Reagent::CHLORINE_GAS, 1e-4);
    let parts = water
        .with(Reagent::HYPOCHLORITE, 1e-4)
        .with(Reagent::HYDROCHLORIC, 2e-4);
    near("gas, alkalinity", gas.alkalinity, parts.alkalinity, 1e-15);
    near("gas, chlorine", gas.chlorine, parts.chlorine, 1e-15);
    let calcium = water.with(Reagent::CALCIUM_CHLORIDE, 1e-3).calcium;
    near("CaCl2", calcium - water.calcium, 1e-3, 1e-15);
}
