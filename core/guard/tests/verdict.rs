//! What a verdict gives, once, and what it says.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::arithmetic_side_effects,
    reason = "a test that panics has failed, as it should"
)]

mod bench;

use bench::{Bench, R, ask};
use dosewarden_guard::units::{ClockSeconds, Millis};
use dosewarden_guard::{Clear, Reading, Rule, TickClock};

#[test]
fn a_verdict_gives_each_permit_once_and_says_what_clears_a_veto() {
    let mut bench = Bench::ready();
    bench.until(ask(45, 60), 5, |now| now.feeders[0].run.0 > 0);
    let mut clock = TickClock::new();
    clock.step(0);
    let (elapsed, facts) = (clock.step(1000), bench.facts);
    let mut verdict = bench.guard.judge(elapsed, facts, ask(45, 60), None);
    let permit = verdict.permit::<0>().expect("acid is fed");
    assert_eq!((permit.feeder(), permit.run_max()), (0, Millis(2000)));
    assert!(verdict.permit::<0>().is_none() && verdict.permit::<1>().is_none());
    assert_eq!(verdict.master().unwrap().run_max(), Millis(2000));
    assert!(verdict.master().is_none());
    let chlorine = verdict.feeder(1).expect("there are two");
    assert!(chlorine.vetoes.has(Rule::OneAtATime));
    let clear = chlorine.clears(Rule::OneAtATime);
    assert_ne!(clear, Clear::Nothing);
    assert_eq!(verdict.explain(1, Rule::OneAtATime), clear);
    assert_eq!(verdict.explain(1, Rule::StockPresent), Clear::Nothing);
    // There is no third feeder.
    assert!(verdict.feeder(2).is_none());
    assert_eq!(verdict.explain(2, Rule::OneAtATime), Clear::Nothing);
    assert_eq!(bench.guard.explain(1, Rule::OneAtATime), clear);
    assert_eq!(bench.guard.explain(2, Rule::OneAtATime), Clear::Nothing);
}

#[test]
fn a_permit_names_its_feeder() {
    let mut bench = Bench::ready();
    bench.until(ask(0, 60), 5, |now| now.feeders[1].run.0 > 0);
    let mut clock = TickClock::new();
    clock.step(0);
    let (elapsed, facts) = (clock.step(1000), bench.facts);
    let mut verdict = bench.guard.judge(elapsed, facts, ask(0, 60), None);
    assert_eq!(verdict.permit::<1>().map(|permit| permit.feeder()), Some(1));
}

#[test]
fn a_record_is_stamped_by_the_clock_that_is_trusted_in_this_tick() {
    let mut bench = Bench::ready();
    assert_eq!(bench.guard.clock(), None);
    let stamp = |bench: &mut Bench| {
        let mut bytes = vec![0; R::LEN];
        bench.guard.seal_record(&mut bytes).expect("long enough");
        R::decode(&bytes).expect("whole").stamp
    };
    bench.facts.clock = Reading::now(ClockSeconds(86_400));
    bench.idle(1);
    assert_eq!(bench.guard.clock(), Some(ClockSeconds(86_400)));
    assert_eq!(stamp(&mut bench), bench.guard.clock());
    bench.facts.clock = Reading::unknown(ClockSeconds(86_400));
    bench.idle(1);
    assert_eq!((bench.guard.clock(), stamp(&mut bench)), (None, None));
}
