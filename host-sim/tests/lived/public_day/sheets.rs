//! Days on paper: tests that are late, missing or not whole, probes that were not recorded, and that no condition that
//! a probe saw is left out.

use std::fmt::Write as _;

use dosewarden_sim::day::{Asked, DaySheet, Due, Record, Wanted};
use dosewarden_sim::visit::Log;
use proptest::prelude::*;

use super::{met, site, wanted};

const HEAD: &str = "time,what,of,value,with\n";
/// What is tested once a week.
const WEEKLY: &str = "2031-05-01 09:00,test,alkalinity,100 mg/L,\n\
    2031-05-01 09:00,test,calcium,200 mg/L,\n\
    2031-05-01 09:00,test,cyanuric_acid,0 mg/L,\n\
    2031-05-01 09:00,test,temperature,28 C,\n";

fn sheet(tests: &str, record: Option<&str>, until: Option<&str>) -> DaySheet {
    let (site, plan) = site();
    let text = format!("{HEAD}{WEEKLY}{tests}");
    let log = Log::parse("log.csv", &text, &site, &plan).unwrap_or_else(|error| panic!("{error}"));
    let wanted = Wanted {
        until,
        ..wanted("07:00-21:00")
    };
    let asked = Asked::parse(&site, &log, &wanted).expect("asked");
    let days = asked.record_days(None).expect("days");
    let record = record.map(|text| {
        let read = Record::read("record.csv", text.as_bytes(), &site, days);
        read.unwrap_or_else(|error| panic!("{error}"))
    });
    DaySheet::of(&site, &log, record.as_ref(), &asked)
}

fn test(time: &str) -> String {
    format!("2031-05-02 {time},test,ph,pH 7.4,\n2031-05-02 {time},test,free_chlorine,1.6 mg/L,\n")
}

/// A record of a row each five minutes, with what it shows by the minute.
fn record(from: u32, to: u32, row: impl Fn(u32) -> String) -> String {
    let mut text =
        "clock,ph_shown,orp_shown_mv,flow_l_min,moving,powered,chlorine_refused_by\n".to_owned();
    for minute in (from..=to).step_by(5) {
        let _ = writeln!(
            text,
            "2031-05-02 {:02}:{:02},{}",
            minute / 60,
            minute % 60,
            row(minute)
        );
    }
    text
}

fn sound(_: u32) -> String {
    "7.45,742,1600,1,1,".to_owned()
}

fn of(dues: &[Due], what: &str) -> Vec<(String, Option<String>, i64)> {
    let own = dues.iter().filter(|due| due.what == what);
    own.map(|due| (due.due.clone(), due.made.clone(), due.late_min))
        .collect()
}

fn due(at: &str, made: &str, late: i64) -> (String, Option<String>, i64) {
    let made = (!made.is_empty()).then(|| made.to_owned());
    (at.to_owned(), made, late)
}

#[test]
fn without_a_record_a_test_is_due_each_four_hours_and_late_or_missing_by_the_minute() {
    let tests = test("07:00") + &test("11:00") + &test("15:01");
    let sheet = sheet(&tests, None, None);
    let expected = [
        due("07:00", "07:00", 0),
        due("11:00", "11:00", 0),
        due("15:00", "15:01", 1),
        due("19:01", "", 119),
    ];
    assert_eq!(of(&sheet.dues, "pH"), expected);
    assert_eq!(of(&sheet.dues, "free chlorine"), expected);
    assert!(sheet.has_something_wrong());
    assert_eq!(sheet.alarms, None, "not recorded, which is not none");
    assert_eq!(sheet.fed[0].amount, None);
    // What the last test found counts until the next is due, and then nobody can tell.
    let unknown = sheet.conditions.iter().filter(|it| !it.is_met && it.closes);
    let ph: Vec<_> = unknown
        .filter(|it| it.what == "pH at most 8.0")
        .map(|it| (it.from.as_str(), it.to.as_str()))
        .collect();
    assert_eq!(ph, [("19:02", "21:00")]);
}

#[test]
fn with_a_record_a_test_is_due_each_twelve_hours() {
    let all = record(0, 1440 - 5, sound);
    let whole = sheet(&(test("07:00") + &test("19:00")), Some(&all), None);
    let expected = [due("07:00", "07:00", 0), due("19:00", "19:00", 0)];
    assert_eq!(of(&whole.dues, "pH"), expected);
    assert!(!whole.has_something_wrong(), "{whole}");
    let late = sheet(&(test("07:00") + &test("19:02")), Some(&all), None);
    assert_eq!(of(&late.dues, "pH")[1], due("19:00", "19:02", 2));
    let none = sheet("", Some(&all), None);
    assert_eq!(
        of(&none.dues, "pH"),
        [due("07:00", "", 840), due("19:00", "", 120)]
    );
}

#[test]
fn a_test_of_one_figure_is_none_of_the_other() {
    let tests = test("07:00") + "2031-05-02 11:00,test,ph,pH 7.4,\n";
    let sheet = sheet(&tests, None, Some("13:00"));
    assert_eq!(of(&sheet.dues, "pH")[1], due("11:00", "11:00", 0));
    assert_eq!(of(&sheet.dues, "free chlorine")[1], due("11:00", "", 120));
}

#[test]
fn probes_that_were_not_recorded_bring_the_next_test_forward_and_are_named() {
    // Nothing from 12:00 to 14:00; a row counts for ten minutes.
    let gap = record(0, 1440 - 5, |minute| match minute {
        720..840 => ",,,,,".to_owned(),
        _ => sound(minute),
    });
    let found = sheet(&(test("07:00") + &test("19:00")), Some(&gap), None);
    assert_eq!(
        (found.gaps[0].from.as_str(), found.gaps[0].to.as_str()),
        ("12:00", "13:59")
    );
    assert_eq!(of(&found.dues, "pH")[1], due("12:00", "19:00", 420));
    let unknown = |what: &str| {
        let own = found
            .conditions
            .iter()
            .filter(|it| !it.is_met && it.what == what);
        own.map(|it| (it.from.clone(), it.to.clone()))
            .collect::<Vec<_>>()
    };
    let span = |from: &str, to: &str| (from.to_owned(), to.to_owned());
    assert_eq!(unknown("filtration runs")[0], span("12:00", "13:59"));
    assert_eq!(
        unknown("pH at most 8.0"),
        [span("12:01", "13:59")],
        "then the probe is back"
    );
    let low = "free chlorine at least 0.3 mg/L";
    assert_eq!(
        unknown(low),
        [span("12:01", "18:59")],
        "no probe shows chlorine"
    );
    // The same where the unit stands still, with no rows at all.
    let still = record(0, 720, sound);
    let cut = sheet(&test("07:00"), Some(&still), None);
    assert_eq!(cut.gaps[0].from, "12:11");
    assert_eq!(of(&cut.dues, "pH")[1].0, "12:11");
    assert!(cut.verdict().starts_with("Cannot tell"), "{cut}");
}

#[test]
fn a_probe_that_the_guard_does_not_trust_shows_nothing() {
    let text = record(0, 1435, sound).replace("chlorine_refused_by", "acid_refused_by");
    let text = text.replace("7.45,742,1600,1,1,", "8.40,742,1600,1,1,probe_trusted");
    let sheet = sheet(&test("07:00"), Some(&text), Some("10:00"));
    assert_eq!(sheet.tests[0].ph_probe, None);
    assert!(
        !sheet
            .conditions
            .iter()
            .any(|it| it.is_met && it.what.starts_with("pH"))
    );
}

#[test]
fn recirculation_is_held_to_the_site_s_flow_and_what_is_combined_is_the_total_less_the_free() {
    let required = site().0.flow.flow_l_min;
    let limit = "recirculation at least 75 % of the required rate";
    for (share, is_slow) in [(0.751, false), (0.749, true)] {
        let flow = share * required;
        let text = record(0, 1435, |_| format!("7.45,742,{flow:.1},1,1,"));
        let tests = test("07:00") + "2031-05-02 07:00,test,total_chlorine,2.1 mg/L,\n";
        let sheet = sheet(&tests, Some(&text), Some("10:00"));
        assert_eq!(met(&sheet, "california", limit)(480), is_slow, "{share}");
        let combined = sheet.tests[0].combined_chlorine_mg_l.expect("both");
        assert!((combined - 0.5).abs() < 1e-9, "2.1 less 1.6: {combined}");
    }
}

#[test]
fn each_of_several_rows_in_a_minute_is_judged() {
    let text = record(0, 1435, sound);
    let two = "2031-05-02 10:00,8.05,742,1600,1,1,\n2031-05-02 10:00,7.45,742,1600,1,1,\n";
    let text = text.replace("2031-05-02 10:00,7.45,742,1600,1,1,\n", two);
    let sheet = sheet(&test("07:00"), Some(&text), None);
    let own = sheet
        .conditions
        .iter()
        .filter(|it| it.is_met && it.code == "mahc");
    let own: Vec<_> = own.map(|it| (it.from.as_str(), it.to.as_str())).collect();
    assert_eq!(own, [("10:00", "10:00")]);
}

#[test]
fn what_keeps_chlorine_from_being_fed_counts_at_once_and_a_person_s_pause_after_an_hour() {
    let runs = |word: &str, from: u32, to: u32| {
        let text = record(0, 1435, |minute| match minute {
            at if (from..to).contains(&at) => format!("7.45,742,1600,1,1,{word}"),
            at => sound(at),
        });
        let sheet = sheet(&test("07:00"), Some(&text), None);
        let own = sheet
            .conditions
            .into_iter()
            .filter(|it| it.what == "disinfection runs");
        own.map(|it| (it.is_met, it.from, it.to))
            .collect::<Vec<_>>()
    };
    let met = |from: &str, to: &str| vec![(true, from.to_owned(), to.to_owned())];
    for word in ["no_lockout", "stock_present"] {
        assert_eq!(runs(word, 600, 615), met("10:00", "10:14"), "{word}");
    }
    for word in ["spread_hold", "inside_cutoff", "day_cap"] {
        assert_eq!(runs(word, 600, 900), [], "{word}");
    }
    assert_eq!(runs("inhibits_clear", 600, 665), [], "to 11:00");
    assert_eq!(runs("inhibits_clear", 600, 670), met("11:05", "11:09"));
}

#[test]
fn chlorine_that_is_asked_for_and_long_not_fed_does_not_run_whatever_refuses_it() {
    let text = record(0, 1435, |minute| match minute {
        600..615 => "7.45,742,1600,1,1,inside_cutoff,chlorine:_demand_unmet".to_owned(),
        at => sound(at) + ",",
    });
    let text = text.replacen("chlorine_refused_by", "chlorine_refused_by,alarms", 1);
    let sheet = sheet(&test("07:00"), Some(&text), None);
    let is_met = met(&sheet, "mahc", "disinfection runs");
    let own: Vec<u64> = (420..=660).filter(|at| is_met(*at)).collect();
    assert_eq!((own.first(), own.last()), (Some(&600), Some(&614)));
}

#[test]
fn what_opening_again_wants_is_there_once_a_test_is_inside() {
    let high = "2031-05-02 11:00,test,ph,pH 8.1,\n2031-05-02 11:00,test,free_chlorine,1.6 mg/L,\n";
    let over = |tests: &str| {
        let sheet = sheet(&(test("07:00") + high + tests), None, Some("14:00"));
        let own = sheet
            .conditions
            .iter()
            .find(|it| it.is_met && it.code == "mahc");
        let own = own.expect("over 8.0").clone();
        (own.from, own.to, own.stands, own.tested_after)
    };
    let stands = ("11:00".to_owned(), "14:00".to_owned(), true, None);
    assert_eq!(over(""), stands);
    let (_, to, stands, after) = over(&test("13:00"));
    assert_eq!(
        (to.as_str(), stands, after.as_deref()),
        ("12:59", false, Some("13:00"))
    );
    // Untested for too long, and then not inside: two stretches, and nothing after the first.
    let again = high.replace("11:00", "16:00");
    let sheet = sheet(&(test("07:00") + high + &again), None, None);
    let own = sheet
        .conditions
        .iter()
        .filter(|it| it.is_met && it.code == "mahc");
    let own: Vec<_> = own
        .map(|it| (it.from.as_str(), it.to.as_str(), it.tested_after.as_deref()))
        .collect();
    assert_eq!(own, [("11:00", "15:00", None), ("16:00", "20:00", None)]);
}

/// What the probe shows each minute of the hours, in jumps, and when a kit is used.
fn series() -> impl Strategy<Value = (Vec<(u32, i32)>, Vec<u32>)> {
    let jumps = prop::collection::vec((420_u32..1261, 6300_i32..8300), 1..30);
    (jumps, prop::collection::vec(421_u32..1260, 0..5))
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, failure_persistence: None, ..ProptestConfig::default() })]
    #[test]
    fn a_condition_that_the_probe_saw_is_never_left_out((mut jumps, mut kits) in series()) {
        jumps.sort_unstable();
        kits.sort_unstable();
        let shown = |minute: u32| {
            let last = jumps.iter().rfind(|(at, _)| *at <= minute);
            last.map_or(7500, |(_, ph)| *ph)
        };
        let mut text = "clock,ph_shown,orp_shown_mv,moving,powered\n".to_owned();
        for minute in 400..=1260 {
            let (hour, rest) = (minute / 60, minute % 60);
            let ph = f64::from(shown(minute)) / 1000.0;
            let _ = writeln!(text, "2031-05-02 {hour:02}:{rest:02},{ph:.3},742,1,1");
        }
        let mut tests = test("07:00");
        for at in &kits {
            tests += &test(&format!("{:02}:{:02}", at / 60, at % 60));
        }
        let sheet = sheet(&tests, Some(&text), None);
        for (code, what, is_past) in [
            ("mahc", "pH at least 6.5", (|ph| ph < 6500) as fn(i32) -> bool),
            ("mahc", "pH at most 8.0", |ph| ph > 8000),
            ("delaware", "pH at least 7.2", |ph| ph < 7200),
            ("delaware", "pH at most 7.8", |ph| ph > 7800),
        ] {
            let is_met = met(&sheet, code, what);
            for minute in 420..=1260_u32 {
                // The kit finds 7.4 each time: the probe alone decides.
                prop_assert_eq!(is_met(u64::from(minute)), is_past(shown(minute)), "{} {}", what, minute);
            }
        }
    }
}
