//! What only trials do to a guard: a second one in the same state, and a state that changes by itself.

#![cfg(feature = "upset")]
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::arithmetic_side_effects,
    reason = "a test that panics has failed, as it should"
)]

mod bench;

use bench::{Bench, ask, healthy};
use dosewarden_guard::units::Millis;
use dosewarden_guard::{Lockout, Rule, TickClock};

#[test]
fn a_fork_goes_on_as_its_guard_would_and_leaves_it_as_it_was() {
    let mut bench = Bench::ready();
    bench.until(ask(45, 0), 5, |now| now.feeders[0].run.0 > 0);
    let before = *bench.guard.state();
    let mut fork = bench.guard.fork();
    let mut clock = TickClock::new();
    clock.step(0);
    let elapsed = clock.step(1000);
    let there = *fork.judge(elapsed, healthy(), ask(45, 0), None).decision();
    assert_eq!(*bench.guard.state(), before);
    assert!(there.feeders[0].run.0 > 0);
    assert_eq!(bench.tick(ask(45, 0)), there);
    assert_eq!(bench.guard.state(), fork.state());
}

#[test]
fn a_state_that_changed_by_itself_is_seen_in_the_next_tick() {
    let mut bench = Bench::ready();
    bench.until(ask(45, 0), 5, |now| now.feeders[0].run.0 > 0);
    bench.guard.upset_state(|state| state.line.purged.0 ^= 1);
    let decision = bench.tick(ask(45, 0));
    assert!(decision.feeders[0].vetoes.has(Rule::StateSealed));
    assert_eq!(decision.feeders[0].run, Millis(0));
    assert!(bench.guard.state().site_lockouts.has(Lockout::StateSeal));
}
