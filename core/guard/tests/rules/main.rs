//! One test a rule, on the whole guard: from a healthy open cycle that has a permit, break what the
//! rule asks for and nothing else. The rule must refuse, with the companions that the test names,
//! and the feeder must get no permit. Takes a rule out of the table, and its test here fails.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::arithmetic_side_effects,
    reason = "a test that panics has failed, as it should"
)]

#[path = "../bench/mod.rs"]
mod bench;
mod caps;
mod drives;
mod persons;
mod releases;
mod seals;
mod water;

use bench::site::{ACID, CHLORINE, SPEC};
use bench::{Bench, ask};
use dosewarden_guard::units::Millis;
use dosewarden_guard::{
    Action, Authority, Clear, CycleStage, Decision, FeederLimits, FeederSpec, Limits, LimitsSpec,
    PersonAction, Rule, RuleSet, Stage,
};

const ACID_FEEDER: usize = 0;
const CHLORINE_FEEDER: usize = 1;

/// The site with something changed.
fn limits(change: impl FnOnce(&mut LimitsSpec<2, 1>)) -> Limits<2, 1> {
    let mut spec = SPEC;
    change(&mut spec);
    Limits::try_new(spec).unwrap()
}

/// The site with something changed on the acid feeder.
fn acid_limits(change: impl FnOnce(&mut FeederSpec<1>)) -> Limits<2, 1> {
    let mut acid = ACID;
    change(&mut acid);
    limits(|spec| spec.feeders[ACID_FEEDER] = FeederLimits::Enabled(acid))
}

/// The site with something changed on the chlorine feeder.
fn chlorine_limits(change: impl FnOnce(&mut FeederSpec<1>)) -> Limits<2, 1> {
    let mut chlorine = CHLORINE;
    change(&mut chlorine);
    limits(|spec| spec.feeders[CHLORINE_FEEDER] = FeederLimits::Enabled(chlorine))
}

/// Begun by a person, in the full stage, idle until everything is proven.
fn ready(limits: Limits<2, 1>) -> Bench {
    let mut bench = Bench::start(limits, [None, None]);
    bench.act(Action::Initialise);
    bench.act(Action::SetStage(Stage::Full));
    bench.idle(700);
    bench
}

/// Ready, and the acid feeder has a permit.
fn feeding_acid(limits: Limits<2, 1>) -> Bench {
    let mut bench = ready(limits);
    bench.until(ask(45, 0), 5, |decision| decision.feeders[0].run.0 > 0);
    bench
}

/// Ready, and the chlorine feeder has a permit.
fn feeding_chlorine(limits: Limits<2, 1>) -> Bench {
    let mut bench = ready(limits);
    bench.until(ask(0, 60), 5, |decision| decision.feeders[1].run.0 > 0);
    bench
}

fn set(rules: &[Rule]) -> RuleSet {
    rules
        .iter()
        .fold(RuleSet::NONE, |set, rule| set.with(*rule))
}

/// The rule refuses, its companions do, nothing else does; each says what clears it; no permit.
#[track_caller]
fn refused(decision: &Decision<2>, feeder: usize, rule: Rule, companions: &[Rule]) {
    let row = &decision.feeders[feeder];
    let names: Vec<&str> = row.vetoes.iter().map(Rule::name).collect();
    assert!(row.vetoes.has(rule), "{} lets pass: {names:?}", rule.name());
    assert_eq!(row.vetoes, set(companions).with(rule), "{names:?}");
    assert_eq!(row.run, Millis(0), "a permit against {}", rule.name());
    for rule in row.vetoes.iter() {
        let clear = row.clears(rule);
        assert_ne!(clear, Clear::Nothing, "{} names no way out", rule.name());
    }
}

fn bench_person(action: Action) -> PersonAction {
    PersonAction {
        by: Authority::Technician,
        action,
    }
}

#[test]
fn charge_durable() {
    let mut bench = ready(limits(|_| {}));
    bench.saves = false;
    for tick in 0..5 {
        let decision = bench.tick(ask(45, 0));
        refused(&decision, ACID_FEEDER, Rule::ChargeDurable, &[]);
        assert_eq!(decision.feeders[0].stage, CycleStage::Pending);
        let clears = if tick == 0 {
            Clear::Charge
        } else {
            Clear::Saved
        };
        assert_eq!(decision.feeders[0].clears(Rule::ChargeDurable), clears);
    }
}
