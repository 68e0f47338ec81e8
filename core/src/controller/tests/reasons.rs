//! Why a feeder does not feed.

use std::vec::Vec;

use crate::Phase;
use crate::bench::{ACID, Bench, SPEC, regulators};
use crate::guard::units::{Body, DAY_MS, Dose, Fitted, Millis};
use crate::guard::{Clear, FeederLimits, Inhibits, LimitsSpec, Lockout, Reading, Rule};
use crate::look::{Look, look_at};
use crate::{Act, ActResult, HandDoses, Inputs, Obstacle};

fn why(bench: &Bench, feeder: usize) -> Vec<Obstacle> {
    bench.controller.why(feeder).unwrap().collect()
}

#[test]
fn reasons_name_what_stands_in_the_way_and_what_clears_it() {
    let mut bench = Bench::usual();
    bench.water(7400, 720);
    bench.tick();
    assert_eq!(why(&bench, 0), [Obstacle::NotAsked]);
    bench.water(7600, 720);
    bench.until(5, |shown| shown.feeds(0));
    assert_eq!(why(&bench, 0), [], "it feeds");
    bench.inputs.facts.flow_switch.value = false;
    bench.tick();
    let found = why(&bench, 0);
    let flow = Obstacle::Rule(Rule::FlowProven, Clear::FlowThen(Millis(60_000)));
    assert!(found.contains(&flow), "{found:?}");
    assert_eq!(flow.look_at().first(), Some(&Look::Pump));
    assert!(flow.look_at().contains(&Look::Baskets));
    assert!(bench.controller.why(2).is_none());
}

#[test]
fn reasons_name_turn_pump_stop_output_and_lockout() {
    let mut bench = Bench::usual();
    bench.until(5, |shown| shown.feeds(0));
    bench.tick();
    assert_eq!(
        why(&bench, 0),
        [],
        "it feeds, though the other asks as well"
    );
    let chlorine = why(&bench, 1);
    let turn = Obstacle::Rule(Rule::OneAtATime, Clear::OtherOffThen(Millis(45_000)));
    assert_eq!(chlorine, [turn]);
    bench.inputs.pump_stops_in = Some(Millis(1000));
    bench.tick();
    assert_eq!(why(&bench, 0)[0], Obstacle::PumpStops(Millis(1000)));
    bench.inputs.pump_stops_in = None;
    bench.inputs.master_fault = true;
    bench.tick();
    assert_eq!(why(&bench, 0)[0], Obstacle::OutputFault);
    bench.inputs.master_fault = false;
    bench.inputs.facts.inhibits = Inhibits::EMERGENCY_STOP;
    bench.tick();
    let lockout = why(&bench, 0)[0];
    assert_eq!(lockout, Obstacle::Lockout(Lockout::EmergencyStop));
    assert_eq!(
        (lockout.clears(), lockout.look_at()[0]),
        (Clear::Person, Look::Switches)
    );
    let refused = bench.tick().decision.feeders[0].vetoes;
    assert!(refused.has(Rule::NoLockout));
    let named = |one: &Obstacle| matches!(one, Obstacle::Rule(Rule::NoLockout, _));
    assert!(!why(&bench, 0).iter().any(named), "by its own name alone");
}

#[test]
fn a_turn_is_named_where_the_other_product_asks_and_after_what_refuses_anyway() {
    let mut bench = Bench::usual();
    bench.water(7600, 720); // chlorine is not wanted
    bench.until(5, |shown| shown.feeds(0));
    bench.until(600, |shown| {
        !shown.feeds(0) && shown.decision.feeders[0].vetoes.has(Rule::SpreadHold)
    });
    bench.run(60);
    let spreads = |found: &[Obstacle]| matches!(found[0], Obstacle::Rule(Rule::SpreadHold, _));
    let alone = why(&bench, 0);
    assert!(spreads(&alone), "{alone:?}");
    assert!(!alone.contains(&Obstacle::OtherHasTurn), "{alone:?}");
    bench.water(7600, 650); // now it is
    bench.run(2);
    let both = why(&bench, 0);
    assert!(spreads(&both), "{both:?}");
    assert_eq!(both.last(), Some(&Obstacle::OtherHasTurn), "{both:?}");
    assert!(!why(&bench, 1).contains(&Obstacle::OtherHasTurn));
}

#[test]
fn a_charge_that_is_not_saved_yet_is_named_alone_and_beside_what_refuses() {
    let mut bench = Bench::usual();
    bench.saves = false;
    bench.until(5, |shown| shown.save);
    let charged = Obstacle::Rule(Rule::ChargeDurable, Clear::Charge);
    assert_eq!(why(&bench, 0), [charged]);
    bench.tick();
    let saved = Obstacle::Rule(Rule::ChargeDurable, Clear::Saved);
    assert_eq!(why(&bench, 0), [saved]);
    bench.inputs.facts.flow_switch.value = false;
    bench.tick();
    let both = why(&bench, 0);
    assert!(both.contains(&saved) && both.len() > 1, "{both:?}");
}

#[test]
fn a_turn_is_not_named_where_a_lockout_of_the_feeder_waits_for_a_person() {
    let mut bench = Bench::usual();
    bench.water(7400, 720);
    bench.inputs.facts.ph.age = Millis(u32::MAX);
    bench.run(4000);
    bench.water(7600, 650);
    bench.run(2); // chlorine has the turn and waits for its record
    let all = why(&bench, 0);
    assert_eq!(all[0], Obstacle::Lockout(Lockout::Probe), "{all:?}");
    assert!(bench.controller.wanted(0).dose.0 > 0);
    assert!(!all.contains(&Obstacle::OtherHasTurn), "{all:?}");
}

#[test]
fn every_refusal_names_what_clears_it() {
    let mut bench = Bench::begun(SPEC, regulators());
    let unknown = Inputs::<2>::UNKNOWN;
    bench.inputs.facts = unknown.facts;
    for _ in 0..5 {
        bench.tick();
        for feeder in 0..2 {
            let all = why(&bench, feeder);
            assert!(all.len() > 3);
            for obstacle in all {
                assert_ne!(obstacle.clears(), Clear::Nothing, "{obstacle:?}");
            }
        }
    }
}

#[test]
fn words_are_all_different() {
    let mut words = Vec::new();
    for rule in Rule::ALL {
        words.extend(look_at(rule).iter().map(|look| (*look as u8, look.words())));
    }
    words.sort_unstable();
    words.dedup();
    let mut texts: Vec<&str> = words.iter().map(|(_, text)| *text).collect();
    texts.sort_unstable();
    texts.dedup();
    assert_eq!(texts.len(), words.len());
}

#[test]
fn a_drive_that_runs_against_command_stands_in_the_way_of_all() {
    let mut acid = ACID;
    acid.feedback = Fitted::Fitted(Millis(3000));
    let spec = LimitsSpec {
        feeders: [FeederLimits::Enabled(acid), SPEC.feeders[1]],
        ..SPEC
    };
    let mut bench = Bench::ready(spec, regulators());
    bench.water(7400, 650);
    bench.until(10, |shown| shown.feeds(1));
    bench.inputs.facts.feeders[0].feedback = Reading::now(Millis(1000));
    bench.run(2);
    bench.inputs.facts.feeders[0].feedback = Reading::now(Millis(0));
    for _ in 0..600 {
        let shown = bench.tick();
        assert!(!shown.feeds(1) && !shown.decision.master);
        assert_eq!(shown.phases[1], Phase::LockedOut(Rule::DriveObeys));
        let all = why(&bench, 1);
        assert_eq!(all[0], Obstacle::Rule(Rule::DriveObeys, Clear::Person));
    }
    // Where a person is waited for, turns say nothing.
    bench.water(7600, 650);
    bench.run(2);
    assert!(!why(&bench, 1).contains(&Obstacle::OtherHasTurn));
}

/// A new unit that knows nothing: much is in the way, of every kind.
#[test]
fn what_waits_for_a_person_comes_first_and_each_kind_in_the_order_of_its_numbers() {
    let mut bench = Bench::start(SPEC, regulators(), [None, None]);
    bench.inputs = Inputs::UNKNOWN;
    bench.run(3);
    let mut why = bench.controller.why(0).unwrap();
    let rules = why.rules();
    assert!(matches!(why.next(), Some(Obstacle::Lockout(_))));
    let given: Vec<(bool, u32)> = why
        .filter_map(|obstacle| match obstacle {
            Obstacle::Rule(rule, clear) => Some((clear != Clear::Person, rule.number())),
            _ => None,
        })
        .collect();
    assert!(given.iter().filter(|(passes, _)| *passes).count() > 2);
    assert!(given.iter().any(|(passes, _)| !passes));
    assert!(given.is_sorted(), "{given:?}");
    let bits = given.iter().fold(0, |bits, (_, rule)| bits | 1 << rule);
    assert_eq!(rules.bits(), bits);
}

#[test]
fn a_feeder_out_of_use_is_told_as_such_and_takes_no_dose_by_hand() {
    let mut spec = SPEC;
    spec.feeders[1] = FeederLimits::Disabled;
    let mut bench = Bench::ready(spec, regulators());
    assert_eq!(why(&bench, 1), [Obstacle::Disabled]);
    assert_eq!(bench.controller.found_under(1), (None, None));
    let by_hand = Act::HandDose {
        feeder: 1,
        dose: Dose::from_ml(100),
        body: None,
    };
    assert_ne!(bench.act(by_hand).act, Some(ActResult::Done));
    // Given away and taken back, only what is in use counts as used up.
    assert_eq!(bench.act(Act::GiveAway).act, Some(ActResult::Done));
    assert_eq!(bench.act(Act::TakeBack).act, Some(ActResult::Done));
    let by_hand = bench.controller.restraints().by_hand;
    assert!(by_hand[0].dose >= Dose::from_ml(900) && by_hand[0].counts_for.0 > DAY_MS - 10_000);
    assert_eq!(by_hand[1], HandDoses::NONE);
}

#[test]
fn a_day_that_counts_as_used_does_so_in_each_body_whatever_was_poured_into_one() {
    let mut bench = Bench::usual();
    let by_hand = Act::HandDose {
        feeder: 0,
        dose: Dose::from_ml(100),
        body: Some(Body(0)),
    };
    assert_eq!(bench.act(by_hand).act, Some(ActResult::Done));
    let body = |bench: &Bench| bench.controller.restraints().by_hand[0].body;
    assert_eq!(body(&bench), Some(Body(0)));
    assert_eq!(bench.act(Act::GiveAway).act, Some(ActResult::Done));
    assert_eq!(bench.act(Act::TakeBack).act, Some(ActResult::Done));
    assert_eq!(
        body(&bench),
        None,
        "fed by the other board into any of them"
    );
}

#[test]
fn a_level_over_the_drums_size_is_refused() {
    let mut bench = Bench::usual();
    let level = Dose::from_ml(4_000_000);
    let read = bench.act(Act::ReadLevel { feeder: 0, level }).act;
    assert!(matches!(read, Some(ActResult::MoreThanDrum(size)) if size < level));
}

#[test]
fn a_drive_that_a_timer_cuts_is_fed_though_its_smallest_dose_is_less_than_a_tick() {
    let mut spec = SPEC;
    for feeder in &mut spec.feeders {
        if let FeederLimits::Enabled(one) = feeder {
            one.cut_timer = Fitted::YES;
            one.dose_min = Dose(300);
        }
    }
    let mut bench = Bench::ready(spec, regulators());
    bench.until(5, |shown| shown.feeds(0));
}
