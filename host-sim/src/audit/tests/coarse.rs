//! The same day in a log with a row a second and in one with a row a minute: the coarse one may say less, never
//! something else.

use super::bench::Time;
use super::*;
use proptest::prelude::*;
use proptest::test_runner::{Config, RngSeed, TestRunner};

fn verdict(found: &Audit, rule: &str) -> Verdict {
    found.finding(rule).expect("it is there").verdict
}

#[test]
fn a_row_a_minute_does_not_show_a_hold_to_the_second() {
    let log = script(|s| {
        s.step = 60;
        s.feeds = [vec![(400, 440), (1_045, 1_085)], Vec::new()];
    })
    .log();
    let found = audit(&log, &site());
    assert_eq!(verdict(&found, "spread_hold"), Verdict::CannotTell);
    let doubts = &found.finding("spread_hold").expect("it is there").doubts;
    // Ended in 420..480 and began in 1020..1080, 20 and 35 s of them driven.
    assert!(
        doubts[0].why.ends_with(
            "acid began a cycle after flow of 540 s to 605 s, and at least 597.8 s is needed"
        ),
        "{found}"
    );
    // What is far enough from its figure is told all the same.
    for rule in [
        "flow_proven",
        "power_on_delay",
        "cycle_cap",
        "hour_cap",
        "inside_cutoff",
    ] {
        assert_eq!(verdict(&found, rule), Verdict::Held, "{found}");
    }
    let short = script(|s| {
        s.step = 60;
        s.feeds = [vec![(400, 440), (800, 840)], Vec::new()];
    });
    assert_eq!(broken(&short.log(), &site()), ["spread_hold"]);
}

/// Only the state of the drive at each row: what it did is at least and at most so much.
#[test]
fn a_log_of_states_says_what_it_can() {
    let mut log = script(|s| {
        s.step = 10;
        s.feeds = [vec![(401, 455)], Vec::new()];
    })
    .log();
    for columns in &mut log.columns.feeders {
        (columns.on_time, columns.amount) = (false, false);
    }
    let judge = |cap: f64| {
        let mut bounds = site();
        bounds.feeders[0].cycle_cap = Some(cap);
        audit(&log, &bounds)
    };
    // On in the rows from 410 to 450: 40 s at least, 60 s at most.
    assert_eq!(verdict(&judge(39_999.0), "cycle_cap"), Verdict::Broken);
    assert_eq!(verdict(&judge(40_000.0), "cycle_cap"), Verdict::CannotTell);
    assert_eq!(verdict(&judge(60_000.0), "cycle_cap"), Verdict::Held);
    let notes = judge(60_000.0).notes.join("; ");
    assert!(
        notes.contains("feeds of acid, chlorine that are shorter than 10 s"),
        "{notes}"
    );
    assert!(
        notes.contains("amounts of acid, chlorine are drive-on time times the rate"),
        "{notes}"
    );
}

/// Only amounts: no tube gives them in less time than the site says.
#[test]
fn a_log_of_amounts_says_what_it_can() {
    let mut log = script(|s| s.feeds[0] = vec![(400, 440)]).log();
    for columns in &mut log.columns.feeders {
        (columns.on_time, columns.drive) = (false, false);
    }
    let judge = |run_max_ms: f64| {
        let mut bounds = site();
        bounds.feeders[0].run_max_ms = run_max_ms;
        verdict(&audit(&log, &bounds), "run_time_cap")
    };
    // 40 mL at 1.5 mL/s at most, in 40 rows of a second.
    assert_eq!(judge(26_660.0), Verdict::Broken);
    assert_eq!(judge(26_670.0), Verdict::CannotTell);
    assert_eq!(judge(40_000.0), Verdict::Held);
}

/// Stretches of at least two minutes in two hours, so that a row a minute sees each.
fn stretches() -> impl Strategy<Value = Vec<Time>> {
    proptest::collection::vec((120_u32..2_400, 120_u32..1_200), 1..5).prop_map(|all| {
        let mut at = 0;
        let stretch = |(pause, length): (u32, u32)| {
            let from = at + pause;
            at = from + length;
            (from, at)
        };
        all.into_iter().map(stretch).collect()
    })
}

fn feeds() -> impl Strategy<Value = Vec<Time>> {
    proptest::collection::vec((1_u32..1_500, 1_u32..120), 0..7).prop_map(|all| {
        let mut at = 300;
        let feed = |(pause, length): (u32, u32)| {
            let from = at + pause;
            at = from + length;
            (from, at)
        };
        all.into_iter().map(feed).collect()
    })
}

fn scripts() -> impl Strategy<Value = Script> {
    let flow = prop_oneof![
        Just(vec![(0, 9_999)]),
        Just(vec![(130, 9_999)]),
        stretches()
    ];
    let at = stretches();
    (flow, feeds(), feeds(), at, 6.7_f64..7.7, 600.0_f64..820.0).prop_map(
        |(flow, acid, chlorine, at, ph, orp)| Script {
            length: 7_200,
            flow,
            feeds: [acid, chlorine],
            ph: at.iter().map(|time| (*time, ph)).collect(),
            orp: at.iter().map(|time| (*time, orp)).collect(),
            ..Script::good()
        },
    )
}

#[test]
fn a_coarse_log_never_contradicts_a_fine_one() {
    // A case is two hours, second by second, so `PROPTEST_CASES`, which is for properties of microseconds, must not
    // reach it.
    let config = Config {
        cases: 24,
        rng_seed: RngSeed::Fixed(20_261_126),
        max_shrink_iters: 64,
        source_file: Some(file!()),
        test_name: Some("audit::tests::coarse::a_coarse_log_never_contradicts_a_fine_one"),
        ..Config::default()
    };
    let held = TestRunner::new(config).run(&scripts(), |script| {
        let fine = audit(&script.log(), &site());
        let mut coarse = Script { step: 60, ..script }.log();
        for columns in &mut coarse.columns.feeders {
            // The state at a row would be one at the very second.
            columns.drive = false;
        }
        let coarse = audit(&coarse, &site());
        for rule in AUDITED.into_iter().filter(|rule| *rule != "drive_obeys") {
            let pair = (verdict(&fine, rule), verdict(&coarse, rule));
            let contradicts = matches!(
                pair,
                (Verdict::Held, Verdict::Broken) | (Verdict::Broken, Verdict::Held)
            );
            prop_assert!(!contradicts, "{rule}: {pair:?}\n{fine}\n{coarse}");
        }
        Ok(())
    });
    held.unwrap_or_else(|why| panic!("{why}"));
}
