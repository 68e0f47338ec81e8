//! Rows, figures, questions and causes, each against a hand's reckoning or a published figure.

mod ahead;
mod bodies;
mod rows;

use super::{Log, Urgency, VisitResult};
use crate::plan::{HOME_POOL, Plan, Site};
use crate::water::units::ml_per_m3;

const HEADER: &str = "time,what,of,value,with,note\n";

fn log(rows: &str) -> Result<Log, String> {
    let site = Site::parse("site.toml", HOME_POOL).expect("a sound site");
    let plan = Plan::of(&site).expect("a plan");
    let text = format!("{HEADER}{rows}");
    Log::parse("log.csv", &text, &site, &plan).map_err(|error| error.to_string())
}

/// A total that the controller shows for so much at the configured rate: it counts a tenth more.
fn shown(litres: f64) -> String {
    format!("{:.4} L", litres * 1.1)
}

fn volume_l() -> f64 {
    Site::parse("site.toml", HOME_POOL).expect("sound").volume_l
}

/// Two visits, 14 days apart; `before` and `now` are `what,of,value,with` and what stands between semicolons.
fn found(before: &str, now: &str) -> VisitResult {
    let rows = |time: &str, rows: &str| -> String {
        let each = rows.split(';').filter(|row| !row.trim().is_empty());
        each.map(|row| format!("{time},{},\n", row.trim()))
            .collect()
    };
    let text = rows("2031-05-02 10:00", before) + &rows("2031-05-16 10:00", now);
    let log = log(&text).unwrap_or_else(|error| panic!("{error}"));
    let site = Site::parse("site.toml", HOME_POOL).expect("a sound site");
    let plan = Plan::of(&site).expect("a plan");
    VisitResult::of(&site, &plan, &log)
}

fn questions(found: &VisitResult) -> Vec<&'static str> {
    found.questions.iter().map(|one| one.name).collect()
}

fn causes(found: &VisitResult) -> Vec<&'static str> {
    found.causes.iter().map(|one| one.name).collect()
}

const DRUM: &str = "filled,acid,18 L,; fed,acid,44 L,";

#[test]
fn a_drum_gives_the_real_rate_with_its_error() {
    let found = found(DRUM, "fed,acid,48.4 L,; level,acid,12 L,");
    let rate = &found.rates[0];
    // 6 L for 4, each reading within 1.5 % of 20 L: 0.3 L are two deviations, and two readings 0.212 L.
    assert!(
        (rate.ratio.value - 1.5).abs() < 1e-6 && (rate.ratio.error - 0.053).abs() < 1e-3,
        "{rate:?}"
    );
    // The catch test of the site file, 26 mL in 60 s, is what is configured.
    assert!((rate.configured_ml_h - 1560.0).abs() < 0.1, "{rate:?}");
    assert!((rate.rate.value - 2340.0).abs() < 0.1, "{rate:?}");
    assert_eq!(
        (causes(&found), found.urgency),
        (vec!["feeds_more"], Urgency::Mend)
    );
    // Surely nearer to double: 0.6 L off at the most.
    let double = self::found(DRUM, "fed,acid,48.4 L,; level,acid,11 L,");
    assert_eq!(
        (double.rates[0].verdict, double.urgency),
        ("high", Urgency::Now)
    );
    let right = self::found(DRUM, "fed,acid,48.4 L,; level,acid,14.1 L,");
    assert_eq!(
        (right.rates[0].verdict, causes(&right)),
        ("as_configured", vec![])
    );
}

#[test]
fn a_rate_is_named_as_certain_only_with_a_catch_test_that_agrees() {
    let or = |now: &str| {
        let found = found(DRUM, &format!("fed,acid,48.4 L,; level,acid,12 L,; {now}"));
        assert_eq!(causes(&found), ["feeds_more"], "{now}");
        found.causes[0].or.clone()
    };
    assert!(or("").is_some_and(|or| or.contains("siphon") && or.contains("catch test")));
    assert_eq!(or("catch,acid,39 mL,60 s"), None);
    assert!(or("catch,acid,26 mL,60 s").is_some_and(|or| or.contains("the pump is as configured")));
    assert!(or("catch,acid,60 mL,60 s").is_some_and(|or| or.contains("neither")));
    let less = found(DRUM, "fed,acid,50.6 L,; level,acid,15.5 L,");
    assert_eq!(causes(&less), ["feeds_less"]);
    assert!(
        less.causes[0]
            .or
            .as_ref()
            .is_some_and(|or| or.contains("refill that was not entered"))
    );
}

#[test]
fn a_drum_and_a_ledger_that_contradict_each_other_are_asked_about() {
    let asked = |now: &str| questions(&found(DRUM, now)).join(" ");
    assert_eq!(asked("fed,acid,48.4 L,; level,acid,18.5 L,"), "drum_rose");
    assert_eq!(asked("fed,acid,43 L,; level,acid,17 L,"), "ledger_fell");
    assert_eq!(asked("fed,acid,44 L,; level,acid,15 L,"), "drum_fell_unfed");
    assert_eq!(
        asked("fed,acid,48.4 L,; level,acid,18 L,"),
        "drum_stood_fed"
    );
    assert_eq!(
        asked("fed,acid,48.4 L,; level,acid,14 L,; filled,acid,25 L,"),
        "drum_over_size"
    );
    assert_eq!(
        asked("level,acid,15 L,"),
        "",
        "without the total nothing is compared"
    );
}

#[test]
fn ten_mg_l_of_alkalinity_are_the_published_amount_of_acid() {
    // Wojtowicz (second-hand): 25.6 US fl oz of 31.45 % acid, 9.971 mol/L, in 10,000 US gal. The site's has 4.25 mol/L.
    let litres = ml_per_m3(25.6) * volume_l() / 1e6 * 9.971 / 4.25;
    let before = "fed,acid,44 L,; test,alkalinity,100 mg/L,";
    let now = |alkalinity| {
        let total = shown(40.0 + litres);
        format!("fed,acid,{total},; test,alkalinity,{alkalinity} mg/L,")
    };
    let as_fed = found(before, &now(90));
    let balance = as_fed.alkalinity.as_ref().expect("two tests");
    assert!((balance.by_booked.value - 10.0).abs() < 0.05, "{balance:?}");
    assert_eq!((balance.says, causes(&as_fed)), ("closes", vec![]));
    // Two tests of 5 mg/L each: 14.1 are two deviations, and a little for the acid.
    let elsewhere = found(before, &now(75));
    let balance = elsewhere.alkalinity.as_ref().expect("two tests");
    let acid = balance.unexplained_acid.as_ref().expect("acid is fed");
    assert!((acid.value - 1.5 * litres).abs() < 0.02, "{acid:?}");
    assert_eq!(causes(&elsewhere), ["second_source"]);
    assert!(
        elsewhere.causes[0]
            .or
            .as_ref()
            .is_some_and(|or| or.contains("another rate than configured"))
    );
    let bicarbonate = found(before, &now(106));
    assert_eq!(causes(&bicarbonate), ["acid_missing"]);
}

#[test]
fn what_was_poured_and_let_in_is_in_the_balance() {
    let fed = "fed,acid,40 L,";
    let explained = |more: &str| {
        let found = found(
            &format!("{fed}; test,alkalinity,100 mg/L,; {more}"),
            &format!("{fed}; test,alkalinity,100 mg/L,"),
        );
        let balance = found.alkalinity.expect("two tests");
        balance.by_booked.value + balance.by_water.value
    };
    let m3 = volume_l() / 1000.0;
    // 1.68 g of bicarbonate a m3 raise by 1 mg/L, by molar masses (84.007 over 50.043).
    let grams = 16.787 * m3;
    assert!((explained(&format!("hand,bicarbonate,{grams:.0} g,")) + 10.0).abs() < 0.05);
    // Rain has none: a tenth of the water takes 1 - exp(-0.1) of 100.
    assert!((explained(&format!("water,rain,{:.0} L,", m3 * 100.0)) - 9.5).abs() < 0.1);
    assert!(explained(&format!("water,refill,{:.0} L,100 mg/L", m3 * 100.0)).abs() < 0.01);
    // Poured before the test, it is in the test.
    let earlier = found(
        &format!("{fed}; hand,bicarbonate,900 g,; test,alkalinity,100 mg/L,"),
        &format!("{fed}; test,alkalinity,100 mg/L,"),
    );
    assert!(earlier.alkalinity.expect("two tests").by_booked.value.abs() < 0.01);
}

#[test]
fn tablets_explain_the_cyanuric_acid_that_they_bring() {
    // 0.6 mg/L of it for each mg/L of chlorine (common practice, no source): 129.075 over three times 70.906.
    let rose = |poured: &str| {
        let before = format!("fed,acid,40 L,; test,cyanuric_acid,30 mg/L,; {poured}");
        causes(&found(
            &before,
            "fed,acid,40 L,; test,cyanuric_acid,60 mg/L,",
        ))
    };
    assert_eq!(rose(""), ["cyanurate_rose"]);
    let grams = 30.0 / 0.607 / 0.9153 * volume_l() / 1000.0;
    assert_eq!(rose(&format!("hand,trichlor,{grams:.0} g,")), [""; 0]);
}

#[test]
fn chlorine_that_the_probe_contradicts_is_asked_about_and_none_is_poured() {
    let at = |more: &str| {
        found(
            "fed,chlorine,50 L,; test,free_chlorine,2.5 mg/L,",
            &format!("fed,chlorine,50 L,; shows,orp,800 mV,; test,free_chlorine,{more}"),
        )
    };
    let bleached = at("0.2 mg/L,");
    assert_eq!(questions(&bleached), ["chlorine_bleached"]);
    assert!(
        bleached.questions[0]
            .what
            .contains("0.2 mg/L does not go with 800 mV; the ledger fed 0.0 mg/L a day")
    );
    assert!(bleached.questions[0].ask.contains("dilute"));
    assert!(
        bleached
            .today
            .steps
            .iter()
            .all(|step| !step.what.contains("hypochlorite"))
    );
    assert!(
        bleached
            .today
            .withheld
            .iter()
            .any(|why| why.contains("chlorine by hand"))
    );
    assert!(
        !causes(&bleached).contains(&"not_fit_to_bathe"),
        "not known yet"
    );
    assert_eq!(causes(&bleached), [""; 0], "what rests on it is held back");
    let diluted = at("12 mg/L,diluted");
    assert_eq!(questions(&diluted), [""; 0]);
    assert_eq!(
        (causes(&diluted), diluted.urgency),
        (
            vec!["not_fit_to_bathe", "chlorine_from_elsewhere"],
            Urgency::Close
        )
    );
    let low = found("", "shows,orp,600 mV,; test,free_chlorine,0.5 mg/L,");
    let step = low
        .today
        .steps
        .iter()
        .find(|step| step.what.contains("hypochlorite"))
        .expect("a step");
    // 2 mg/L of 61 m3 by 120 g/L.
    assert_eq!(
        step.amount,
        format!("{:.1} L", 2.0 * volume_l() / 120.0 / 1000.0)
    );
}

#[test]
fn a_ph_by_a_dye_in_much_chlorine_moves_nothing() {
    let much = found(
        "",
        "test,ph,pH 8.3,; test,free_chlorine,6 mg/L,diluted; shows,ph,pH 7.5,",
    );
    assert_eq!(questions(&much), ["ph_dye_misreads", "ph_off_kit_scale"]);
    assert!(
        much.today
            .steps
            .iter()
            .all(|step| !step.what.contains("acid of"))
    );
    assert_eq!(
        much.probe.as_ref().map(|probe| probe.says),
        Some("test_again")
    );
    let little = found(
        "",
        "test,ph,pH 8.1,; test,free_chlorine,2.5 mg/L,; shows,ph,pH 8.0,",
    );
    assert!(
        little
            .today
            .steps
            .iter()
            .any(|step| step.what.contains("hydrochloric acid"))
    );
    assert_eq!(
        causes(&little),
        ["not_fit_to_bathe"],
        "US CDC MAHC 6.6.3.1: over 8.0"
    );
}

#[test]
fn a_probe_is_named_with_what_would_tell_it_from_the_kit() {
    let off = |now: &str| {
        found(
            "test,ph,pH 7.4,; shows,ph,pH 7.45,; test,free_chlorine,2 mg/L,",
            &format!("test,free_chlorine,2 mg/L,; {now}"),
        )
    };
    assert_eq!(causes(&off("test,ph,pH 7.4,; shows,ph,pH 7.6,")), [""; 0]);
    let far = off("test,ph,pH 7.3,; shows,ph,pH 7.8,");
    assert_eq!(causes(&far), ["probe_off"]);
    assert!(
        far.causes[0]
            .or
            .as_ref()
            .is_some_and(|or| or.contains("buffer"))
    );
    let checked = off("test,ph,pH 7.3,; shows,ph,pH 7.8,; buffer,,pH 7.4,pH 7.00");
    assert_eq!(
        (causes(&checked), checked.causes[0].or.clone()),
        (vec!["probe_off"], None)
    );
    let kit = off("test,ph,pH 7.3,; shows,ph,pH 7.8,; buffer,,pH 7.02,pH 7.00");
    assert_eq!(
        kit.probe.as_ref().map(|probe| probe.says),
        Some("kit_doubted")
    );
}
