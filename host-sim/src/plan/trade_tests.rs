//! Facts of the trade that a plan has to come near to. All are common practice, no source; none is a
//! default of ours by itself, and the figures of the sites are invented.

use dosewarden::guard::{FeederLimits, Fitted};

use super::tests::{plan, site};
use super::*;
use crate::water::units::CHLORINE_MG_PER_MMOL;

const GALLON_L: f64 = 3.785_411_784;
const FLUID_OUNCE_ML: f64 = 29.573_529_562_5;

#[test]
fn a_spa_is_five_hundred_gallons_and_a_small_pool_ten_thousand() {
    // Common practice, no source. A spa of two metres across with seats, and the pool at a cottage.
    let start = HOTEL_SPA.find("[[basin.part]]").unwrap();
    let end = HOTEL_SPA.find("[water]").unwrap();
    let seats = "[[basin.part]]\nshape = \"round\"\ndiameter = \"2 m\"\nshallow = \"0.4 m\"\ndeep = \"0.8 m\"\n\n";
    let text = format!("{}{seats}{}", &HOTEL_SPA[..start], &HOTEL_SPA[end..]);
    let spa = site(&text).volume_l / GALLON_L;
    assert!((spa - 500.0).abs() < 25.0, "{spa}");
    let pool = site(SALT_POOL).volume_l / GALLON_L;
    assert!((pool - 10_000.0).abs() < 200.0, "{pool}");
}

#[test]
fn held_at_seven_and_a_half_and_told_at_seven_point_eight() {
    // Common practice, no source: set point 7.5, high alarm 7.8.
    for text in [HOME_POOL, SALT_POOL] {
        let plan = plan(text);
        assert!(plan.scenario.contains("set_point = \"pH 7.5\"\n"));
        assert!(plan.scenario.contains("ph_high = \"pH 7.8\"\n"));
    }
}

#[test]
fn three_ounces_a_dose_and_twenty_one_a_day_for_ten_thousand_gallons() {
    // Common practice, no source, of 31.45 % acid at alkalinity 100: one dose moves 7.6 by about 0.1; a day of them
    // takes 7.8 to about 7.2. Ours are made for the lowest alkalinity and may be smaller, not larger.
    let text = SALT_POOL
        .replace("strength = \"4.25 mol/L\"", "strength = \"9.97 mol/L\"")
        .replace("alkalinity = \"80 mg/L\"", "alkalinity = \"100 mg/L\"")
        // Cyanuric acid would buffer as well.
        .replace("cyanuric_acid = \"45 mg/L\"", "cyanuric_acid = \"0 mg/L\"")
        .replace("next_test = \"30 days\"", "next_test = \"1 day\"");
    let acid = &plan(&text).figures.feeders[0];
    let dose = acid.cycle_cap / FLUID_OUNCE_ML;
    assert!((2.0..=3.5).contains(&dose), "{dose} US fl oz a dose");
    let day = acid.day_cap / FLUID_OUNCE_ML;
    assert!((14.0..=42.0).contains(&day), "{day} US fl oz a day");
}

#[test]
fn waits_are_those_of_the_trade() {
    for text in [HOME_POOL, SALT_POOL] {
        let plan = plan(text);
        let limits = crate::scenario::Scenario::parse("planned.toml", &plan.scenario)
            .unwrap_or_else(|e| panic!("{e}"))
            .limits;
        let spec = limits.spec();
        // Common practice, no source: about 2 min after power-on, 15 to 30 min or hours with new probes, and flow
        // proven for about a minute.
        assert_eq!(spec.power_on_delay.0, 2 * 60_000);
        assert!((15 * 60_000..=4 * 3_600_000).contains(&spec.power_on_delay_new_probe.0));
        assert_eq!(spec.flow_prove.0, 60_000);
        // Common practice, no source: about 30 min for a dose of acid to spread.
        let hold_min = plan.figures.feeders[0].hold_s / 60.0;
        assert!((30.0..40.0).contains(&hold_min), "{hold_min}");
    }
}

#[test]
fn a_generator_needs_a_minute_between_runs_may_run_all_day_and_has_no_stock() {
    // Common practice, no source.
    let plan = plan(SALT_POOL);
    let cell = &plan.figures.feeders[1];
    assert_eq!(cell.hold_s, 60.0);
    assert_eq!((cell.stock_days, cell.after_drum), (None, None));
    let scenario = crate::scenario::Scenario::parse("planned.toml", &plan.scenario)
        .unwrap_or_else(|e| panic!("{e}"));
    let spec = scenario.limits.spec();
    assert_eq!(spec.hours, Fitted::NotFitted);
    let FeederLimits::Enabled(own) = &spec.feeders[1] else {
        panic!("the cell is in use");
    };
    assert!(matches!(own.level_switch, Fitted::NotFitted));
    // Its hours are what the pump's are: caps leave room for what is needed.
    let size = cell.cell.expect("a generator");
    assert!((size.needed_g_per_h * 16.0 - cell.expected_per_day).abs() < 1e-9);
    assert!(cell.day_cap > 1.4 * cell.expected_per_day);
}

#[test]
fn a_generator_makes_as_much_hydrogen_as_chlorine() {
    // Common practice, no source: 26 g/h of chlorine come with 9 L/h. By moles (ideal gas, 20 C): 8.8.
    let text = SALT_POOL
        .replace("rate = \"20 g/h\"", "rate = \"26 g/h\"")
        .replace("rate_any_tube = \"26 g/h\"", "rate_any_tube = \"30 g/h\"");
    let cell = plan(&text).figures.feeders[1].cell.expect("a generator");
    assert!((cell.hydrogen_l_per_h - 9.0).abs() < 0.25, "{cell:?}");
}

#[test]
fn a_generator_too_small_or_in_cold_water_is_told() {
    let small = SALT_POOL
        .replace("rate = \"20 g/h\"", "rate = \"3 g/h\"")
        .replace("rate_any_tube = \"26 g/h\"", "rate_any_tube = \"4 g/h\"");
    let found = plan(&small).findings;
    assert!(found.iter().any(|f| f.name == "too_little"), "{found:?}");
    let cold = SALT_POOL.replace("temperature = \"26 C\"", "temperature = \"12 C\"");
    let found = plan(&cold).findings;
    assert!(found.iter().any(|f| f.name == "cell_cold"), "{found:?}");
    let found = plan(SALT_POOL).findings;
    assert!(!found.iter().any(|f| f.name == "cell_cold"), "{found:?}");
}

#[test]
fn orp_tells_the_strength_of_chlorine_and_not_its_amount() {
    // Common practice, no source: ORP is a relation, not a measurement of chlorine. With the same free chlorine,
    // a few tenths of pH or some cyanuric acid are tens of millivolts.
    let orp = |ph: f64, cya: f64| {
        let test = crate::water::WaterTest {
            temp_c: 26.0,
            ta_mg_l: 90.0,
            ca_mg_l: 220.0,
            tds_mg_l: 1000.0,
            ph,
            cya_mg_l: cya,
            borate_mg_l: 0.0,
            chlorine_mg_l: 2.0,
        };
        let water = test.water().unwrap();
        let solved = water.equilibrium().solve(&water);
        let mg_l = solved.hypochlorous * CHLORINE_MG_PER_MMOL * 1000.0;
        750.0 + super::work::ORP_PER_DECADE_MV * libm::log10(mg_l)
    };
    assert!(orp(7.2, 0.0) - orp(8.0, 0.0) > 20.0);
    assert!(orp(7.5, 0.0) - orp(7.5, 40.0) > 40.0);
}

#[test]
fn new_plaster_needs_much_more_acid_at_first() {
    // Common practice, no source. Half of what a start-up may see: 10 mg/L of alkalinity dissolve on the first day.
    let fed_ml = |plastered: bool| {
        let mut scenario = Scenario::parse("planned.toml", &plan(HOME_POOL).scenario)
            .unwrap_or_else(|e| panic!("{e}"));
        let body = &mut scenario.plant.bodies[0];
        body.plaster = plastered.then(|| crate::plant::PlasterSpec {
            // 50 mg/L as CaCO3 are 1 meq/L, and a meq/L in a m3 is an eq.
            first_eq_day: 10.0 / 50.04 * body.volume_m3,
            days: 28.0,
        });
        let unit = crate::unit::DosewardenUnit::for_scenario(&scenario);
        let mut pool = crate::pool::SimPool::attach(&scenario, unit).expect("a sound plant");
        pool.run_for_days(2);
        pool.truth().feeders[0].fed_total / 1000.0
    };
    let (new, old) = (fed_ml(true), fed_ml(false));
    assert!(new > 2.0 * old, "{new} mL against {old} mL");
}
