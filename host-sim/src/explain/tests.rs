//! Each part against a hand's reckoning or a published figure, and what is blamed when.

use super::{ExplainError, Explained, Source};
use crate::plan::{HOME_POOL, Plan, Site};
use crate::visit::Log;
use crate::water::units::ml_per_m3;

const FROM: &str = "2031-05-02 10:00";
const TO: &str = "2031-05-03 10:00";

fn site() -> Site {
    Site::parse("site.toml", HOME_POOL).expect("a sound site")
}

/// A day between two visits; rows as `what,of,value,with`, with semicolons between them.
fn explained_at(site: &Site, before: &str, now: &str) -> Result<Explained, ExplainError> {
    let rows = |time: &str, rows: &str| -> String {
        let each = rows.split(';').filter(|row| !row.trim().is_empty());
        each.map(|row| format!("{time},{}\n", row.trim())).collect()
    };
    let text = format!(
        "time,what,of,value,with\n{}{}",
        rows(FROM, before),
        rows(TO, now)
    );
    let plan = Plan::of(site).expect("a plan");
    let log = Log::parse("log.csv", &text, site, &plan).unwrap_or_else(|error| panic!("{error}"));
    Explained::of(site, &plan, &log, FROM, TO)
}

fn explained(before: &str, now: &str) -> Explained {
    explained_at(&site(), before, now).unwrap_or_else(|error| panic!("{error}"))
}

/// Totals and tests of a visit; totals as the controller shows them, a tenth over what the configured rate gives.
fn visit(acid_l: f64, ph: f64, alkalinity: f64, chlorine: f64) -> String {
    format!(
        "fed,acid,{:.5} L,; fed,chlorine,50 L,; test,ph,pH {ph},; test,alkalinity,{alkalinity} mg/L,; test,free_chlorine,{chlorine} mg/L,",
        acid_l * 1.1
    )
}

fn part(found: &Explained, source: Source) -> [f64; 3] {
    let part = found
        .parts
        .iter()
        .find(|part| part.source == source)
        .expect("all are there");
    [part.ph, part.alkalinity_mg_l, part.chlorine_mg_l]
}

fn names(found: &Explained) -> Vec<&'static str> {
    found.suspects.iter().map(|one| one.name).collect()
}

#[test]
fn parts_and_remainder_add_up_to_what_was_tested() {
    let more =
        "; hand,bicarbonate,900 g,; water,refill,3 m3,120 mg/L; water,rain,500 L,; bathers,,12,";
    let found = explained(
        &(visit(40.0, 7.5, 90.0, 2.5) + more),
        &visit(40.6, 7.3, 88.0, 2.0),
    );
    for (at, moved) in [-0.2, -2.0, -0.5].into_iter().enumerate() {
        let sum: f64 = Source::ALL
            .iter()
            .map(|source| part(&found, *source)[at])
            .sum();
        assert!(
            (sum + found.rest[at].value - moved).abs() < 1e-6,
            "{at}: {sum}"
        );
        assert!(found.rest[at].error > 0.0);
    }
}

#[test]
fn fed_acid_takes_the_published_alkalinity() {
    // Wojtowicz (second-hand): 25.6 US fl oz of 31.45 % acid in 10,000 US gal take 10 mg/L; here as 4.25 mol/L.
    let litres = ml_per_m3(25.6) * site().volume_l / 1e6 * 9.971 / 4.25;
    let found = explained(
        &visit(40.0, 7.8, 100.0, 2.5),
        &visit(40.0 + litres, 7.5, 90.0, 2.5),
    );
    let [ph, alkalinity, chlorine] = part(&found, Source::FedAcid);
    assert!(
        (alkalinity + 10.0).abs() < 0.05 && chlorine == 0.0 && ph < -0.2,
        "{ph} {alkalinity}"
    );
}

#[test]
fn co2_lifts_ph_by_the_computed_figure_and_takes_no_alkalinity() {
    // PHREEQC (computed): at 25 C, 1.5 m, TA 100, 24 h from pH 7.50 at 2 cm/h end at 7.61, at 4 cm/h at 7.70.
    for (velocity, end) in [(2.0, 7.61), (4.0, 7.70)] {
        let mut site = site();
        (site.co2_transfer_cm_h, site.depth_m, site.temperature_c) = (velocity, 1.5, 25.0);
        (
            site.water.cyanuric_acid_mg_l,
            site.water.calcium_mg_l,
            site.water.dissolved_mg_l,
        ) = (0.0, 300.0, 1000.0);
        let calm = "fed,acid,40 L,; fed,chlorine,50 L,; test,ph,pH 7.5,; test,alkalinity,100 mg/L,; test,free_chlorine,0 mg/L,";
        let found = explained_at(&site, calm, calm).expect("sound");
        let [ph, alkalinity, _] = part(&found, Source::Co2Loss);
        assert!((7.5 + ph - end).abs() < 0.015, "{velocity}: {ph}");
        assert!(alkalinity.abs() < 1e-9);
    }
}

#[test]
fn bathers_use_the_published_chlorine() {
    // Berg, Fang, Tang 2019, J. Water Health 17(2):227: 4.12 g each.
    let found = explained(
        &(visit(40.0, 7.5, 90.0, 2.5) + "; bathers,,20,"),
        &visit(40.0, 7.5, 90.0, 2.0),
    );
    let [_, _, chlorine] = part(&found, Source::Bathers);
    let expected = -20.0 * 4120.0 / site().volume_l;
    assert!((chlorine - expected).abs() < 1e-6, "{chlorine} {expected}");
}

#[test]
fn what_errors_explain_blames_nothing() {
    let found = explained(&visit(40.0, 7.5, 90.0, 2.5), &visit(40.0, 7.6, 93.0, 2.2));
    assert_eq!(
        (names(&found), found.is_certain),
        (vec![], false),
        "{found}"
    );
    assert!(found.to_string().contains("nothing is to blame"));
}

#[test]
fn acid_from_elsewhere_is_one_of_several_that_fit_and_never_certain() {
    // 25 mg/L of alkalinity gone in a day, with hardly any acid booked.
    let found = explained(
        &visit(40.0, 7.5, 100.0, 2.5),
        &visit(40.05, 6.95, 75.0, 2.4),
    );
    let suspects = names(&found);
    assert!(suspects.contains(&"second_source"), "{found}");
    assert!(suspects.len() > 1 && !found.is_certain, "{found}");
    assert!(
        !suspects.contains(&"co2_faster") && !suspects.contains(&"bicarbonate"),
        "{found}"
    );
    assert!(
        found
            .to_string()
            .contains("Not certain: each of these alone would fit")
    );
}

#[test]
fn one_suspect_alone_is_certain_once_the_drum_clears_the_feeder() {
    let before = visit(40.0, 7.5, 100.0, 2.5) + "; filled,acid,18 L,";
    let now = visit(40.2, 6.75, 75.0, 2.4) + "; level,acid,17.8 L,";
    let found = explained(&before, &now);
    assert_eq!(
        (names(&found), found.is_certain),
        (vec!["second_source"], true),
        "{found}"
    );
    // 25 mg/L of it, less what was booked, in 61 m3: the same by hand.
    let words = &found.suspects[0].words;
    let litres: f64 = words
        .split(' ')
        .next()
        .and_then(|text| text.parse().ok())
        .expect("litres");
    let by_hand = 25.0 / 50.043 / 1000.0 * site().volume_l / 4.25;
    assert!((litres - by_hand).abs() < 1.0, "{litres} {by_hand}");
}

#[test]
fn acid_that_was_booked_and_did_not_arrive_is_among_the_suspects() {
    let found = explained(
        &visit(40.0, 7.5, 100.0, 2.5),
        &visit(46.0, 7.55, 100.0, 2.5),
    );
    assert!(names(&found).contains(&"acid_missing"), "{found}");
    assert!(!names(&found).contains(&"second_source"), "{found}");
}

#[test]
fn a_probe_that_moved_beside_the_kit_is_told() {
    let shows = |ph: f64| format!("; shows,ph,pH {ph},");
    let found = explained(
        &(visit(40.0, 7.5, 90.0, 2.5) + &shows(7.5)),
        &(visit(40.4, 7.2, 88.0, 2.5) + &shows(7.5)),
    );
    let drift = found.drift.as_ref().expect("both were entered");
    assert!((drift.drift.value - 0.3).abs() < 1e-9 && (drift.off.value - 0.3).abs() < 1e-9);
    assert!(
        found
            .to_string()
            .contains("the water stands 0.30 lower than that"),
        "{found}"
    );
}

#[test]
fn what_is_missing_is_told() {
    let good = visit(40.0, 7.5, 90.0, 2.5);
    let told = |before: &str, now: &str| {
        explained_at(&site(), before, now)
            .expect_err("refused")
            .to_string()
    };
    assert!(
        told("test,ph,pH 7.5,", &good)
            .contains("the visit of 2031-05-02 10:00 has no test of alkalinity")
    );
    assert!(told("test,alkalinity,90 mg/L,", &good).contains("no test of pH"));
    let without = "test,ph,pH 7.5,; test,alkalinity,90 mg/L,";
    assert!(told(without, &good).contains("total of the acid feeder"));
    let (site, plan) = (site(), Plan::of(&site()).expect("a plan"));
    let text = format!("time,what,of,value,with\n{FROM},test,ph,pH 7.5,\n");
    let log = Log::parse("log.csv", &text, &site, &plan).expect("sound");
    let far = Explained::of(&site, &plan, &log, "2031-06-02 10:00", TO).expect_err("far");
    assert_eq!(
        far.to_string(),
        format!("no visit is within 12 h of --from 2031-06-02 10:00; the nearest: {FROM}")
    );
    let end = |from: &str, to: &str| {
        let refused = Explained::of(&site, &plan, &log, from, to).expect_err("no time");
        refused.to_string()
    };
    for (from, to, says) in [
        ("yesterday", TO, "--from \"yesterday\" is no time; write"),
        (
            "2031-05-32 10:00",
            TO,
            "--from \"2031-05-32 10:00\" is no time; write",
        ),
        (TO, "", "--to \"\" is no time; write"),
    ] {
        assert!(end(from, to).starts_with(says), "{}", end(from, to));
    }
}

/// A log of years would be listed whole.
#[test]
fn of_many_visits_the_two_nearest_are_named() {
    let (site, plan) = (site(), Plan::of(&site()).expect("a plan"));
    let mut text = "time,what,of,value,with\n".to_owned();
    for month in ["03", "04", "05", "06"] {
        text.push_str(&format!("2031-{month}-02 10:00,test,ph,pH 7.5,\n"));
    }
    let log = Log::parse("log.csv", &text, &site, &plan).expect("sound");
    for (asked, nearest) in [
        ("2031-04-20 10:00", "2031-04-02 10:00, 2031-05-02 10:00"),
        ("2031-01-20 10:00", "2031-03-02 10:00"),
        ("2031-08-20 10:00", "2031-06-02 10:00"),
    ] {
        let far = Explained::of(&site, &plan, &log, asked, TO).expect_err("far");
        let told = far.to_string();
        assert!(told.ends_with(&format!("the nearest: {nearest}")), "{told}");
    }
}
