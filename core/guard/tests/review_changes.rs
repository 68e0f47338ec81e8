//! What a later review proved of changes, answers and restarts, kept as tests.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::arithmetic_side_effects,
    reason = "a test that panics has failed, as it should"
)]

mod bench;
use bench::site::{ACID, CHLORINE, LIMITS, SPEC};
use bench::{Bench, R, ask};
use dosewarden_guard::units::{ClockSeconds, Dose, MilliPh, Millis};
use dosewarden_guard::*;

fn with(feeders: [FeederLimits<1>; 2]) -> Limits<2, 1> {
    Limits::try_new(LimitsSpec { feeders, ..SPEC }).unwrap()
}

fn release(lockout: Lockout, feeder: usize) -> Action {
    Action::Release {
        lockout,
        feeder,
        pool_empty: true,
        remedy: Some(Remedy::WaterTested),
    }
}

fn wrong_answer(bench: &mut Bench) {
    bench.until(ask(45, 0), 300, |now| now.feeders[0].closed.is_some());
    bench.facts.ph = Reading::now(MilliPh(7900));
    bench.idle(700);
    assert!(bench.guard.state().feeder_lockouts[0].has(Lockout::Response));
    bench.facts.ph = Reading::now(MilliPh(7600));
}
#[test]
fn a_wrong_answer_follows_its_product() {
    let mut bench = Bench::ready();
    wrong_answer(&mut bench);
    assert_eq!(
        bench.guard.set_limits(with([
            FeederLimits::Enabled(CHLORINE),
            FeederLimits::Enabled(ACID)
        ])),
        SetLimits::Applied
    );
    let mut acid = 0;
    for _ in 0..2 * 86_400 {
        acid += u32::from(bench.tick(ask(0, 45)).feeders[1].run.0 > 0);
    }
    assert_eq!(
        acid, 0,
        "acid ran {acid} s though nobody released the wrong answer to acid"
    );
}
#[test]
fn a_released_oxidiser_is_not_kept_at_a_quarter_for_good() {
    let mut bench = Bench::ready();
    wrong_answer(&mut bench);
    assert_eq!(
        bench.guard.set_limits(with([
            FeederLimits::Enabled(CHLORINE),
            FeederLimits::Disabled
        ])),
        SetLimits::Applied
    );
    bench.idle(30);
    assert!(bench.guard.state().feeder_lockouts[0].has(Lockout::Response));
    assert_eq!(
        bench.act(release(Lockout::Response, 0)).action,
        Some(ActionResult::Done)
    );
    let (mut most, mut cycles) = (Dose(0), 0);
    for _ in 0..3 * 86_400 {
        if let Some(c) = bench.tick(ask(60, 0)).feeders[0].closed {
            cycles += 1;
            most = most.max(c.fed);
        }
    }
    assert!(
        most > Dose::from_ml(15),
        "chlorine: {cycles} cycles in 3 days, none above a quarter: {most:?}"
    );
}
#[test]
fn the_quarter_cycle_survives_out_of_use_and_in_again() {
    let mut bench = Bench::ready();
    wrong_answer(&mut bench);
    assert_eq!(
        bench.act(release(Lockout::Response, 0)).action,
        Some(ActionResult::Done)
    );
    assert!(bench.guard.state().response[0].quarter);
    assert_eq!(
        bench.guard.set_limits(with([
            FeederLimits::Disabled,
            FeederLimits::Enabled(CHLORINE)
        ])),
        SetLimits::Applied
    );
    bench.idle(5);
    assert_eq!(bench.guard.set_limits(LIMITS), SetLimits::Applied);
    let mut first = None;
    for _ in 0..3 * 86_400 {
        if let Some(c) = bench.tick(ask(45, 0)).feeders[0].closed {
            first = Some(c.charged);
            break;
        }
    }
    assert!(
        first.unwrap() <= Dose(45_000 / 4).max(ACID.dose_min),
        "first cycle after release {first:?}"
    );
}
#[test]
fn wrong_answer_count_survives_limits() {
    let mut bench = Bench::ready();
    for _ in 0..3 {
        bench.until(ask(45, 0), 1300, |now| now.feeders[0].closed.is_some());
        bench.idle(700);
    }
    let n = bench.guard.state().response[0].unanswered;
    assert_eq!(n, 3);
    let _ = bench.guard.set_limits(with([
        FeederLimits::Disabled,
        FeederLimits::Enabled(CHLORINE),
    ]));
    bench.idle(2);
    let _ = bench.guard.set_limits(LIMITS);
    assert_eq!(bench.guard.state().response[0].unanswered, 3);
}
fn clocked(bench: &mut Bench, from: u32, secs: u32, req: Requests<2>) {
    for s in 0..secs {
        bench.facts.clock = Reading::now(ClockSeconds(from + s));
        bench.tick(req);
    }
}
#[test]
fn fallback_ends_by_the_clock_although_the_clock_comes_late() {
    for late in [false, true] {
        let mut bench = Bench::ready();
        bench.facts.orp.health = Health::Failure;
        clocked(&mut bench, 1_000_000, 10, ask(0, 0));
        assert_eq!(
            bench
                .act(Action::EnterFallback {
                    test_age: Millis(0)
                })
                .action,
            Some(ActionResult::Done)
        );
        clocked(&mut bench, 1_000_011, 10, ask(0, 0));
        // 100 h without power.
        let mut bench = bench.power_cycled();
        bench.facts.orp.health = Health::Failure;
        let now = 1_000_021 + 100 * 3600;
        let fb = FeedRequest {
            dose: Dose::from_ml(20),
            mode: Mode::Fallback,
        };
        if late {
            bench.facts.clock = Reading::unknown(ClockSeconds(0));
            for _ in 0..900 {
                bench.tick([FeedRequest::NONE, fb]);
            }
        }
        clocked(&mut bench, now, 300, [FeedRequest::NONE, fb]);
        assert_eq!(
            bench.guard.state().fallback_left,
            Millis(0),
            "clock late: {late}"
        );
    }
}
#[test]
fn a_day_used_up_by_new_limits_is_not_aged_by_time_off_before_them() {
    let mut bench = Bench::ready();
    bench.idle(40_000); // fills the bank
    clocked(&mut bench, 1_000_000, 10, ask(0, 0));
    let _ = bench.act(Action::LeaveFallback); // saves with a stamp
    bench.facts.clock = Reading::now(ClockSeconds(1_000_011));
    bench.tick(ask(0, 0));
    let mut bench = bench.power_cycled();
    let now = 1_000_020 + 15 * 3600;
    clocked(&mut bench, now, 20, ask(0, 0));
    let _ = bench.guard.set_limits(with([
        FeederLimits::Disabled,
        FeederLimits::Enabled(CHLORINE),
    ]));
    clocked(&mut bench, now + 20, 5, ask(0, 0));
    let _ = bench.guard.set_limits(LIMITS); // acid new: day counts as used from here
    let mut secs = 25;
    let mut n = now + 25;
    while bench.guard.state().ledger.totals(0, 0).1 >= ACID.bodies[0].day_cap {
        clocked(&mut bench, n, 60, ask(0, 0));
        n += 60;
        secs += 60;
        assert!(secs < 100_000);
    }
    assert!(
        secs >= 86_400,
        "the day counted as used for {} h only",
        secs / 3600
    );
}
#[test]
fn an_emergency_stop_that_nobody_can_see_is_not_released() {
    let mut bench = Bench::ready();
    bench.facts.inhibits = Inhibits::EMERGENCY_STOP;
    bench.idle(3);
    assert!(
        bench
            .guard
            .state()
            .site_lockouts
            .has(Lockout::EmergencyStop)
    );
    bench.facts.inhibits = Facts::<2>::UNKNOWN.inhibits;
    assert_eq!(
        bench.act(release(Lockout::EmergencyStop, 0)).action,
        Some(ActionResult::CauseStands)
    );
}
#[test]
fn a_restart_with_shorter_fallback_shortens_it_as_set_limits_does() {
    let mut bench = Bench::ready();
    bench.facts.orp.health = Health::Failure;
    assert_eq!(
        bench
            .act(Action::EnterFallback {
                test_age: Millis(0)
            })
            .action,
        Some(ActionResult::Done)
    );
    bench.idle(5);
    let Fitted::Fitted(mut f) = SPEC.fallback else {
        panic!()
    };
    f.run_max = Millis::from_hours(12);
    let short = Limits::try_new(LimitsSpec {
        fallback: Fitted::Fitted(f),
        ..SPEC
    })
    .unwrap();
    let bench = Bench::start(short, bench.copies);
    assert!(
        bench.guard.state().fallback_left <= f.run_max,
        "{:?}",
        bench.guard.state().fallback_left
    );
}

/// A new field of the limits changes their checksum, and the first start after the update is one with other limits.
/// It must not happen without one: this number changes with the fields of [`SPEC`] only (last: `orp_fall`).
#[test]
fn the_checksum_of_the_same_limits_stays() {
    let (mut guard, _) = bench::G::restore(LIMITS, None, None);
    let mut bytes = vec![0; R::LEN];
    guard.seal_record(&mut bytes).unwrap();
    assert_eq!(R::decode(&bytes).unwrap().limits_crc, 3_353_687_637);
}
