//! The ladder, at a controller in full health.

mod edges;

use std::string::ToString;
use std::vec::Vec;

use crate::bench::{Bench, SPEC, Shown, regulators};
use crate::event::EventKind;
use crate::guard::units::{Fitted, MilliPh, Millis, Percent};
use crate::guard::{Action, Authority, FeederLimits, Inhibits, LimitsSpec, Lockout, Rule, Stage};
use crate::proof::{Interlock, InterlockSet};
use crate::stages::{Evidence, Rung, StageNeeds, StageSettings};
use crate::{Act, ActResult, Care, CareSettings};

const ACID: usize = 0;
const CHLORINE: usize = 1;

const SETTINGS: CareSettings = CareSettings {
    stages: Fitted::Fitted(StageSettings {
        begins_observing: true,
        observe_hours: 3,
        reduced_hours: 5,
    }),
    cold_below: Fitted::NotFitted,
};

const REDUCED: Act = Act::Guard(Action::SetStage(Stage::Reduced));
const FULL: Act = Act::Guard(Action::SetStage(Stage::Full));

/// A new unit of such a site, begun by a technician.
fn unit(spec: LimitsSpec<2, 1>, settings: CareSettings) -> Bench {
    let mut bench = Bench::start(spec, regulators(), [None, None]);
    bench.controller.set_care(settings);
    bench.inputs.care = Care {
        unproven: Some(InterlockSet::NONE),
        ..Care::UNKNOWN
    };
    assert!(done(&bench.act(Act::Guard(Action::Initialise))));
    bench
}

/// Forgetting [`crate::Controller::set_care`] is no way to feed on the first day.
#[test]
fn a_new_unit_that_nobody_told_what_its_stages_need_observes_and_one_told_of_none_feeds() {
    let mut bench = Bench::untold(SPEC, regulators(), [None, None]);
    bench.water(7600, 650);
    assert!(done(&bench.act(Act::Guard(Action::Initialise))));
    assert_eq!(bench.controller.rung(), Rung::ObserveOnly);
    assert!(!feeds(&mut bench, 24 * 3600));
    assert!(bench.controller.evidence().would_feed > 0, "it would have");
    // Nobody says how its interlocks are: no step either.
    let refused = bench.act(REDUCED);
    assert!(missing(&refused).proofs_unknown);

    let mut told = Bench::untold(SPEC, regulators(), [None, None]);
    told.controller.set_care(CareSettings::NONE);
    told.water(7600, 650);
    assert!(done(&told.act(Act::Guard(Action::Initialise))));
    assert_eq!(told.controller.rung(), Rung::Reduced);
    assert!(feeds(&mut told, 3600));
}

fn done(shown: &Shown) -> bool {
    shown.act == Some(ActResult::Done)
}

fn missing(shown: &Shown) -> StageNeeds {
    match shown.act {
        Some(ActResult::StageNeeds(needs)) => needs,
        other => panic!("{other:?}"),
    }
}

fn feeds(bench: &mut Bench, secs: u32) -> bool {
    let mut fed = false;
    for _ in 0..secs {
        let shown = bench.tick();
        fed |= shown.feeds(ACID) || shown.feeds(CHLORINE);
    }
    fed
}

fn told(bench: &mut Bench) -> Vec<EventKind> {
    let events = bench.controller.events_mut();
    core::iter::from_fn(|| events.take_oldest().map(|one| one.kind)).collect()
}

#[test]
fn a_new_unit_observes_and_logs_what_it_would_feed_once_a_hold() {
    let mut bench = unit(SPEC, SETTINGS);
    assert_eq!(bench.controller.rung(), Rung::ObserveOnly);
    assert!(told(&mut bench).contains(&EventKind::Observing { now: true }));
    assert!(!feeds(&mut bench, 900));
    let shown = bench.tick();
    for row in shown.decision.feeders {
        let but = row.vetoes.without(Rule::ChargeDurable);
        assert!(but.is_only(Rule::InhibitsClear), "{:?}", row.vetoes);
    }
    told(&mut bench);
    assert!(!feeds(&mut bench, 3600));
    let would = |events: &[EventKind], of: u8| {
        let of =
            |one: &&EventKind| matches!(one, EventKind::WouldFeed { feeder, .. } if *feeder == of);
        events.iter().filter(of).count()
    };
    let events = told(&mut bench);
    // Holds of 10 and 5 min.
    assert_eq!((would(&events, 0), would(&events, 1)), (6, 12));
    assert!(bench.controller.evidence().would_feed >= 18);
}

#[test]
fn nothing_is_said_to_be_fed_where_something_else_would_refuse() {
    let mut bench = unit(SPEC, SETTINGS);
    bench.run(900);
    told(&mut bench);
    bench.water(6900, 800); // past the cut-offs, and nothing wanted
    bench.run(1200);
    bench.water(7600, 650);
    bench.inputs.facts.inhibits = Inhibits::BACKWASH;
    bench.run(1200);
    bench.inputs.facts.inhibits = Inhibits::NONE;
    bench.inputs.facts.flow_switch.value = false;
    bench.run(1200);
    let events = told(&mut bench);
    let would = |one: &EventKind| matches!(one, EventKind::WouldFeed { .. });
    assert!(!events.iter().any(would), "{events:?}");
}

#[test]
fn each_missing_piece_is_named_and_with_all_of_them_it_feeds_in_reduced_caps() {
    let mut spec = SPEC;
    if let FeederLimits::Enabled(chlorine) = &mut spec.feeders[1] {
        chlorine.catch_test_on_record = false;
    }
    let mut bench = unit(spec, SETTINGS);
    let proofs = InterlockSet::NONE
        .with(Interlock::FlowSwitch)
        .with(Interlock::LevelSwitch(1))
        .with(Interlock::Feedback(0));
    bench.inputs.care.unproven = Some(proofs);
    let needs = missing(&bench.act(REDUCED));
    let expected = StageNeeds {
        hours: 3,
        catch_tests: 0b10,
        // Feedback is seen only while a feeder feeds.
        proofs: proofs.without_feed(),
        ..StageNeeds::NOTHING
    };
    assert_eq!(needs, expected);
    assert_eq!(
        needs.to_string(),
        "missing for this stage: 3 more hours of sound flow and probes, a catch test of feeder 1, \
         a proof test of the flow switch, a proof test of the level switch of feeder 1"
    );
    let operator = bench.act_as(Authority::Operator, REDUCED).act;
    let technician = Some(ActResult::NeedsAuthority(Authority::Technician));
    assert_eq!(operator, technician, "before what is missing");
    bench.inputs.care.unproven = None;
    assert!(missing(&bench.act(REDUCED)).proofs_unknown);
    let mut bench = unit(SPEC, SETTINGS);
    assert!(!feeds(&mut bench, 3 * 3600));
    assert_eq!(
        missing(&bench.act(REDUCED)).hours,
        1,
        "flow had to be proven first"
    );
    bench.run(200);
    let by = |bench: &mut Bench, by, act| bench.act_as(by, act).act;
    let technician = Some(ActResult::NeedsAuthority(Authority::Technician));
    assert_eq!(by(&mut bench, Authority::Operator, REDUCED), technician);
    assert!(missing(&bench.act(FULL)).reduced_first);
    assert!(done(&bench.act(REDUCED)));
    assert_eq!(bench.controller.rung(), Rung::Reduced);
    assert!(told(&mut bench).contains(&EventKind::Observing { now: false }));
    assert!(feeds(&mut bench, 1200));
    assert_eq!(bench.controller.guard().state().stage, Stage::Reduced);
}

#[test]
fn only_time_with_sound_flow_and_probes_counts() {
    let mut bench = unit(SPEC, SETTINGS);
    let hours = |bench: &Bench| bench.controller.evidence().sound.hours();
    bench.inputs.facts.flow_switch.value = false;
    bench.inputs.facts.pump_run.value = false;
    bench.run(2 * 3600);
    bench.inputs.facts.flow_switch.value = true;
    bench.inputs.facts.pump_run.value = true;
    bench.inputs.facts.orp.health = crate::guard::Health::CheckFunction;
    bench.run(2 * 3600);
    assert_eq!(hours(&bench), 0);
    bench.water(7600, 650);
    bench.run(3600 + 100);
    assert_eq!(hours(&bench), 1);
}

/// In the reduced stage, long enough, without the kit's test.
fn nearly_full() -> Bench {
    let mut bench = unit(SPEC, SETTINGS);
    bench.run(3 * 3600 + 200);
    assert!(done(&bench.act(REDUCED)));
    bench.water(7400, 720);
    bench.run(5 * 3600 + 200);
    bench
}

#[test]
fn full_caps_need_a_kit_that_agrees() {
    let mut bench = nearly_full();
    let expected = StageNeeds {
        kit_test: true,
        ..StageNeeds::NOTHING
    };
    assert_eq!(missing(&bench.act(FULL)), expected);
    let shown = bench.act(Act::KitPh(MilliPh(7601)));
    assert_eq!(shown.act, Some(ActResult::KitDisagrees(MilliPh(7400))));
    assert_eq!(missing(&bench.act(FULL)), expected);
    let owner = bench.act_as(Authority::Owner, Act::KitPh(MilliPh(7600)));
    assert_eq!(
        owner.act,
        Some(ActResult::NeedsAuthority(Authority::Operator))
    );
    assert!(done(&bench.act(Act::KitPh(MilliPh(7600)))));
    assert!(done(&bench.act(FULL)));
    assert_eq!(bench.controller.rung(), Rung::Full);
    bench.inputs.facts.ph.health = crate::guard::Health::Failure;
    let shown = bench.act(Act::KitPh(MilliPh(7400)));
    assert_eq!(shown.act, Some(ActResult::ProbeNotTrusted));
}

#[test]
fn a_feedback_never_proved_or_a_lockout_keeps_from_full_caps() {
    let mut bench = nearly_full();
    assert!(done(&bench.act(Act::KitPh(MilliPh(7400)))));
    let feedback = InterlockSet::NONE.with(Interlock::Feedback(0));
    bench.inputs.care.unproven = Some(feedback);
    assert_eq!(missing(&bench.act(FULL)).proofs, feedback);
    bench.inputs.care.unproven = Some(InterlockSet::NONE);
    bench.inputs.facts.inhibits = Inhibits::EMERGENCY_STOP;
    bench.run(5);
    bench.inputs.facts.inhibits = Inhibits::NONE;
    bench.run(5);
    assert_eq!(
        missing(&bench.act(FULL)).hours,
        5,
        "a lockout begins it anew"
    );
    let release = Act::Guard(Action::Release {
        lockout: Lockout::EmergencyStop,
        feeder: 0,
        pool_empty: true,
        remedy: None,
    });
    assert!(done(&bench.act(release)));
    bench.run(5 * 3600 + 200);
    assert!(done(&bench.act(FULL)));
}

#[test]
fn whoever_runs_the_site_steps_down_at_once() {
    let mut bench = nearly_full();
    assert!(done(&bench.act(Act::KitPh(MilliPh(7400)))));
    assert!(done(&bench.act(FULL)));
    bench.water(7600, 650);
    bench.until(1200, |shown| shown.feeds(ACID) || shown.feeds(CHLORINE));
    let operator = Some(ActResult::NeedsAuthority(Authority::Operator));
    for down in [REDUCED, Act::Observe] {
        assert_eq!(bench.act_as(Authority::Owner, down).act, operator);
    }
    assert!(done(&bench.act_as(Authority::Operator, REDUCED)));
    assert_eq!(bench.controller.rung(), Rung::Reduced);
    assert!(
        missing(&bench.act(FULL)).hours > 0,
        "evidence is gathered anew"
    );
    let shown = bench.act_as(Authority::Operator, Act::Observe);
    assert!(done(&shown) && !shown.feeds(ACID) && !shown.feeds(CHLORINE));
    assert!(!feeds(&mut bench, 3600));
    let again = bench.act_as(Authority::Operator, Act::Observe);
    assert_eq!(again.act, Some(ActResult::AlreadySo));
    assert!(missing(&bench.act(REDUCED)).hours > 0);
}

#[test]
fn without_settings_the_guard_s_own_authority_decides_and_observing_still_leads_through_reduced() {
    let mut bench = unit(SPEC, CareSettings::NONE);
    assert_eq!(bench.controller.rung(), Rung::Reduced);
    let operator = bench.act_as(Authority::Operator, REDUCED);
    let technician = Some(ActResult::NeedsAuthority(Authority::Technician));
    assert_eq!(operator.act, technician);
    assert!(done(&bench.act(FULL)));
    assert!(done(&bench.act(Act::Observe)));
    assert!(missing(&bench.act(FULL)).reduced_first);
    assert!(done(&bench.act(REDUCED)) && done(&bench.act(FULL)));
}

#[test]
fn observing_and_its_evidence_outlive_a_restart() {
    let mut bench = unit(SPEC, SETTINGS);
    bench.run(3700);
    let kept = *bench.controller.restraints();
    assert!(kept.evidence.is_observing && kept.evidence.sound.hours() == 1);
    // Another controller, from the record that the first one saved.
    let mut bench = Bench::start(SPEC, regulators(), bench.copies.clone());
    bench.controller.set_care(SETTINGS);
    assert_ne!(bench.controller.rung(), Rung::ObserveOnly);
    bench.controller.set_restraints(kept);
    assert_eq!(bench.controller.rung(), Rung::ObserveOnly);
    assert!(!feeds(&mut bench, 900));
    assert!(core::mem::size_of::<Evidence>() <= 12);
    assert!(core::mem::size_of::<StageNeeds>() <= 16);
}

#[test]
fn an_unmet_demand_is_no_alarm_while_observing() {
    use crate::alarm::{AlarmId, AlarmState, FeederAlarm};
    let mut bench = unit(SPEC, SETTINGS);
    bench.run(5 * 3600);
    let unmet = AlarmId::Feeder(0, FeederAlarm::DemandUnmet);
    assert_eq!(bench.alarm(unmet), AlarmState::SuppressedByDesign);
}

#[test]
fn reduced_caps_are_the_share_that_the_limits_say() {
    let mut spec = SPEC;
    if let FeederLimits::Enabled(acid) = &mut spec.feeders[0] {
        acid.bodies[0].reduced_share = Percent(50);
    }
    let mut bench = unit(spec, SETTINGS);
    bench.run(3 * 3600 + 200);
    assert!(done(&bench.act(REDUCED)));
    bench.water(8000, 720);
    bench.until(1200, |shown| shown.feeds(ACID));
    let charged = bench.controller.guard().decision().feeders[ACID].charged;
    assert_eq!(charged, crate::guard::units::Dose(22_500));
}

#[test]
fn an_answer_that_is_wrong_or_missing_keeps_from_full_caps() {
    let bench = nearly_full();
    let guard = bench.controller.guard();
    let Fitted::Fitted(settings) = SETTINGS.stages else {
        panic!("no stages");
    };
    let response = |change: fn(&mut crate::guard::ResponseState)| {
        let mut state = *guard.state();
        change(&mut state.response[CHLORINE]);
        let scene = super::Scene {
            limits: guard.limits(),
            state: &state,
            water: crate::ask::Water {
                ph: None,
                orp: None,
            },
            care: &bench.inputs.care,
            rate_wrong: 0,
        };
        scene.missing(&settings, &Evidence::NONE).response
    };
    assert_eq!(response(|_| ()), 0);
    assert_eq!(response(|own| own.wrong = true), 0b10);
    assert_eq!(response(|own| own.unanswered = 1), 0b10);
}

#[test]
fn time_that_cannot_be_or_in_which_nothing_could_be_fed_earns_nothing() {
    let mut bench = unit(SPEC, SETTINGS);
    bench.run(3700);
    let hours = |bench: &Bench| bench.controller.evidence().sound.hours();
    assert_eq!(hours(&bench), 1);
    // The counter steps back by a second: seven weeks, as the clock sees it.
    bench.now_ms = bench.now_ms.wrapping_sub(2000);
    bench.run(10);
    assert_eq!(hours(&bench), 1);
    for inhibit in [Inhibits::SERVICE, Inhibits::BACKWASH] {
        bench.inputs.facts.inhibits = inhibit;
        bench.run(2 * 3600);
        bench.inputs.facts.inhibits = Inhibits::NONE;
    }
    assert!(done(&bench.act(Act::Pause(Millis(2 * 3_600_000)))));
    bench.now_ms = bench.now_ms.wrapping_sub(2000);
    bench.run(2 * 3600 - 60);
    assert!(
        bench.controller.restraints().paused.0 > 0,
        "no jump ends it"
    );
    assert_eq!(hours(&bench), 1);
    bench.run(2 * 3600);
    assert!(hours(&bench) >= 2);
}

#[test]
fn what_a_kit_agreed_with_is_gone_with_the_probe() {
    let mut bench = nearly_full();
    assert!(done(&bench.act(Act::KitPh(MilliPh(7400)))));
    assert!(bench.controller.evidence().kit_agreed);
    assert!(done(&bench.act(Act::Guard(Action::NewProbe))));
    assert!(!bench.controller.evidence().kit_agreed);
}
