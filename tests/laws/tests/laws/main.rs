//! The laws of the guard as property tests, on random valid sites and random lives.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test that panics has failed, as it should"
)]

mod answers;
mod asks;
mod clears;
mod coverage;
mod directed;
mod engine;
mod facts;
mod flips;
mod grants;
mod limits;
mod liveness;
mod model;
mod off_time;
mod records;
mod rig;
mod script;
mod set_limits;
mod site;
mod truth;
mod watch;

use std::cell::RefCell;

use proptest::test_runner::{Config, RngSeed, TestCaseError, TestError, TestRunner};

use proptest::strategy::Strategy;

use coverage::Coverage;
use rig::live;
use script::{lives, long_lives};

/// Cases of each property: `PROPTEST_CASES`, or 10,000.
pub(crate) fn cases() -> u32 {
    let cases = std::env::var("PROPTEST_CASES").ok();
    cases.and_then(|cases| cases.parse().ok()).unwrap_or(10_000)
}

/// Seed of the cases: `LAWS_SEED`, or one that stands, so that a run can be repeated. Try others
/// when the guard or the generators change.
fn seed() -> u64 {
    let seed = std::env::var("LAWS_SEED").ok();
    seed.and_then(|seed| seed.parse().ok())
        .unwrap_or(20_261_125)
}

pub(crate) fn config() -> Config {
    Config {
        cases: cases(),
        rng_seed: RngSeed::Fixed(seed()),
        failure_persistence: None,
        max_shrink_iters: 3000,
        ..Config::default()
    }
}

/// Runs a property; on failure prints the smallest case found.
pub(crate) fn check<S: Strategy>(strategy: S, property: impl Fn(S::Value) -> Result<(), String>)
where
    S::Value: core::fmt::Debug,
{
    let mut runner = TestRunner::new(config());
    match runner.run(&strategy, |case| {
        property(case).map_err(TestCaseError::fail)
    }) {
        Ok(()) => {}
        Err(TestError::Fail(why, case)) => panic!("{why}\n{case:#?}"),
        Err(TestError::Abort(why)) => panic!("{why}"),
    }
}

/// Calls a function that is generic over feeders and bodies for the site of a script.
macro_rules! dispatch {
    ($script:expr, $function:ident($($argument:expr),*)) => {
        match ($script.plan.kit.feeders(), $script.plan.bodies) {
            (2, 1) => $function::<2, 1>($($argument),*),
            (2, _) => $function::<2, 2>($($argument),*),
            _ => $function::<3, 1>($($argument),*),
        }
    };
}
pub(crate) use dispatch;

/// (a) to (g), in every tick of every life. Counts what the lives reach.
#[test]
fn a_to_g_hold_in_every_life() {
    let coverage = RefCell::new(Coverage::default());
    check(lives(), |script| {
        let reach = dispatch!(script, live(&script, false))?;
        coverage.borrow_mut().add(&reach);
        Ok(())
    });
    let coverage = coverage.into_inner();
    println!("{coverage:#?}");
    if coverage.cases >= 1000 {
        let missing = coverage.missing();
        assert!(missing.is_empty(), "not reached: {missing:#?}");
    }
}

/// (h) the rules that refuse, the runs and the lockouts are those of the model.
#[test]
fn h_the_veto_set_is_that_of_the_model() {
    check(lives(), |script| {
        dispatch!(script, live(&script, true)).map(drop)
    });
}

/// (b) over days: windows slide over hours without power that a good clock has shown.
#[test]
fn b_long_lives_stay_in_every_window() {
    check(long_lives(), |script| {
        dispatch!(script, live(&script, false)).map(drop)
    });
}

/// (h) over days.
#[test]
fn h_long_lives_follow_the_model() {
    check(long_lives(), |script| {
        dispatch!(script, live(&script, true)).map(drop)
    });
}
