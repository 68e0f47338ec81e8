//! When a demand stands, when it counts as met, and when a drum is empty.

use super::*;
use crate::alarm::{AlarmId, AlarmState, FeederAlarm};
use crate::bench::{ACID, Bench, CHLORINE, SPEC, regulators};
use crate::guard::{FeederLimits, FeederSpec, LimitsSpec, Product, RuleSet};

#[test]
fn a_demand_is_met_by_a_minute_without_a_break() {
    let mut bench = Bench::usual();
    let mut row = bench.controller.guard().decision().feeders[0];
    let mut met = |runs: bool| {
        row.run = Millis(if runs { 1000 } else { 0 });
        let around = &mut bench.controller.around;
        around.after_feeder(0, &row, LockoutSet::NONE, Millis(1000))
    };
    let most = FED_FOR.0 / 1000;
    assert!((1..most).all(|_| !met(true)));
    assert!(met(true) && !met(false));
    assert!((1..most).all(|_| !met(true)), "anew");
}

#[test]
fn a_demand_of_before_stands_while_water_flows_or_should() {
    let mut around = Bench::usual().controller.around;
    around.wanted[0] = true;
    let unknown = Ask {
        known: false,
        ..Ask::NOTHING
    };
    let stands = |pump_due, flow| around.demand(0, &unknown, pump_due, flow);
    assert_eq!(stands(None, false), None);
    assert_eq!(stands(None, true), Some(true));
    assert_eq!(stands(Some(true), false), Some(true));
    assert_eq!(stands(Some(false), true), None);
}

#[test]
fn only_a_level_switch_that_is_fitted_and_says_nothing_else_finds_a_drum_empty() {
    let after = |level_switch, stock| {
        let acid = FeederSpec {
            level_switch,
            ..ACID
        };
        let spec = LimitsSpec {
            feeders: [FeederLimits::Enabled(acid), SPEC.feeders[1]],
            ..SPEC
        };
        let mut bench = Bench::begun(spec, regulators());
        bench.inputs.facts.feeders[0].stock = stock;
        bench.run(400);
        bench.alarm(AlarmId::Feeder(0, FeederAlarm::StockEmpty))
    };
    assert_eq!(after(Fitted::YES, Reading::now(true)), AlarmState::Normal);
    for no in [Reading::now(false), Reading::unknown(true)] {
        assert_eq!(after(Fitted::YES, no), AlarmState::Unacknowledged);
        assert_eq!(after(Fitted::NotFitted, no), AlarmState::Normal);
    }
}

#[test]
fn a_demand_of_before_is_none_once_no_water_flows() {
    let mut bench = Bench::usual();
    bench.controller.around.wanted[0] = true;
    bench.controller.around.asks[0].known = false;
    let wants = |bench: &Bench| {
        let around = &bench.controller.around;
        let look = around.watch_feeder(0, bench.controller.guard(), &bench.inputs);
        look.wants
    };
    assert_eq!(wants(&bench), Some(true));
    bench.inputs.facts.flow_switch.value = false;
    bench.inputs.facts.pump_run.value = false;
    bench.run(5);
    bench.controller.around.asks[0].known = false;
    assert_eq!(wants(&bench), None);
}

#[test]
fn a_generator_that_has_its_turn_and_does_not_run_is_not_one_that_has_run() {
    let cell = FeederSpec {
        product: Product::GeneratedChlorine,
        level_switch: Fitted::NotFitted,
        cell_flow_switch: Fitted::YES,
        ..CHLORINE
    };
    let spec = LimitsSpec {
        feeders: [SPEC.feeders[0], FeederLimits::Enabled(cell)],
        ..SPEC
    };
    let limits = Limits::try_new(spec).unwrap();
    let mut around = Bench::usual().controller.around;
    around.asks = [Ask {
        dose: Dose::from_ml(45),
        ..Ask::NOTHING
    }; 2];
    around.turns = Turns::START;
    let mut rows = [FeederDecision::DISABLED; 2];
    rows[0].vetoes = RuleSet::NONE.with(Rule::StockPresent);
    rows[1].stage = CycleStage::Open;
    let mut asks = |rows: &[FeederDecision; 2]| {
        let asked = around.requests(&limits, rows, Millis(1000));
        asked.map(|request| request.dose.0 > 0)
    };
    for _ in 0..1000 {
        assert_eq!(asks(&rows), [false, true], "acid has none");
    }
    rows[0].vetoes = RuleSet::NONE;
    assert_eq!(asks(&rows), [false, true], "its cycle is not over");
}
