//! What is well holds, what is changed breaks the rule that it is about and no other, and what a log does not show is
//! never held.

mod bench;
mod blind;
mod coarse;
mod wrong;

use super::*;
use bench::{Script, second, site};
use wrong::{script, wrongs};

fn broken(log: &Log, bounds: &Bounds) -> Vec<&'static str> {
    audit(log, bounds).broken().collect()
}

#[test]
fn what_is_well_holds_by_every_rule() {
    let found = audit(&Script::good().log(), &site());
    for finding in &found.findings {
        assert_eq!(finding.verdict, Verdict::Held, "{finding:?}");
        assert!(finding.held_times > 0, "{} saw nothing", finding.rule);
    }
    let names: Vec<&str> = found.findings.iter().map(|finding| finding.rule).collect();
    assert_eq!(names, AUDITED);
    assert!(
        found.verdict_words().starts_with("HELD (15 held, 0 broken"),
        "{found}"
    );
}

#[test]
fn what_is_changed_breaks_its_rule_and_no_other_at_its_line() {
    let mut seen = std::collections::BTreeSet::new();
    for (rule, script, change, line) in wrongs() {
        let mut log = script.log();
        change(&mut log);
        let found = audit(&log, &site());
        assert_eq!(found.broken().collect::<Vec<_>>(), [rule], "{found}");
        let finding = found.finding(rule).expect("it is there");
        assert_eq!(finding.breaks[0].line, line, "{found}");
        assert!(finding.breaks.len() <= BREAKS_KEPT);
        assert!(finding.broken_times >= finding.breaks.len() as u64);
        assert!(
            found
                .verdict_words()
                .starts_with(&format!("BROKEN: {rule} ("))
        );
        seen.insert(rule);
    }
    assert_eq!(seen.len(), AUDITED.len(), "{seen:?}");
}

/// A rule's figure: how it is set, one at which the log that is well just holds, and one past which it is broken.
type Figure = (&'static str, fn(&mut Bounds, f64), f64, f64);

fn times() -> Vec<Figure> {
    vec![
        // Flow came between 49 and 50 s, and acid was fed from 400 s: 350 to 351 s, of which a tick may be missing.
        (
            "flow_proven",
            |b, v| b.flow_prove_ms = v,
            352_000.0,
            353_001.0,
        ),
        (
            "probe_settled",
            |b, v| b.probe_settle_ms = v,
            352_000.0,
            353_001.0,
        ),
        (
            "power_on_delay",
            |b, v| b.power_on_delay_ms = v,
            382_000.0,
            383_001.0,
        ),
        // 80 s from acid to chlorine, 660 s from acid to acid, less a tick and a stop.
        ("one_at_a_time", |b, v| b.purge_ms = v, 82_200.0, 82_201.0),
        (
            "spread_hold",
            |b, v| b.feeders[0].spread_hold_ms = v,
            662_200.0,
            662_201.0,
        ),
    ]
}

fn amounts_and_readings() -> Vec<Figure> {
    vec![
        (
            "cycle_cap",
            |b, v| b.feeders[0].cycle_cap = Some(v),
            40_000.0,
            39_999.0,
        ),
        (
            "run_time_cap",
            |b, v| b.feeders[0].run_max_ms = v,
            40_000.0,
            39_999.0,
        ),
        (
            "hour_cap",
            |b, v| b.feeders[0].hour_cap = v,
            80_000.0,
            79_999.0,
        ),
        (
            "day_cap",
            |b, v| b.feeders[0].day_cap = v,
            80_000.0,
            79_999.0,
        ),
        (
            "probe_trusted",
            |b, v| b.probe_age_max_ms = v,
            1_000.0,
            999.0,
        ),
        (
            "inside_cutoff",
            |b, v| b.feeders[0].cutoff.ph_above = Some(v),
            7.5999,
            7.605,
        ),
        (
            "inside_cutoff",
            |b, v| b.feeders[1].cutoff.ph_floor = Some(v),
            7.6,
            7.607,
        ),
        (
            "inside_cutoff",
            |b, v| b.feeders[1].cutoff.orp_below_mv = Some(v),
            700.01,
            700.0,
        ),
        // 0.8 pH above 6.8, and 780 mV at it.
        (
            "inside_cutoff",
            |b, v| b.feeders[1].cutoff.orp_falls = Some((6.8, v)),
            98.0,
            103.0,
        ),
        // 9:06:40 to 9:07:20, and 9:08:40 to 9:19: the first is late from 9:07 on.
        (
            "window_open",
            |b, v| b.hours = Some((480, v as u16)),
            560.0,
            547.0,
        ),
    ]
}

#[test]
fn each_figure_of_the_site_is_judged_to_the_second() {
    let figures = times().into_iter().chain(amounts_and_readings());
    for (rule, set, holds, breaks) in figures {
        let log = Script::good().log();
        let mut bounds = site();
        set(&mut bounds, holds);
        let found = audit(&log, &bounds);
        assert_eq!(
            found.finding(rule).map(|f| f.verdict),
            Some(Verdict::Held),
            "{rule} {found}"
        );
        set(&mut bounds, breaks);
        assert_eq!(broken(&log, &bounds), [rule], "past its figure");
    }
}

#[test]
fn between_held_and_broken_it_cannot_be_told_and_by_how_much_is_said() {
    let mut bounds = site();
    bounds.flow_prove_ms = 352_500.0;
    let found = audit(&Script::good().log(), &bounds);
    assert_eq!(found.unsure().collect::<Vec<_>>(), ["flow_proven"]);
    let doubts = &found.finding("flow_proven").expect("it is there").doubts;
    assert_eq!(
        (doubts[0].why.as_str(), doubts[0].first_line),
        (
            "rows are too far apart, or begin too late: acid fed after flow of 350 s to 351 s, and at least 350.5 s \
             is needed",
            Some(402)
        )
    );
    let words = found.verdict_words();
    assert!(
        words.starts_with(
            "no rule was seen broken, and NOT ALL CAN BE TOLD (14 held, 0 broken, 1 cannot"
        ),
        "{words}"
    );
}

#[test]
fn a_rule_that_the_site_does_not_have_is_not_judged() {
    let mut bounds = site();
    bounds.hours = None;
    for feeder in &mut bounds.feeders {
        feeder.cycle_cap = None;
        feeder.governor = None;
        feeder.level_switch = false;
        feeder.cutoff = CutoffBounds::default();
    }
    let mut log = Script::good().log();
    log.rows.remove(700);
    log.gap_ms = 1_500.0;
    let found = audit(&log, &bounds);
    let not: Vec<&str> = found.with(Verdict::NotAtThisSite).collect();
    assert_eq!(
        not,
        [
            "probe_settled",
            "probe_trusted",
            "inside_cutoff",
            "cycle_cap",
            "window_open",
            "stock_present"
        ]
    );
    assert!(
        found
            .findings
            .iter()
            .all(|f| f.verdict != Verdict::NotAtThisSite || f.doubts.is_empty())
    );
}
