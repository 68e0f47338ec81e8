//! What breaks a rule: a log that is well, with one thing changed.

use super::bench::{Script, Time, second};
use super::{Log, Row};

/// A rule, what is changed of a log that is well, and the line of the first break.
pub(super) type Wrong = (&'static str, Script, fn(&mut Log), u64);

pub(super) fn script(change: impl FnOnce(&mut Script)) -> Script {
    let mut script = Script::good();
    change(&mut script);
    script
}

fn unchanged(_: &mut Log) {}

/// Changes rows of a log with a row a second.
fn rows(log: &mut Log, from: u32, to: u32, change: fn(&mut Row)) {
    for at in from..to {
        change(second(log, at));
    }
}

fn cycles(every: u32, number: u32) -> Vec<Time> {
    (0..number)
        .map(|n| (400 + n * every, 455 + n * every))
        .collect()
}

fn of_flow_and_power() -> Vec<Wrong> {
    vec![
        // Flow is lost at 420; 2.2 s later the drive is late. Lines count from 2, so 424 s stand in line 426.
        (
            "flow_present",
            script(|s| {
                s.flow = vec![(50, 420), (441, 9_999)];
                s.feeds[1].clear();
            }),
            unchanged,
            425,
        ),
        (
            "flow_proven",
            script(|s| {
                s.flow = vec![(370, 9_999)];
                s.feeds[1].clear();
            }),
            unchanged,
            402,
        ),
        (
            "probe_settled",
            script(|s| s.flow = vec![(250, 9_999)]),
            unchanged,
            402,
        ),
        (
            "power_on_delay",
            script(|s| s.power = vec![(320, 9_999)]),
            unchanged,
            402,
        ),
    ]
}

fn of_probes() -> Vec<Wrong> {
    vec![
        (
            "probe_trusted",
            Script::good(),
            |log| rows(log, 410, 430, |row| row.ph.ok = Some(false)),
            415,
        ),
        (
            "probe_trusted",
            Script::good(),
            |log| rows(log, 530, 550, |row| row.orp.age_ms = Some(10_001.0)),
            535,
        ),
        (
            "probe_trusted",
            script(|s| s.ph = vec![((300, 430), 7.6)]),
            |log| log.columns.ph.flat_after_ms = Some(110_000.0),
            415,
        ),
        (
            "inside_cutoff",
            script(|s| s.ph = vec![((410, 430), 7.199)]),
            unchanged,
            415,
        ),
        (
            "inside_cutoff",
            script(|s| s.orp = vec![((530, 550), 780.0)]),
            unchanged,
            535,
        ),
        (
            "inside_cutoff",
            script(|s| s.ph = vec![((530, 550), 6.799)]),
            unchanged,
            535,
        ),
    ]
}

fn of_cycles() -> Vec<Wrong> {
    vec![
        (
            "one_at_a_time",
            script(|s| s.feeds[1] = vec![(497, 520)]),
            unchanged,
            499,
        ),
        (
            "one_at_a_time",
            script(|s| s.feeds[1] = vec![(430, 450)]),
            unchanged,
            432,
        ),
        (
            "spread_hold",
            script(|s| s.feeds[0] = vec![(400, 440), (1_037, 1_077)]),
            unchanged,
            1_039,
        ),
        // Fed again within two minutes is the same cycle.
        (
            "cycle_cap",
            script(|s| s.feeds[0] = vec![(360, 400), (430, 451)]),
            unchanged,
            453,
        ),
        (
            "cycle_cap",
            script(|s| s.feeds[0] = vec![(400, 461)]),
            unchanged,
            463,
        ),
        (
            "run_time_cap",
            script(|s| {
                s.feeds[0] = vec![(400, 581)];
                s.feeds[1].clear();
            }),
            |log| {
                rows(log, 400, 600, |row| {
                    row.feeders[0].amount = row.feeders[0].amount.map(|a| a / 10.0)
                })
            },
            583,
        ),
    ]
}

fn of_totals_and_the_rest() -> Vec<Wrong> {
    vec![
        (
            "hour_cap",
            script(|s| {
                s.length = 3_600;
                s.feeds = [cycles(660, 5), Vec::new()];
            }),
            unchanged,
            400 + 4 * 660 + 23,
        ),
        (
            "day_cap",
            script(|s| {
                s.length = 20_000;
                s.feeds = [cycles(1_000, 17), Vec::new()];
            }),
            unchanged,
            400 + 16_000 + 23,
        ),
        (
            "window_open",
            script(|s| s.starts = 1_193),
            unchanged,
            420 + 5,
        ),
        (
            "stock_present",
            Script::good(),
            |log| rows(log, 410, 430, |row| row.feeders[0].stock = Some(false)),
            415,
        ),
        (
            "drive_obeys",
            Script::good(),
            |log| rows(log, 420, 424, |row| row.feeders[0].command = Some(false)),
            425,
        ),
        (
            "drive_obeys",
            Script::good(),
            |log| rows(log, 700, 707, |row| row.feeders[1].command = Some(true)),
            708,
        ),
    ]
}

/// All of them, each rule at least once.
pub(super) fn wrongs() -> Vec<Wrong> {
    let all = [
        of_flow_and_power(),
        of_probes(),
        of_cycles(),
        of_totals_and_the_rest(),
    ];
    all.into_iter().flatten().collect()
}
