//! Caps and holds.

use super::bench::ask;
use super::bench::site::ACID;
use super::{ACID_FEEDER, Bench, acid_limits, feeding_acid, limits, ready, refused};
use dosewarden_guard::units::{Dose, Millis};
use dosewarden_guard::{Clear, FeederLimits, Limits, Rule, SetLimits};

/// Runs until a rule refuses the open acid cycle.
fn until_refused(bench: &mut Bench, rule: Rule, most: u32) -> dosewarden_guard::Decision<2> {
    bench.until(ask(45, 0), most, |decision| {
        decision.feeders[0].vetoes.has(rule)
    });
    *bench.guard.decision()
}

#[test]
fn cycle_cap() {
    let mut bench = feeding_acid(limits(|_| {}));
    let decision = until_refused(&mut bench, Rule::CycleCap, 100);
    refused(&decision, ACID_FEEDER, Rule::CycleCap, &[]);
    assert!(
        bench.guard.state().feeders[0].run <= Millis(81_818),
        "45 mL at 33 mL/min"
    );
}

#[test]
fn cycle_cap_lowered_under_an_open_cycle() {
    let mut bench = feeding_acid(limits(|_| {}));
    let lower = acid_limits(|spec| spec.bodies[0].cycle_cap = Dose::from_ml(20));
    assert_eq!(
        bench.guard.set_limits(lower),
        SetLimits::Applied,
        "it tightens"
    );
    let decision = bench.tick(ask(45, 0));
    refused(&decision, ACID_FEEDER, Rule::CycleCap, &[]);
}

#[test]
fn run_time_cap() {
    let mut bench = feeding_acid(acid_limits(|spec| spec.run_max = Millis::from_secs(20)));
    let decision = until_refused(&mut bench, Rule::RunTimeCap, 30);
    refused(&decision, ACID_FEEDER, Rule::RunTimeCap, &[]);
    bench.idle(3);
    let fed = bench.guard.state().ledger.totals(0, 0).1;
    assert!(
        fed <= Dose(11_000),
        "20 s at 33 mL/min, the drive's off delay in it: {fed:?}"
    );
}

#[test]
fn spread_hold() {
    let mut bench = feeding_acid(limits(|_| {}));
    bench.until(ask(45, 0), 200, |decision| {
        decision.feeders[0].closed.is_some()
    });
    for _ in 1..600 {
        bench.facts.ph.value.0 = 7500;
        let decision = bench.tick(ask(45, 0));
        let companions = [Rule::ChargeDurable];
        refused(&decision, ACID_FEEDER, Rule::SpreadHold, &companions);
    }
}

/// A site whose hour or day is used up by two cycles.
fn short_of(change: impl FnOnce(&mut dosewarden_guard::BodyLimits)) -> Limits<2, 1> {
    let mut acid = ACID;
    change(&mut acid.bodies[0]);
    limits(|spec| spec.feeders[0] = FeederLimits::Enabled(acid))
}

fn used_up(limits: Limits<2, 1>, rule: Rule, companions: &[Rule]) {
    let mut bench = ready(limits);
    for _ in 0..2 {
        bench.until(ask(45, 0), 900, |decision| {
            decision.feeders[0].closed.is_some()
        });
        bench.facts.ph.value.0 -= 50;
    }
    bench.idle(600);
    let decision = bench.tick(ask(45, 0));
    refused(&decision, ACID_FEEDER, rule, companions);
}

#[test]
fn hour_cap() {
    let cap = |body: &mut dosewarden_guard::BodyLimits| body.hour_cap = Dose::from_ml(90);
    used_up(short_of(cap), Rule::HourCap, &[Rule::ChargeDurable]);
}

#[test]
fn day_cap() {
    let cap = |body: &mut dosewarden_guard::BodyLimits| {
        body.hour_cap = Dose::from_ml(90);
        body.day_cap = Dose::from_ml(90);
    };
    let mut bench = ready(short_of(cap));
    for _ in 0..2 {
        bench.until(ask(45, 0), 900, |decision| {
            decision.feeders[0].closed.is_some()
        });
        bench.facts.ph.value.0 -= 50;
    }
    // The hour passes, the day does not.
    bench.idle(5000);
    let decision = bench.tick(ask(45, 0));
    refused(&decision, ACID_FEEDER, Rule::DayCap, &[Rule::ChargeDurable]);
}

/// What is said to clear a cap does, and not a tick sooner.
fn clears_when_it_says(limits: Limits<2, 1>, rule: Rule) {
    let mut bench = ready(limits);
    for _ in 0..2 {
        bench.until(ask(45, 0), 900, |decision| {
            decision.feeders[0].closed.is_some()
        });
        bench.facts.ph.value.0 -= 50;
    }
    bench.idle(700);
    assert!(bench.tick(ask(45, 0)).feeders[0].vetoes.has(rule));
    let Clear::After(rest) = bench.guard.explain(ACID_FEEDER, rule) else {
        panic!("{rule:?} does not say when it clears");
    };
    let ticks = rest.0.div_ceil(1000);
    assert!(ticks > 1800, "two cycles of half an hour ago: {ticks} s");
    for tick in 1..ticks {
        let vetoes = bench.tick(ask(45, 0)).feeders[0].vetoes;
        assert!(vetoes.has(rule), "{tick} of {ticks} s");
    }
    let vetoes = bench.tick(ask(45, 0)).feeders[0].vetoes;
    assert!(!vetoes.has(rule), "after {ticks} s");
}

#[test]
fn the_hour_clears_when_it_says() {
    let cap = |body: &mut dosewarden_guard::BodyLimits| body.hour_cap = Dose::from_ml(90);
    clears_when_it_says(short_of(cap), Rule::HourCap);
}

#[test]
fn the_day_clears_when_it_says() {
    let cap = |body: &mut dosewarden_guard::BodyLimits| {
        body.hour_cap = Dose::from_ml(90);
        body.day_cap = Dose::from_ml(90);
    };
    clears_when_it_says(short_of(cap), Rule::DayCap);
}
