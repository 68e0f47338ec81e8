//! Facts of the trade. Common practice, no source: the bounds are as wide as "about" is.

use dosewarden_sim::water::units::{FT3_L, US_FL_OZ_ML, US_GAL_L};
use dosewarden_sim::water::{Reagent, Stock, WaterTest};

/// mol/L of HCl that `fl_oz` of 31.45 % acid bring into 10,000 US gallons.
fn acid_mol_per_l(fl_oz: f64) -> f64 {
    let stock = Stock::hydrochloric(31.45, 20.0).expect("in the data");
    fl_oz * US_FL_OZ_ML / 1000.0 * stock.mol_per_l / (10_000.0 * US_GAL_L)
}

fn ph_after(from: f64, fl_oz: f64) -> f64 {
    let test = WaterTest {
        ph: from,
        ..WaterTest::of(25.0, 100.0, 300.0, 1000.0)
    };
    let water = test.water().expect("a water");
    water
        .with(Reagent::HYDROCHLORIC, acid_mol_per_l(fl_oz))
        .ph()
}

#[test]
fn three_ounces_of_acid_move_ten_thousand_gallons_by_a_tenth() {
    // Common practice, no source: about 0.1, so 0.05 to 0.15.
    let moved = 7.6 - ph_after(7.6, 3.0);
    assert!((0.05..=0.15).contains(&moved), "{moved}");
}

#[test]
fn twenty_one_ounces_take_it_from_7_8_to_7_2() {
    // Common practice, no source: about 7.2, so within 0.1.
    let ph = ph_after(7.8, 21.0);
    assert!((ph - 7.2).abs() <= 0.1, "{ph}");
}

#[test]
fn a_cubic_foot_is_7_48_gallons() {
    // Common practice, no source, as far as its digits go.
    assert!((FT3_L / US_GAL_L - 7.48).abs() <= 0.005);
}
