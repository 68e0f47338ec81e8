//! Gaps, empty fields and missing columns: never held.

use super::*;

fn unsure(log: &Log) -> Vec<&'static str> {
    let found = audit(log, &site());
    assert_eq!(found.broken().next(), None, "{found}");
    found.unsure().collect()
}

#[test]
fn with_a_gap_no_rule_can_be_told() {
    let mut log = Script::good().log();
    log.rows.drain(600..700);
    assert_eq!(unsure(&log), AUDITED);
    let found = audit(&log, &site());
    let doubt = found.findings[8].doubts.last().expect("a doubt");
    assert_eq!(doubt.why, "the log has 1 gap of over 2 s, 101 s in all");
    // Rows before it stay where they are: 599 s stood in line 601, so the gap ends in line 702.
    assert_eq!(doubt.first_line, Some(702));
    // What is broken outside the gap is broken.
    let mut log = script(|s| s.feeds[0] = vec![(400, 461)]).log();
    log.rows.drain(600..700);
    assert_eq!(broken(&log, &site()), ["cycle_cap"]);
    // What began before a gap may have ended in it: the flow of which nobody knows is not proven, nor too short.
    let mut log = script(|s| s.feeds = [vec![(400, 440)], Vec::new()]).log();
    log.rows.drain(100..390);
    let found = audit(&log, &site());
    let doubts = &found.finding("flow_proven").expect("it is there").doubts;
    assert!(
        doubts[0].why.contains("acid fed after flow of 10 s to any"),
        "{found}"
    );
}

/// What is emptied in a row, and the rules that read it.
type Emptied<'r> = (fn(&mut Row), &'r [&'r str]);

/// What the log does not have, the rules that read it, and what is said.
type Taken<'r> = (fn(&mut Columns), &'r [&'r str], &'r str);

/// All but the one that looks at drives without a feed.
fn feeds() -> Vec<&'static str> {
    let all = AUDITED.into_iter();
    all.filter(|rule| *rule != "drive_obeys").collect()
}

#[test]
fn an_empty_field_makes_the_rules_that_read_it_undecided() {
    let flow = ["flow_present", "flow_proven", "probe_settled"];
    let feeds = feeds();
    let cases: [Emptied; 9] = [
        (|row| row.flow = None, &flow),
        (|row| row.powered = None, &["power_on_delay"]),
        (|row| row.ph.value = None, &["inside_cutoff"]),
        (|row| row.ph.ok = None, &["probe_trusted"]),
        (|row| row.minute = None, &["window_open"]),
        (|row| row.feeders[0].stock = None, &["stock_present"]),
        (|row| row.feeders[0].command = None, &["drive_obeys"]),
        (|row| row.feeders[0].amount = None, &feeds),
        (|row| row.feeders[0].on_ms = None, &feeds),
    ];
    for (at, (empty, rules)) in cases.into_iter().enumerate() {
        let mut log = Script::good().log();
        // While acid is fed.
        empty(second(&mut log, 420));
        let found = unsure(&log);
        assert_eq!(found, rules, "case {at}");
        let found = audit(&log, &site());
        let doubt = &found.finding(rules[0]).expect("it is there").doubts[0];
        assert!(
            doubt
                .first_line
                .is_some_and(|line| (422..=423).contains(&line)),
            "{doubt:?}"
        );
    }
}

#[test]
fn a_missing_column_makes_the_rules_that_read_it_undecided() {
    let flow = [
        "flow_present",
        "flow_proven",
        "probe_settled",
        "one_at_a_time",
        "spread_hold",
    ];
    let cases: [Taken; 8] = [
        (|c| c.flow = false, &flow, "the log has no column of flow"),
        (
            |c| c.power = false,
            &["power_on_delay"],
            "no column of the controller's power",
        ),
        (
            |c| c.time_of_day = false,
            &["window_open"],
            "do not say the time of the day",
        ),
        (
            |c| c.ph.value = false,
            &["inside_cutoff"],
            "no column of pH",
        ),
        (
            |c| c.feeders[1].level = false,
            &["stock_present"],
            "the level switch of chlorine",
        ),
        (
            |c| c.feeders[1].command = false,
            &["drive_obeys"],
            "both drive and command of chlorine",
        ),
        (
            |c| (c.orp.ok, c.orp.age) = (false, false),
            &["probe_trusted"],
            "nothing in the log says whether the ORP probe can be believed",
        ),
        (
            |c| c.feeders[1] = FeederColumns::default(),
            &AUDITED,
            "the log has no column that says when chlorine was fed",
        ),
    ];
    for (take, rules, why) in cases {
        let mut log = Script::good().log();
        take(&mut log.columns);
        if !log.columns.flow {
            log.rows.iter_mut().for_each(|row| row.flow = None);
        }
        assert_eq!(unsure(&log), rules, "{why}");
        let found = audit(&log, &site());
        let doubts = &found.finding(rules[0]).expect("it is there").doubts;
        assert!(
            doubts
                .iter()
                .any(|d| d.why.contains(why) && d.first_line.is_none()),
            "{found}"
        );
    }
}

#[test]
fn a_reading_too_near_its_cut_off_for_the_places_of_the_log_is_undecided() {
    let near = |reading: f64| {
        let mut log = script(|s| s.ph = vec![((380, 450), reading)]).log();
        log.columns.ph.half_place = 0.05;
        audit(&log, &site())
            .finding("inside_cutoff")
            .map(|f| f.verdict)
    };
    assert_eq!(near(7.3), Some(Verdict::Held));
    assert_eq!(near(7.2), Some(Verdict::CannotTell));
    assert_eq!(near(7.1), Some(Verdict::Broken));
}
