//! What persons, rain and the mains do to the water in a scenario.

use dosewarden::water_tests::TestedValue;
use dosewarden_sim::plant::{PlantFault, ProbeFault, ProbeId};
use dosewarden_sim::pool::{LogLine, LogWhat, Tested};
use dosewarden_sim::scenario::{Act, FIRST_POOL, PersonAct, Poured};
use dosewarden_sim::unit::Reply;
use dosewarden_sim::{ControlUnit, DosewardenUnit, Scenario, SimPool};

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
                LogWhat::Tested(Tested::Alkalinity(mg_l)) => Some(mg_l),
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

/// The first pool in full caps, visited each day at ten from the second day on, with more keys.
fn visited(keys: &str) -> SimPool<DosewardenUnit> {
    let begun = "[[event]]\nat = \"day 1 07:30\"\nperson = \"initialise\"\n\
                 [[event]]\nat = \"day 1 07:31\"\nperson = \"full_stage\"\n";
    attach(&format!(
        "{begun}[[visit]]\nfirst = \"day 2 10:00\"\nevery = \"1 day\"\n{keys}\n"
    ))
}

fn tests_of(pool: &SimPool<DosewardenUnit>) -> Vec<Tested> {
    let tested = |line: &LogLine| match line.what {
        LogWhat::Tested(tested) => Some(tested),
        _ => None,
    };
    pool.log().iter().filter_map(tested).collect()
}

#[test]
fn a_visit_enters_what_it_found_and_a_kit_is_compared_with_the_probe() {
    let keys = "alkalinity_to = \"110 mg/L\"\nalkalinity_error = \"0 mg/L\"\nph_error = \"pH 0.01\"\n\
                chlorine_error = \"0 mg/L\"\ncyanurate_error = \"0 mg/L\"";
    let mut pool = visited(keys);
    pool.run_for_ms(34 * 3_600_000);
    let truth = pool.truth().bodies[0];
    pool.run_for_ms(60_000);
    let found = tests_of(&pool);
    let [
        Tested::Alkalinity(alkalinity),
        Tested::Ph(ph),
        Tested::Chlorine(chlorine),
        Tested::Cyanurate(cyanurate),
    ] = found[..]
    else {
        panic!("{found:?}");
    };
    assert!((alkalinity - truth.alkalinity_mg_l).abs() < 0.1 && alkalinity < 101.0);
    assert!(ph != truth.ph && (ph - truth.ph).abs() < 0.05, "{ph}");
    assert!((chlorine - truth.free_chlorine_mg_l).abs() < 0.01);
    // As the scenario says at the start; the mains have none.
    assert!((24.0..=25.0).contains(&cyanurate), "{cyanurate}");
    let entered = |value| pool.unit().tests().of(value).map(|test| test.found.0);
    // What is made up is in it.
    assert_eq!(entered(TestedValue::Alkalinity), Some(110_000));
    let cyanurate = (cyanurate * 1000.0).round() as u32;
    assert_eq!(entered(TestedValue::Cyanurate), Some(cyanurate));
    let evidence = |pool: &SimPool<DosewardenUnit>| {
        let controller = pool.unit().controller().expect("it has power");
        controller.evidence().kit_agreed
    };
    assert!(evidence(&pool));
    let mut untold = visited(&format!("{keys}\nenters = false"));
    untold.run_for_ms(34 * 3_600_000 + 60_000);
    assert_eq!(tests_of(&untold).len(), 4, "they are made all the same");
    assert_eq!(untold.unit().tests().of(TestedValue::Alkalinity), None);
    // While bicarbonate spreads, an answer of the water would be misread.
    let pauses = |pool: &SimPool<DosewardenUnit>| {
        let pause =
            |line: &&LogLine| matches!(line.what, LogWhat::Act(Act::Person(PersonAct::Pause(_))));
        pool.log().iter().filter(pause).count()
    };
    assert_eq!((pauses(&pool), pauses(&untold)), (1, 0));
    assert!(!evidence(&untold));
}

#[test]
fn a_probe_that_is_off_is_trimmed_and_orp_anchored_where_the_visit_says_so() {
    let off_by = |keys: &str| {
        let mut pool = visited(keys);
        pool.set_fault(PlantFault::Probe(ProbeId::Ph, ProbeFault::Offset(0.15)));
        pool.run_for_ms(34 * 3_600_000 + 10 * 60_000);
        let shown = pool.status().ph.expect("it shows pH");
        f64::from(shown) / 1000.0 - pool.truth().bodies[0].ph
    };
    let both = "ph_error = \"pH 0\"\nchlorine_error = \"0 mg/L\"\n";
    let far = off_by(&format!("{both}trim_over = \"pH 0.2\""));
    assert!((far - 0.15).abs() < 0.06, "left alone: {far}");
    let near = off_by(&format!("{both}trim_over = \"pH 0.1\""));
    assert!(near.abs() < 0.06, "{near}");
    let replies = |keys: &str| {
        let mut pool = visited(&format!("chlorine_error = \"0 mg/L\"\n{keys}"));
        pool.run_for_ms(34 * 3_600_000 + 60_000);
        let line = pool.log().iter().rev().find_map(|line| match &line.what {
            LogWhat::Reply(reply) => Some(reply.clone()),
            _ => None,
        });
        let Tested::Chlorine(found) = tests_of(&pool)[0] else {
            panic!("no test");
        };
        (line, found)
    };
    let (refused, found) = replies("anchor_at = \"4.5 mg/L\"");
    assert!(
        matches!(&refused, Some(Reply::Refused(why)) if why.contains("is wanted")),
        "{refused:?}"
    );
    let (done, _) = replies(&format!("anchor_at = \"{found:.1} mg/L\""));
    assert_eq!(done, Some(Reply::Done));
}

#[test]
fn an_overdue_test_ends_with_the_visit_that_enters_it() {
    let care = "[care]\nnew_unit = \"feeds\"\nobserve_for = \"1 h\"\nreduced_for = \"1 h\"\n\
                proof_every = \"90 days\"\nemergency_stop = \"not fitted\"\ncold_below = \"not fitted\"\n\
                alkalinity_every = \"1 day\"\ncyanurate_every = \"60 days\"\n";
    let event = "[[event]]\nat = \"day 1 08:00\"\nperson = \"water_test\"\nof = \"alkalinity\"\n";
    let overdue = |enters: &str| {
        let keys = "alkalinity_to = \"100 mg/L\"\nalkalinity_error = \"4 mg/L\"";
        let begun = "[[event]]\nat = \"day 1 07:30\"\nperson = \"initialise\"\n";
        let visit =
            format!("[[visit]]\nfirst = \"day 2 10:00\"\nevery = \"7 days\"\n{keys}\n{enters}\n");
        let mut pool = attach(&format!("{care}{begun}{event}{visit}"));
        let names = pool.unit().alarm_names().to_vec();
        let at = names
            .iter()
            .position(|one| one == "test_overdue")
            .expect("an alarm of this name");
        let stands = |pool: &SimPool<DosewardenUnit>| pool.status().alarms >> at & 1 == 1;
        pool.run_for_ms(33 * 3_600_000 + 1_800_000);
        assert!(stands(&pool), "the test of yesterday is a day old");
        pool.run_for_ms(3_600_000);
        stands(&pool)
    };
    assert!(!overdue(""));
    assert!(overdue("enters = false"));
}

#[test]
fn what_a_visit_lacks_is_told() {
    let visit = "[[visit]]\nfirst = \"day 1 10:00\"\nevery = \"7 days\"\n";
    let told = |keys: &str| scenario(&format!("{visit}{keys}")).unwrap_err();
    let trim = told("ph_error = \"pH 0.1\"\ntrim_over = \"pH 0.2\"");
    assert!(
        trim.contains("write `ph_error` and `chlorine_error`"),
        "{trim}"
    );
    let anchor = told("ph_error = \"pH 0.1\"\nanchor_at = \"2 mg/L\"");
    assert!(anchor.contains("write `chlorine_error` too"), "{anchor}");
    let only = told("enters = false");
    assert!(only.contains("nothing is done on this visit"), "{only}");
}

#[test]
fn what_the_first_pool_shows_of_care_and_visits_is_read() {
    let from = FIRST_POOL.find("# [care]").expect("it is shown");
    let (_, shown) = FIRST_POOL.split_at(from);
    let to = shown.find("# inject = ").expect("it ends");
    let shown = &shown[..to];
    let shown = &shown[..shown.rfind("# [[event]]").expect("another event")];
    let lines: Vec<&str> = shown
        .lines()
        .map(|line| line.trim_start_matches("# "))
        .collect();
    let read = scenario(&lines.join("\n")).expect("as it is shown");
    assert!(read.care.is_some());
    let visit = read.events.iter().find_map(|event| match event.act {
        Act::Visit(visit) => Some(visit),
        _ => None,
    });
    let visit = visit.expect("a visit on day 5");
    assert_eq!((visit.ph_error, visit.trim_over_ph), (Some(0.1), Some(0.2)));
    assert_eq!(visit.anchor_at_mg_l, Some(1.2));
    assert!(visit.refill[1] && visit.enters);
}
