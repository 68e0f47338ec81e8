//! A winter and an opening, at a controller in full health.

use std::string::ToString;

use super::*;
use crate::alarm::{AlarmId, AlarmState, FeederAlarm, SiteAlarm};
use crate::bench::{ACID, Bench, CHLORINE, SPEC, regulators};
use crate::guard::units::{Fitted, Millis};
use crate::guard::{FeederLimits, Limits, LimitsSpec, Lockout, LockoutSet};
use crate::probe::{MicrogramsPerL, ProbeKind};
use crate::proof::{Interlock, ProofEnd, ProofTests, Proofs};
use crate::stages::{Rung, StageSettings};
use crate::store::KeptRecord;
use crate::upkeep::{Kept, Upkeep};
use crate::{Act, Care, CareSettings};

const HYPOCHLORITE: usize = 1;
const SETTINGS: CareSettings = CareSettings {
    stages: Fitted::Fitted(StageSettings {
        begins_observing: false,
        observe_hours: 3,
        reduced_hours: 5,
    }),
    cold_below: Fitted::NotFitted,
};
const STRONG: Act = Act::Strength {
    feeder: HYPOCHLORITE,
    percent: 100,
};

fn care(unproven: InterlockSet) -> Care {
    Care {
        unproven: Some(unproven),
        ..Care::UNKNOWN
    }
}

/// A unit of such a site in full caps, with the water asking for both products.
fn wanting(settings: CareSettings) -> Bench {
    let mut bench = Bench::usual();
    bench.controller.set_care(settings);
    bench.inputs.care = care(InterlockSet::NONE);
    bench.water(7800, 600);
    bench
}

fn feeds(bench: &mut Bench, secs: u32) -> bool {
    (0..secs).fold(false, |fed, _| {
        let shown = bench.tick();
        fed | shown.feeds(0) | shown.feeds(1)
    })
}

fn needs(bench: &mut Bench) -> OpeningNeeds {
    match bench.act(Act::OpenUp).act {
        Some(ActResult::OpeningNeeds(needs)) => needs,
        other => panic!("{other:?}"),
    }
}

fn enter(bench: &mut Bench, act: UpkeepAct, calibrated: bool) {
    bench.controller.around.note_for_opening(&act, calibrated);
}

fn test(value: TestedValue) -> UpkeepAct {
    UpkeepAct::Test(value, MicrogramsPerL::from_mg_l(30))
}

fn proofs() -> ProofTests<2> {
    ProofTests::restore(Proofs::NEVER)
}

fn watch(bench: &mut Bench, tests: &mut ProofTests<2>) {
    let inputs = bench.inputs;
    bench.controller.watch_proof(tests, Millis(1000), &inputs);
}

#[test]
fn a_site_owes_what_its_feeders_and_probes_make_of_it() {
    let of = |change: fn(&mut LimitsSpec<2, 1>)| {
        let mut spec = SPEC;
        change(&mut spec);
        Owed::of(&Limits::try_new(spec).unwrap())
    };
    let all = of(|_| {});
    let both = TestedSet::NONE
        .with(TestedValue::Alkalinity)
        .with(TestedValue::Cyanurate);
    assert_eq!((all.tests, all.slope, all.drums), (both, true, 0b10));
    let acid = of(|spec| {
        spec.feeders[1] = FeederLimits::Disabled;
        spec.orp_probe = Fitted::NotFitted;
    });
    let one = TestedSet::NONE.with(TestedValue::Alkalinity);
    assert_eq!((acid.tests, acid.drums), (one, 0));
    let salt = of(|spec| {
        let mut cell = CHLORINE;
        cell.product = Product::GeneratedChlorine;
        cell.cell_flow_switch = Fitted::YES;
        spec.feeders[1] = FeederLimits::Enabled(cell);
    });
    let three = both.with(TestedValue::Salt);
    assert_eq!((salt.tests, salt.drums), (three, 0));
    assert!(ACID.product == Product::Acid && !all.is_nothing());
}

#[test]
fn a_site_that_asks_for_evidence_opens_in_two_steps_into_the_reduced_stage() {
    let mut bench = wanting(SETTINGS);
    assert!(feeds(&mut bench, 1200));
    bench.act(Act::LayUp);
    // Tests of the autumn count for nothing.
    for value in TestedValue::ALL {
        enter(&mut bench, test(value), true);
    }
    bench.act(STRONG);
    assert!(!feeds(&mut bench, 7200));
    let first = needs(&mut bench);
    assert_eq!(first.owed, Owed::of(bench.controller.guard().limits()));
    let mut tests = proofs();
    watch(&mut bench, &mut tests);
    // Each is asked for until it is there.
    enter(&mut bench, test(TestedValue::Alkalinity), false);
    assert!(!needs(&mut bench).owed.tests.has(TestedValue::Alkalinity));
    enter(&mut bench, test(TestedValue::Cyanurate), false);
    let left = needs(&mut bench).owed;
    assert_eq!(
        (left.tests, left.slope, left.drums),
        (TestedSet::NONE, true, 0b10)
    );
    enter(&mut bench, UpkeepAct::TakeOut(ProbeKind::Ph), true);
    assert!(!needs(&mut bench).owed.slope);
    bench.inputs.care = care(InterlockSet::NONE.with(Interlock::FlowSwitch));
    assert_eq!(bench.act(STRONG).act, Some(ActResult::Done));
    let last = needs(&mut bench);
    assert!(last.owed.is_nothing() && last.proofs.has(Interlock::FlowSwitch));
    assert!(!feeds(&mut bench, 3600), "not before the second step");
    // One that needs feed is for later.
    bench.inputs.care = care(InterlockSet::NONE.with(Interlock::Feedback(0)));
    assert_eq!(bench.controller.rung(), Rung::Full, "as before the winter");
    assert_eq!(bench.act(Act::OpenUp).act, Some(ActResult::Done));
    assert_eq!(bench.controller.rung(), Rung::Reduced);
    assert!(bench.controller.evidence().sound.hours() == 0 && feeds(&mut bench, 1800));
    assert_eq!(bench.act(Act::OpenUp).act, Some(ActResult::AlreadySo));
    assert_eq!(bench.act(Act::LayUp).act, Some(ActResult::Done));
    assert_eq!(needs(&mut bench).owed, first.owed, "each winter anew");
}

#[test]
fn an_opening_makes_every_proof_test_due_anew() {
    let mut bench = wanting(SETTINGS);
    bench.act(Act::LayUp);
    let mut all = Proofs::<2>::NEVER;
    all.end(
        Interlock::FlowSwitch,
        ProofEnd::Passed {
            took_ms: 9,
            fed: false,
        },
    );
    all.end(Interlock::PumpContact, ProofEnd::FedOn);
    let mut tests = ProofTests::restore(all);
    watch(&mut bench, &mut tests);
    let took = tests.proofs().of(Interlock::FlowSwitch).took_ms();
    assert_eq!(took, Some(9), "not while it is laid up");
    needs(&mut bench);
    enter_all(&mut bench);
    let still = needs(&mut bench);
    assert!(
        still.is_nothing(),
        "asked for, and the tests are not due yet: {still}"
    );
    watch(&mut bench, &mut tests);
    assert_eq!(tests.proofs().of(Interlock::FlowSwitch).took_ms(), None);
    assert!(tests.proofs().of(Interlock::PumpContact).has_failed());
    bench.inputs.care = Care::UNKNOWN;
    assert!(needs(&mut bench).proofs_unknown);
}

fn enter_all(bench: &mut Bench) {
    for value in TestedValue::ALL {
        enter(bench, test(value), true);
    }
    bench.act(STRONG);
}

#[test]
fn an_opening_outlives_the_power_and_observing_stays() {
    let mut bench = wanting(SETTINGS);
    bench.act(Act::Observe);
    bench.act(Act::LayUp);
    needs(&mut bench);
    let owed = bench.controller.opening();
    let kept = KeptRecord::of(
        &bench.controller,
        &Upkeep::restore(Kept::NOTHING),
        &proofs(),
    );
    let mut bytes = [0; 512];
    let length = kept.encode(&mut bytes).unwrap();
    let kept = KeptRecord::<2>::decode(&bytes[..length]).unwrap();
    let mut bench = Bench::start(SPEC, regulators(), bench.copies.clone());
    bench.controller.set_care(SETTINGS);
    kept.put_back(&mut bench.controller);
    assert_eq!(owed.step, OpeningStep::Begun);
    assert_eq!(bench.controller.opening(), owed);
    watch(&mut bench, &mut proofs());
    enter_all(&mut bench);
    bench.inputs.care = care(InterlockSet::NONE);
    assert_eq!(bench.act(Act::OpenUp).act, Some(ActResult::Done));
    assert_eq!(bench.controller.rung(), Rung::ObserveOnly);
}

#[test]
fn a_site_that_asks_for_nothing_is_opened_at_once() {
    let mut bench = wanting(CareSettings::NONE);
    bench.act(Act::LayUp);
    assert_eq!(bench.act(Act::OpenUp).act, Some(ActResult::Done));
    assert!(feeds(&mut bench, 1800) && bench.controller.rung() == Rung::Full);
}

#[test]
fn a_weak_drum_is_refused_and_a_lockout_stands_through_an_opening() {
    let mut bench = wanting(SETTINGS);
    let strength = |feeder, percent| Act::Strength { feeder, percent };
    let out = ActResult::StrengthOut { min: 70, max: 110 };
    for percent in [0, 50, 69, 111, 255] {
        assert_eq!(bench.act(strength(1, percent)).act, Some(out), "{percent}");
    }
    for percent in [70, 110] {
        assert_eq!(bench.act(strength(1, percent)).act, Some(ActResult::Done));
    }
    for feeder in [0, 2] {
        let told = bench.act(strength(feeder, 100)).act;
        assert_eq!(told, Some(ActResult::NoSuchFeeder), "{feeder}");
    }
    let owner = bench.act_as(Authority::Owner, STRONG).act;
    assert_eq!(owner, Some(ActResult::NeedsAuthority(Authority::Operator)));
    bench.inputs.facts.inhibits = crate::guard::Inhibits::EMERGENCY_STOP;
    bench.tick();
    bench.inputs.facts.inhibits = crate::guard::Inhibits::NONE;
    bench.act(Act::LayUp);
    needs(&mut bench);
    watch(&mut bench, &mut proofs());
    enter_all(&mut bench);
    assert_eq!(bench.act(Act::OpenUp).act, Some(ActResult::Done));
    let stands = bench.controller.guard().state().site_lockouts;
    assert_eq!(stands, LockoutSet::NONE.with(Lockout::EmergencyStop));
}

#[test]
fn in_winter_runs_against_frost_raise_no_alarm_but_those_of_the_plant() {
    let mut bench = wanting(SETTINGS);
    bench.act(Act::LayUp);
    let hour = |bench: &mut Bench, flows: bool| {
        bench.inputs.facts.flow_switch.value = flows;
        bench.inputs.facts.pump_run.value = flows;
        assert!(!feeds(bench, 3600));
    };
    // Probes out in their caps, old tests, water that wants acid and chlorine; the pump runs each
    // second hour.
    bench.water(8500, 300);
    bench.inputs.facts.orp.health = crate::guard::Health::CheckFunction;
    bench.act(Act::AcknowledgeAll);
    bench.inputs.care = Care {
        overdue: TestedSet::NONE.with(TestedValue::Alkalinity),
        ..care(InterlockSet::NONE.with(Interlock::FlowSwitch))
    };
    for turn in 0..12 {
        hour(&mut bench, turn % 2 == 0);
    }
    let alarms = bench.controller.alarms();
    let standing: std::vec::Vec<_> = alarms
        .listed()
        .filter(|(_, alarm)| alarm.calls())
        .map(|(id, _)| id)
        .collect();
    assert_eq!(standing, []);
    let unmet = AlarmId::Feeder(0, FeederAlarm::DemandUnmet);
    assert_eq!(bench.alarm(unmet), AlarmState::SuppressedByDesign);
    for id in [
        SiteAlarm::TestOverdue,
        SiteAlarm::ProofOverdue,
        SiteAlarm::OrpStatus,
    ] {
        assert_eq!(
            bench.alarm(AlarmId::Site(id)),
            AlarmState::SuppressedByDesign,
            "{id:?}"
        );
    }
    // A pump that moves no water is an alarm in winter too: pipes freeze.
    bench.inputs.facts.flow_switch.value = false;
    bench.inputs.facts.pump_run.value = true;
    bench.run(3600);
    let dry = AlarmId::Site(SiteAlarm::PumpWithoutFlow);
    assert_eq!(bench.alarm(dry), AlarmState::Unacknowledged);
}

#[test]
fn what_is_missing_is_said_in_one_sentence() {
    let needs = OpeningNeeds {
        owed: Owed {
            tests: TestedSet::NONE.with(TestedValue::Salt),
            slope: true,
            drums: 0b10,
        },
        proofs_unknown: true,
        proofs: InterlockSet::NONE.with(Interlock::LevelSwitch(1)),
    };
    assert_eq!(
        needs.to_string(),
        "missing before it opens: a test of salt, the slope of the pH probe by two buffers, the \
         strength of what is in the drum of feeder 1, proof tests, of which nothing is known, a \
         proof test of the level switch of feeder 1, then open it once more"
    );
}
