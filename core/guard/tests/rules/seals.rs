//! State and limits that changed by themselves. Nobody can make that happen through the guard, so
//! these go through the pure step.

use super::bench::ask;
use super::{ACID_FEEDER, feeding_acid, limits, refused};
use dosewarden_guard::units::Millis;
use dosewarden_guard::{Elapsed, Input, Lockout, Rule, TickClock, step};

fn second() -> Elapsed {
    let mut clock = TickClock::new();
    clock.step(0);
    clock.step(1000)
}

#[test]
fn state_sealed() {
    let bench = feeding_acid(limits(|_| {}));
    let input = Input {
        elapsed: second(),
        facts: &bench.facts,
        requests: &ask(45, 0),
        action: None,
        saved: false,
        state_intact: false,
        limits_intact: true,
        off_credit: Millis(0),
    };
    let (state, decision) = step(bench.guard.limits(), bench.guard.state(), &input);
    // Nothing in it is believed to be smaller than it may have been: the day counts as used, the
    // line as not purged, the other product as just driven; and the lockout stands from this tick.
    for rule in [
        Rule::DayCap,
        Rule::LineClear,
        Rule::OneAtATime,
        Rule::NoLockout,
    ] {
        assert!(decision.feeders[0].vetoes.has(rule), "{}", rule.name());
    }
    let row = &decision.feeders[0];
    assert!(row.vetoes.has(Rule::StateSealed) && row.run == Millis(0));
    assert!(state.site_lockouts.has(Lockout::StateSeal));
}

#[test]
fn limits_sealed() {
    let bench = feeding_acid(limits(|_| {}));
    let input = Input {
        elapsed: second(),
        facts: &bench.facts,
        requests: &ask(45, 0),
        action: None,
        saved: false,
        state_intact: true,
        limits_intact: false,
        off_credit: Millis(0),
    };
    let (state, decision) = step(bench.guard.limits(), bench.guard.state(), &input);
    refused(&decision, ACID_FEEDER, Rule::LimitsSealed, &[]);
    assert!(state.site_lockouts.has(Lockout::LimitsSeal));
}
