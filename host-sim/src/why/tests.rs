//! A trace written by hand, row by row, and what is made of it.

use std::fmt::Write as _;

use super::*;

const NAMES: &str = "clock,seconds,powered,acid_fed_ml,acid_on_ms,acid_asked,acid_refused_by,chlorine_fed_g,\
                     chlorine_on_ms,chlorine_asked,chlorine_refused_by,alarms,acid_phase,acid_clears,\
                     chlorine_phase,chlorine_clears\n";

/// A row at this minute of day 1: the acid's amount, whether it asks, its phase, what is in its way; alarms.
fn row(minute: u32, acid: (u32, u8, &str, &str), alarms: &str) -> String {
    let (fed, asked, phase, clears) = acid;
    let (hour, rest, seconds) = (minute / 60, minute % 60, minute * 60);
    format!(
        "day 1 {hour:02}:{rest:02},{seconds},1,{fed},{},{asked},,0,0,0,,{alarms},{phase},{clears},not_asked,\
         not_asked=charge\n",
        fed * 1000
    )
}

const HOLD: &str = "spread_hold=after_flow:540";
const CAP: &str = "hour_cap=after:1800";

/// Fed at 2, held by the spread hold from 3 to 5, by the hour's cap from 4 to 8, fed at 9.
fn trace() -> String {
    let mut text = NAMES.to_owned();
    let both = format!("{HOLD} {CAP}");
    for (minute, acid, alarms) in [
        (1, (0, 0, "not_asked", "not_asked=charge"), ""),
        (2, (12, 1, "feeding", ""), ""),
        (3, (0, 1, "spreading", HOLD), ""),
        (4, (0, 1, "spreading", &both), "acid:_stock_low"),
        (5, (0, 1, "refused", &both), "acid:_stock_low test_overdue"),
        (6, (0, 1, "refused", CAP), "test_overdue"),
        (7, (0, 0, "refused", CAP), "test_overdue"),
        (8, (0, 1, "refused", CAP), "chlorine:_stock_low"),
        (9, (7, 1, "feeding", ""), "chlorine:_stock_low"),
    ] {
        let _ = write!(text, "{}", row(minute, acid, alarms));
    }
    text
}

fn at(text: &str, moment: &str) -> Explanation {
    let trace = TraceFile::read("t.csv", text.as_bytes()).expect("it is sound");
    explain(&trace, Moment::parse(moment).expect("a moment"), None).expect("it is within")
}

fn held(told: &Explanation) -> Vec<(&str, u64, &str)> {
    let all = told.feeders[0].obstacles.iter();
    all.map(|o| (o.name, o.since.seconds, o.since.clock.as_str()))
        .collect()
}

#[test]
fn since_when_is_found_by_walking_back_and_a_break_ends_it() {
    let told = at(&trace(), "day 1 00:05");
    assert_eq!(
        held(&told),
        [
            ("spread_hold", 120, "day 1 00:03"),
            ("hour_cap", 60, "day 1 00:04")
        ]
    );
    let acid = &told.feeders[0];
    assert_eq!(
        (acid.phase, acid.asked, acid.fed),
        (Some("refused"), true, 0.0)
    );
    assert_eq!(acid.last_fed.as_deref(), Some("day 1 00:02"));
    let hold = &acid.obstacles[0];
    assert_eq!(
        (hold.kind, hold.clears_by, hold.clears_in_s),
        ("rule", "after_flow", Some(540))
    );
    assert_eq!(hold.words, "a dose, fed or presumed, has not spread yet");
    assert_eq!(acid.obstacles[1].look_first[0], "the water, by a test kit");
    // A minute between two rows belongs to the row that ends it; seconds say the same.
    assert_eq!(at(&trace(), "day 1 00:04:30"), told);
    assert_eq!(at(&trace(), "300"), told);
    // Taken out of one row, it stands since the next.
    let broken = trace().replacen(
        &format!("spreading,{HOLD} {CAP}"),
        &format!("spreading,{CAP}"),
        1,
    );
    let told = at(&broken, "day 1 00:05");
    assert_eq!(
        held(&told),
        [
            ("spread_hold", 0, "day 1 00:05"),
            ("hour_cap", 60, "day 1 00:04")
        ]
    );
    assert!(!told.feeders[0].obstacles[0].since.from_the_start);
    assert!(
        at(&trace(), "60").feeders[0].obstacles[0]
            .since
            .from_the_start
    );
}

#[test]
fn alarms_are_those_of_the_site_and_of_the_feeders_that_are_asked_about() {
    let told = at(&trace(), "day 1 00:05");
    let named = |told: &Explanation| -> Vec<(String, String)> {
        let all = told.alarms.iter();
        all.map(|alarm| (alarm.name.clone(), alarm.since.clock.clone()))
            .collect()
    };
    let since = |name: &str, clock: &str| (name.to_owned(), clock.to_owned());
    let both = [
        since("acid: stock_low", "day 1 00:04"),
        since("test_overdue", "day 1 00:05"),
    ];
    assert_eq!(named(&told), both);
    let trace = TraceFile::read("t.csv", trace().as_bytes()).expect("it is sound");
    let chlorine = explain(&trace, Moment::Seconds(300), Some("chlorine")).expect("told");
    assert_eq!(named(&chlorine), both[1..]);
    assert_eq!(chlorine.feeders.len(), 1);
    assert_eq!(chlorine.feeders[0].unit, "g");
}

#[test]
fn over_the_whole_trace_only_time_in_which_feed_was_asked_for_counts() {
    let told = at(&trace(), "day 1 00:09");
    let whole = &told.feeders[0].whole;
    assert_eq!((whole.fed, whole.on_s), (19.0, 19.0));
    assert_eq!((whole.asked_s, whole.asked_unfed_s), (7 * 60, 5 * 60));
    let kept: Vec<_> = whole
        .kept_by
        .iter()
        .map(|k| (k.name, k.seconds, k.longest_s, k.longest_from.as_str()))
        .collect();
    // At 7 nobody asked: the hour's cap has two stretches.
    assert_eq!(
        kept,
        [
            ("hour_cap", 240, 180, "day 1 00:03"),
            ("spread_hold", 180, 180, "day 1 00:02")
        ]
    );
    assert_eq!(told.feeders[1].whole.kept_by, []);
}

/// A trace with one mistake, its line, and what is said.
fn mistakes(good: &str) -> Vec<(String, usize, &'static str)> {
    vec![
        (
            good.replacen("day 1 00:03", "00:03", 1),
            4,
            "such as \"day 2 14:05\"",
        ),
        (
            good.replacen(HOLD, "spread_hold=soon", 1),
            4,
            "such as spread_hold=after_flow:580",
        ),
        (
            good.replacen("spreading", "resting", 1),
            4,
            "it has to be one of starting",
        ),
        (
            good.replacen(",12,", ",-12,", 1),
            3,
            "acid_fed_ml is \"-12\"; it has to be an amount in mL",
        ),
        (
            good.replacen("120,1,12", "60,1,12", 1),
            3,
            "rows have to come in the order of time",
        ),
        (
            good.replacen("120,1,12", "120,yes,12", 1),
            3,
            "powered is \"yes\"; it has to be 0 or 1",
        ),
        (
            good.replacen("acid_phase", "phase", 1),
            1,
            "column `acid_phase` is missing",
        ),
        (
            good.replacen("_refused_by", "_by", 2),
            1,
            "column `acid_refused_by` is missing",
        ),
        // A feeder is not left out for the one column by which it was found.
        (
            good.replacen("chlorine_refused_by", "chlorine_by", 1),
            1,
            "column `chlorine_refused_by` is missing",
        ),
        (NAMES.to_owned(), 1, "there is no row"),
        (
            format!("{good}day 1 00:10,600\n"),
            11,
            "the row has 2 fields; it has to have 16",
        ),
    ]
}

#[test]
fn what_is_wrong_is_told_with_its_line_and_what_would_be_right() {
    let good = trace();
    let cases = mistakes(&good);
    for (text, line, part) in cases {
        let error = TraceFile::read("t.csv", text.as_bytes()).expect_err(part);
        assert!(error.what.contains(part), "{error} has no {part:?}");
        assert_eq!(
            (error.line, error.file.as_str()),
            (line, "t.csv"),
            "{error}"
        );
    }
    let trace = TraceFile::read("t.csv", good.as_bytes()).expect("it is sound");
    for (moment, feeder, part) in [
        (
            Moment::Seconds(541),
            None,
            "from day 1 00:00 to day 1 00:09 (540 s)",
        ),
        (
            Moment::Clock(600_000),
            None,
            "from day 1 00:00 to day 1 00:09 (540 s)",
        ),
        (
            Moment::Last,
            Some("bromine"),
            "has no feeder \"bromine\"; it has acid, chlorine",
        ),
    ] {
        let error = explain(&trace, moment, feeder).expect_err(part).to_string();
        assert!(error.contains(part), "{error}");
    }
    assert!(
        Moment::parse("14:05")
            .expect_err("no day")
            .contains("\"day 2 14:05\"")
    );
}

#[test]
fn a_row_without_power_says_so_and_ends_what_stood() {
    let mut text = NAMES.to_owned();
    text += &row(1, (0, 1, "spreading", HOLD), "");
    text += &row(2, (0, 0, "", ""), "").replace("120,1,", "120,0,");
    text += &row(3, (0, 1, "spreading", HOLD), "");
    assert!(
        at(&text, "120")
            .to_string()
            .contains("The unit had no power.")
    );
    let told = at(&text, "180");
    assert_eq!(held(&told), [("spread_hold", 0, "day 1 00:03")]);
    assert_eq!(told.feeders[0].whole.unpowered_s, 60);
    assert_eq!(told.feeders[0].whole.kept_by[0].longest_s, 60);
}
