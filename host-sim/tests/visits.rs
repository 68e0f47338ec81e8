//! What persons, rain and the mains do to the water in a scenario.

use dosewarden_sim::pool::LogWhat;
use dosewarden_sim::scenario::{Act, FIRST_POOL, PersonAct, Poured};
use dosewarden_sim::{DosewardenUnit, Scenario, SimPool};

/// The first pool without its events, and with more lines at the end.
fn scenario(more: &str) -> Result<Scenario, String> {
    let end = FIRST_POOL.find("[[event]]").expect("it has events");
    let text = format!("{}\n{more}\n", &FIRST_POOL[..end]);
    Scenario::parse("my.toml", &text).map_err(|error| error.to_string())
}

fn attach(more: &str) -> SimPool<DosewardenUnit> {
    let scenario = scenario(more).expect("a sound scenario");
    let unit = DosewardenUnit::for_scenario(&scenario);
    SimPool::attach(&scenario, unit).expect("a sound plant")
}

fn pour(what: Poured, amount: u32) -> Act {
    Act::Person(PersonAct::Pour { what, amount })
}

#[test]
fn bicarbonate_lifts_alkalinity_by_its_weight() {
    let mut pool = attach("");
    let before = pool.truth().bodies[0].amounts;
    // 1.68 mg of NaHCO3 (84.007 g/mol) a litre is 1 mg/L as CaCO3 (50.043 g/eq), by molar masses.
    pool.act(pour(Poured::Bicarbonate, 1_595));
    pool.tick();
    let came = pool.truth().bodies[0].amounts.minus(&before);
    let mg_l = came.alkalinity_eq * 50_043.45 / 95_000.0;
    assert!((mg_l - 10.0).abs() < 0.02, "{mg_l}");
    pool.act(pour(Poured::CyanuricAcid, 950));
    pool.act(pour(Poured::CalciumChloride, 1_000));
    pool.act(pour(Poured::Salt, 1_000));
    pool.act(pour(Poured::Acid, 1_000));
    pool.act(pour(Poured::Hypochlorite, 760));
    pool.tick();
    let came = pool.truth().bodies[0].amounts.minus(&before);
    assert!((came.cyanurate_mol * 129.075 - 950.0).abs() < 0.1);
    assert!((came.calcium_mol * 110.984 - 1_000.0).abs() < 0.1);
    // 8.0 mL of 125 g/L raise 1 m3 by 1 mg/L (White 1972, second-hand).
    assert!((came.chlorine_mol * 70_906.0 / 95_000.0 - 1.0).abs() < 1e-3);
    let acid = 1_595.0 / 84.0066 - 9.971 + 0.095 / 0.070_906;
    assert!((came.alkalinity_eq - acid).abs() < 1e-3, "{came:?}");
}

#[test]
fn exchanged_water_comes_out_of_the_mains() {
    let mut pool = attach("");
    let before = pool.truth().bodies[0].amounts;
    pool.act(Act::Person(PersonAct::ExchangeWater(8_550)));
    pool.tick();
    let now = pool.truth().bodies[0].amounts;
    // A tenth of the well-mixed part: 90 % of 95 m3.
    let lost = 1.0 - now.cyanurate_mol / before.cyanurate_mol;
    assert!((lost - 0.09).abs() < 1e-3, "{lost}");
    assert!((now.water_l - before.water_l).abs() < 1e-6);
    let alkalinity = now.alkalinity_eq - before.alkalinity_eq;
    assert!(
        (alkalinity - 8_550.0 * 50.0 / 50_043.45).abs() < 0.1,
        "{alkalinity}"
    );
}

#[test]
fn it_rains_for_as_long_as_is_said() {
    let mut pool = attach("[[event]]\nat = \"day 1 03:00\"\nrain = \"20 mm\"\nfor = \"2 h\"");
    pool.run_for_ms(8 * 3_600_000);
    let body = &pool.truth().bodies[0];
    // 95 m3 of 1.5 m: 63.3 m2, 20 mm of it, and 8 h of what the mains make up.
    let rain = 20.0 * 95.0 / 1.5;
    let make_up = (4.0 * 95.0 / 1.5 + 80.0) / 3.0;
    let came = body.counted.came.water_l;
    assert!((came - rain - make_up).abs() < 1.0, "{came}");
}

#[test]
fn a_visit_tests_with_its_error_and_adds_what_is_missing() {
    let visits = |target: &str, error: &str| {
        let mut pool = attach(&format!(
            "[[visit]]\nfirst = \"day 1 10:00\"\nevery = \"1 day\"\nrefill = [\"acid\"]\n\
             alkalinity_to = \"{target}\"\nalkalinity_error = \"{error}\""
        ));
        pool.run_for_days(4);
        let tests: Vec<f64> = pool
            .log()
            .iter()
            .filter_map(|line| match line.what {
                LogWhat::Tested { alkalinity_mg_l } => Some(alkalinity_mg_l),
                _ => None,
            })
            .collect();
        (tests, pool.truth().bodies[0].alkalinity_mg_l)
    };
    let (tests, end) = visits("120 mg/L", "0 mg/L");
    assert_eq!(tests.len(), 4);
    assert!(tests[0] < 101.0 && tests[1] > 115.0, "{tests:?}");
    assert!((end - 120.0).abs() < 4.0, "{end}");
    let (tests, _) = visits("60 mg/L", "8 mg/L");
    let spread = tests
        .iter()
        .fold(0.0_f64, |most, test| most.max((test - 100.0).abs()));
    assert!((0.5..28.0).contains(&spread), "{tests:?}");
    assert_eq!(visits("60 mg/L", "8 mg/L"), visits("60 mg/L", "8 mg/L"));
}

#[test]
fn mistakes_in_visits_are_told() {
    let visit = "[[visit]]\nfirst = \"day 1 10:00\"\nevery = \"7 days\"\n";
    let error = scenario(visit).unwrap_err();
    assert!(error.contains("nothing is done on this visit"), "{error}");
    let error = scenario(&format!("{visit}refill = [\"acd\"]")).unwrap_err();
    assert!(error.contains("did you mean \"acid\"?"), "{error}");
    let error = scenario(&format!("{visit}alkalinity_to = \"100 mg/L\"")).unwrap_err();
    assert!(error.contains("has no `alkalinity_error`"), "{error}");
    let error =
        scenario("[[event]]\nat = \"day 1 03:00\"\nrain = \"20 L\"\nfor = \"2 h\"").unwrap_err();
    assert!(error.contains("a volume; it has to be a length"), "{error}");
}
