//! Water, probes, valves.

use super::bench::ask;
use super::{ACID_FEEDER, CHLORINE_FEEDER, feeding_acid, feeding_chlorine, limits, refused};
use dosewarden_guard::units::{Body, MilliPh, Millis, Millivolts};
use dosewarden_guard::{
    Action, Clear, Decision, FeederLimits, Fitted, Health, Product, Reading, Rule,
};

#[test]
fn flow_proven() {
    let mut bench = feeding_acid(limits(|_| {}));
    bench.facts.flow_switch.value = false;
    let decision = bench.tick(ask(45, 0));
    // Water past the probe stands too, and what was fed since the last tick stands in the line.
    let companions = [Rule::ProbeSettled, Rule::LineClear];
    refused(&decision, ACID_FEEDER, Rule::FlowProven, &companions);
    let clears = decision.feeders[0].clears(Rule::FlowProven);
    assert_eq!(clears, Clear::FlowThen(Millis::from_secs(60)));
}

#[test]
fn flow_proven_by_every_witness_alone() {
    // Settling and purging are over first, so the rest of the proving time is refused by one rule.
    let mut bench = feeding_acid(limits(|spec| {
        spec.probe_settle = Millis::from_secs(10);
        spec.purge = Millis::from_secs(10);
        spec.resume_within = Millis::from_mins(5);
    }));
    for witness in 0..4 {
        let healthy = bench.facts;
        match witness {
            0 => bench.facts.pump_run.value = false,
            1 => bench.facts.flow_switch.age = Millis(2001),
            2 => bench.facts.pump_run.health = Health::MaintenanceRequired,
            _ => bench.facts.flow_switch = Reading::unknown(true),
        }
        bench.tick(ask(45, 0));
        bench.facts = healthy;
        for second in 1..60 {
            let decision = bench.tick(ask(45, 0));
            if second > 10 {
                refused(&decision, ACID_FEEDER, Rule::FlowProven, &[]);
            }
        }
        assert!(bench.tick(ask(45, 0)).feeders[0].run.0 > 0, "{witness}");
    }
}

#[test]
fn flow_proven_by_the_cell() {
    let mut bench = feeding_chlorine(super::chlorine_limits(|spec| {
        spec.product = Product::GeneratedChlorine;
        spec.cell_flow_switch = Fitted::YES;
    }));
    bench.facts.feeders[1].cell_flow.value = false;
    let decision = bench.tick(ask(0, 60));
    refused(&decision, CHLORINE_FEEDER, Rule::FlowProven, &[]);
}

#[test]
fn witnesses_agree() {
    let mut bench = feeding_acid(limits(|_| {}));
    bench.facts.pump_run.value = false;
    for _ in 0..30 {
        let decision = bench.tick(ask(45, 0));
        assert!(!decision.feeders[0].vetoes.has(Rule::WitnessesAgree));
    }
    let decision = bench.tick(ask(45, 0));
    // While the pump says off, one witness of flow is missing as well.
    let companions = [Rule::FlowProven, Rule::ProbeSettled, Rule::LineClear];
    refused(&decision, ACID_FEEDER, Rule::WitnessesAgree, &companions);
}

#[test]
fn probe_settled() {
    let mut bench = feeding_acid(limits(|spec| {
        spec.probe_settle = Millis::from_secs(90);
        spec.resume_within = Millis::from_mins(5);
    }));
    bench.facts.flow_switch.value = false;
    bench.tick(ask(45, 0));
    bench.facts.flow_switch.value = true;
    for second in 1..90 {
        let decision = bench.tick(ask(45, 0));
        if second >= 60 {
            refused(&decision, ACID_FEEDER, Rule::ProbeSettled, &[]);
        }
    }
    assert!(bench.tick(ask(45, 0)).feeders[0].run.0 > 0);
}

#[test]
fn probe_trusted() {
    // Chlorine without a pH probe: nothing else reads a probe but its own cut-off.
    let mut bench = feeding_acid(limits(|_| {}));
    bench.facts.ph.health = Health::CheckFunction;
    let decision = bench.tick(ask(45, 0));
    // A value that is not trusted is not inside the cut-off either.
    refused(
        &decision,
        ACID_FEEDER,
        Rule::ProbeTrusted,
        &[Rule::InsideCutoff],
    );
    for _ in 0..900 {
        bench.tick(ask(0, 0));
    }
    assert!(
        bench.guard.state().feeder_lockouts[0].is_empty(),
        "not a failure"
    );
    bench.facts.ph.health = Health::Failure;
    for _ in 0..601 {
        bench.tick(ask(0, 0));
    }
    let locked = bench.guard.state().feeder_lockouts[0];
    assert!(locked.has(dosewarden_guard::Lockout::Probe));
}

#[test]
fn what_fails_or_disagrees_does_so_in_full_also_while_time_cannot_be_trusted() {
    // Ticks of 3 s, where 2 s are the most: nothing is proven by them, and nothing is forgiven.
    let late = |bench: &mut super::bench::Bench, ticks: u32| {
        for _ in 0..ticks {
            bench.tick_with(3000, ask(0, 0), None);
        }
    };
    let mut bench = feeding_acid(limits(|_| {}));
    bench.facts.ph.health = Health::Failure;
    late(&mut bench, 200);
    let locked = |bench: &super::bench::Bench| bench.guard.state().feeder_lockouts[0];
    assert!(locked(&bench).is_empty(), "10 min are allowed");
    late(&mut bench, 1);
    assert!(locked(&bench).has(dosewarden_guard::Lockout::Probe));
    let mut bench = feeding_acid(limits(|_| {}));
    bench.facts.pump_run.value = false;
    late(&mut bench, 10);
    let site = |bench: &super::bench::Bench| bench.guard.state().site_lockouts;
    let witnesses = dosewarden_guard::Lockout::Witnesses;
    assert!(!site(&bench).has(witnesses), "30 s are allowed");
    late(&mut bench, 1);
    assert!(site(&bench).has(witnesses));
}

#[test]
fn inside_cutoff() {
    let mut bench = feeding_acid(limits(|_| {}));
    bench.facts.ph.value = MilliPh(7000);
    let decision = bench.tick(ask(45, 0));
    refused(&decision, ACID_FEEDER, Rule::InsideCutoff, &[]);
    let mut bench = feeding_chlorine(limits(|_| {}));
    bench.facts.orp.value = Millivolts(780);
    let decision = bench.tick(ask(0, 60));
    refused(&decision, CHLORINE_FEEDER, Rule::InsideCutoff, &[]);
    bench.facts.orp.value = Millivolts(779);
    bench.facts.ph.value = MilliPh(6899);
    let decision = bench.tick(ask(0, 60));
    refused(&decision, CHLORINE_FEEDER, Rule::InsideCutoff, &[]);
    bench.facts.ph.value = MilliPh(6900);
    assert!(bench.tick(ask(0, 60)).feeders[1].run.0 > 0);
}

#[test]
fn inside_cutoff_of_chlorine_without_a_ph_probe_asks_for_orp_alone() {
    let mut bench = feeding_chlorine(limits(|spec| {
        spec.ph_probe = Fitted::NotFitted;
        spec.feeders[ACID_FEEDER] = FeederLimits::Disabled;
    }));
    // What is not fitted says nothing, whatever the input shows.
    bench.facts.ph.value = MilliPh(6000);
    assert!(bench.tick(ask(0, 60)).feeders[1].run.0 > 0);
    bench.facts.orp.value = Millivolts(780);
    let decision = bench.tick(ask(0, 60));
    refused(&decision, CHLORINE_FEEDER, Rule::InsideCutoff, &[]);
}

#[test]
fn body_known() {
    let valves = limits(|spec| spec.body_valves = Fitted::Fitted(Millis::from_secs(5)));
    let mut bench = super::Bench::start(valves, [None, None]);
    bench.facts.body = Reading::now(Body(0));
    bench.act(Action::Initialise);
    bench.idle(700);
    bench.until(ask(45, 0), 5, |decision| decision.feeders[0].run.0 > 0);
    bench.facts.body = Reading::unknown(Body(0));
    let decision = bench.tick(ask(45, 0));
    refused(&decision, ACID_FEEDER, Rule::BodyKnown, &[]);
    bench.facts.body = Reading::now(Body(7));
    let decision = bench.tick(ask(45, 0));
    refused(&decision, ACID_FEEDER, Rule::BodyKnown, &[]);
    bench.facts.body = Reading::now(Body(0));
    let mut waited = 0;
    while bench.tick(ask(45, 0)).feeders[0]
        .vetoes
        .has(Rule::BodyKnown)
    {
        waited += 1;
        assert!(waited < 60, "it stays unknown");
    }
    assert_eq!(waited, 5, "steady for 5 s from the tick that told it");
}

#[test]
fn line_clear() {
    // The line takes longest to come clean.
    let mut bench = feeding_acid(limits(|spec| {
        spec.purge = Millis::from_secs(200);
        spec.resume_within = Millis::from_mins(10);
    }));
    bench.facts.flow_switch.value = false;
    bench.tick(ask(45, 0));
    bench.tick(ask(45, 0));
    bench.facts.flow_switch.value = true;
    for second in 1..200 {
        let decision = bench.tick(ask(45, 0));
        if second >= 90 {
            refused(&decision, ACID_FEEDER, Rule::LineClear, &[]);
        }
    }
    assert!(bench.tick(ask(45, 0)).feeders[0].run.0 > 0);
}

#[test]
fn line_clear_after_the_overrun_needs_nobody() {
    let mut bench = feeding_acid(limits(|_| {}));
    bench.facts.flow_switch.value = false;
    // The longest tick, and the drive's off delay: what a sudden loss of flow may cost.
    bench.tick_with(2000, ask(45, 0), None);
    bench.tick(ask(45, 0));
    let state = bench.guard.state();
    assert_eq!(state.line.standing[ACID_FEEDER], Millis(2200));
    assert!(state.feeder_lockouts[ACID_FEEDER].is_empty() && state.site_lockouts.is_empty());
}

#[test]
fn one_at_a_time_while_a_permit_of_the_other_ends() {
    let mut bench = feeding_acid(limits(|_| {}));
    let purge = Millis::from_secs(45);
    let clears =
        |decision: &Decision<2>| decision.feeders[CHLORINE_FEEDER].clears(Rule::OneAtATime);
    // It had a permit until now, and no feedback tells that it is off.
    let decision = bench.tick(ask(0, 60));
    assert_eq!(clears(&decision), Clear::OtherOffThen(purge));
    let decision = bench.tick(ask(0, 60));
    assert_eq!(clears(&decision), Clear::AfterFlow(purge));
}

#[test]
fn response_sane() {
    let mut bench = feeding_acid(limits(|_| {}));
    bench.until(ask(45, 0), 200, |decision| {
        decision.feeders[0].closed.is_some()
    });
    bench.facts.ph.value = MilliPh(7751); // 0.151 up, by acid
    bench.idle(600); // judged in the last of them, and binding from the next
    let decision = bench.tick(ask(45, 0));
    refused(
        &decision,
        ACID_FEEDER,
        Rule::ResponseSane,
        &[Rule::ChargeDurable],
    );
}

#[test]
fn response_sane_without_an_answer() {
    let mut bench = feeding_acid(limits(|_| {}));
    for _ in 0..3 {
        bench.until(ask(45, 0), 900, |decision| {
            decision.feeders[0].closed.is_some()
        });
    }
    bench.idle(700);
    let decision = bench.tick(ask(45, 0));
    refused(
        &decision,
        ACID_FEEDER,
        Rule::ResponseSane,
        &[Rule::ChargeDurable],
    );
    assert!(matches!(
        decision.feeders[0].clears(Rule::ResponseSane),
        Clear::After(rest) if rest > Millis::from_hours(3)
    ));
}
