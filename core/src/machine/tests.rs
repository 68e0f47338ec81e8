//! The table whole, its drawing, and what each sign is read from.

use super::*;

use crate::bench::{Bench, SPEC, regulators};
use crate::guard::units::{Body, Dose, MilliPh};
use crate::guard::{Closed, FeederLimits, Inhibits, LimitsSpec, Mode};
use std::format;
use std::string::String;

/// The matrix, a row a phase and a column a sign.
fn matrix() -> String {
    let mut text = String::from("| phase |");
    for (sign, _) in TABLE {
        text += &format!(" {sign:?} |");
    }
    text += "\n|---|";
    text += &"---|".repeat(TABLE.len());
    for kind in KINDS {
        text += &format!("\n| {kind:?} |");
        for (sign, _) in TABLE {
            let to = next(kind, sign);
            let word = if to == kind {
                String::from("stays")
            } else {
                format!("{to:?}")
            };
            text += &format!(" {word} |");
        }
    }
    text + "\n"
}

/// The drawing. Signs that lead to one phase from everywhere are drawn once, from `any`.
fn drawing() -> String {
    let mut text = String::from("stateDiagram-v2\n    [*] --> Starting\n");
    for (sign, row) in TABLE {
        let to = row[0];
        if row.iter().all(|other| *other == to) {
            text += &format!("    any --> {to:?}: {sign:?}\n");
            continue;
        }
        for (from, to) in KINDS.iter().zip(row) {
            if *from != to {
                text += &format!("    {from:?} --> {to:?}: {sign:?}\n");
            }
        }
    }
    text
}

#[test]
fn the_table_is_as_committed() {
    insta::assert_snapshot!(matrix());
}

#[test]
fn the_docs_show_this_table_and_this_drawing() {
    let docs = include_str!("../machine.md");
    assert!(
        docs.contains(&matrix()),
        "write into machine.md:\n{}",
        matrix()
    );
    assert!(
        docs.contains(&drawing()),
        "write into machine.md:\n{}",
        drawing()
    );
}

#[test]
fn every_sign_has_one_row_and_every_phase_can_be_reached_and_left() {
    for (sign, _) in TABLE {
        assert_eq!(TABLE.iter().filter(|(of, _)| *of == sign).count(), 1);
    }
    for kind in KINDS {
        let reached = TABLE.iter().any(|(_, row)| row.contains(&kind));
        let left = TABLE.iter().any(|(sign, _)| next(kind, *sign) != kind);
        assert!(reached && left, "{kind:?}");
    }
}

fn shows(bench: &mut Bench, feeder: usize) -> Phase {
    bench.tick().phases[feeder]
}

#[test]
fn a_feeder_shows_its_life() {
    let mut bench = Bench::begun(SPEC, regulators());
    assert_eq!(shows(&mut bench, 0), Phase::Starting);
    bench.inputs.facts.flow_switch.value = false;
    bench.inputs.facts.pump_run.value = false;
    bench.run(40);
    assert_eq!(shows(&mut bench, 0), Phase::AwaitingFlow);
    bench.inputs.facts.flow_switch.value = true;
    bench.inputs.facts.pump_run.value = true;
    assert_eq!(shows(&mut bench, 0), Phase::Settling);
    bench.run(95);
    // A new unit owes the hold of the product.
    assert_eq!(shows(&mut bench, 0), Phase::Spreading);
    bench.water(7400, 720);
    bench.run(700);
    assert_eq!(shows(&mut bench, 0), Phase::NotAsked);
    bench.water(7600, 720);
    let charging = shows(&mut bench, 0);
    assert_eq!(charging, Phase::Refused(Rule::ChargeDurable));
    bench.tick();
    assert_eq!(shows(&mut bench, 0), Phase::Feeding);
    bench.until(200, |shown| shown.phases[0] == Phase::Spreading);
    assert_eq!(shows(&mut bench, 0), Phase::Spreading);
}

#[test]
fn a_refusal_names_its_rule_and_a_lockout_the_rule_that_entered_it() {
    let mut bench = Bench::usual();
    bench.inputs.facts.inhibits = Inhibits::PAUSED;
    assert_eq!(shows(&mut bench, 1), Phase::Refused(Rule::InhibitsClear));
    bench.inputs.facts.inhibits = Inhibits::EMERGENCY_STOP;
    for _ in 0..3 {
        assert_eq!(shows(&mut bench, 1), Phase::LockedOut(Rule::InhibitsClear));
    }
    bench.inputs.facts.inhibits = Inhibits::NONE;
    assert_eq!(
        shows(&mut bench, 1),
        Phase::LockedOut(Rule::InhibitsClear),
        "a person is needed"
    );
}

#[test]
fn water_past_the_cut_off_is_shown_only_when_something_is_asked() {
    let mut bench = Bench::usual();
    bench.inputs.facts.ph.value = MilliPh(6900);
    bench.inputs.facts.orp.value.0 = 720;
    assert_eq!(shows(&mut bench, 0), Phase::NotAsked);
}

#[test]
fn a_site_without_the_feeder_shows_so() {
    let spec = LimitsSpec {
        feeders: [SPEC.feeders[0], FeederLimits::Disabled],
        ..SPEC
    };
    let mut bench = Bench::begun(spec, regulators());
    assert_eq!(shows(&mut bench, 1), Phase::Disabled);
    bench.run(800);
    assert_eq!(shows(&mut bench, 1), Phase::Disabled);
}

#[test]
fn flow_lost_in_mid_dose_shows_so_and_settling_follows() {
    let mut bench = Bench::usual();
    bench.until(10, |shown| shown.phases[0] == Phase::Feeding);
    bench.inputs.facts.flow_switch.value = false;
    assert_eq!(shows(&mut bench, 0), Phase::AwaitingFlow);
    bench.run(20);
    assert_eq!(shows(&mut bench, 0), Phase::AwaitingFlow);
    bench.inputs.facts.flow_switch.value = true;
    assert_eq!(shows(&mut bench, 0), Phase::Settling);
}

#[test]
fn every_lockout_has_its_rule() {
    for lockout in Lockout::ALL {
        assert_ne!(rule_of(lockout), Rule::NoLockout);
    }
}

/// A feeder in use that these rules refuse.
fn refused(rules: &[Rule]) -> FeederDecision {
    let mut row = FeederDecision::DISABLED;
    row.enabled = true;
    row.vetoes = rules
        .iter()
        .fold(RuleSet::NONE, |set, rule| set.with(*rule));
    row
}

#[test]
fn what_would_refuse_anything_is_shown_unasked_and_all_else_only_to_who_asks() {
    let both = refused(&[Rule::WindowOpen, Rule::LineClear]);
    for (asked, rule) in [(false, Rule::LineClear), (true, Rule::WindowOpen)] {
        assert_eq!(sign(&both, asked), Sign::Vetoed);
        assert_eq!(first(&both, asked), rule);
    }
    let window = refused(&[Rule::WindowOpen]);
    assert_eq!(sign(&window, false), Sign::Quiet);
    assert_eq!(sign(&window, true), Sign::Vetoed);
}

#[test]
fn a_cycle_ends_while_it_closes_and_in_the_tick_in_which_it_is_booked() {
    let mut closing = refused(&[Rule::InhibitsClear]);
    closing.stage = CycleStage::Closing;
    assert_eq!(sign(&closing, true), Sign::Ending);
    let mut booked = refused(&[Rule::InhibitsClear]);
    booked.closed = Some(Closed {
        fed: Dose(1),
        charged: Dose(1),
        full: true,
        body: Body(0),
        mode: Mode::Automatic,
    });
    assert_eq!(sign(&booked, true), Sign::Ending);
}
