//! What is kept over a restart, told when it is lost, and not put back under other settings.

use super::*;
use crate::CareSettings;
use crate::alarm::{AlarmId, AlarmState, SiteAlarm};
use crate::care::TEMPERATURE_AGE_MAX;
use crate::guard::units::Body;
use crate::guard::{Reading, Record, Stage};
use crate::probe::CentiCelsius;
use crate::proof::{ProofTests, Proofs};
use crate::regulate::{Allowance, CureSchedule, Direction, SizedDose, Standard};
use crate::response::{Estimate, ExpectedResponse};
use crate::stock::DrumVerdict;
use crate::store::{KeptError, KeptRecord};
use crate::upkeep::{Kept, Upkeep};

type All = KeptRecord<2>;

const LOST: AlarmId = AlarmId::Site(SiteAlarm::KeptLost);
const STATUS: AlarmId = AlarmId::Site(SiteAlarm::PhStatus);
const COLD: CareSettings = CareSettings {
    cold_below: Fitted::Fitted(CentiCelsius::from_whole(10)),
    ..CareSettings::NONE
};

const EXPECTED: ExpectedResponse = ExpectedResponse {
    water: Fitted::NotFitted,
    ..super::answers::EXPECTED
};

fn settings(change: impl Fn(&mut ExpectedResponse), level_ml: u32) -> Settings<2> {
    let mut expected = EXPECTED;
    change(&mut expected);
    let spec = crate::settings::SettingsSpec {
        level_errors: [Fitted::Fitted(Dose::from_ml(level_ml)); 2],
        response: Fitted::Fitted(expected),
        ..SETTINGS_SPEC
    };
    Settings::try_new(spec).unwrap()
}

fn limits(rate_ml: u32) -> Limits<2, 1> {
    let mut spec: LimitsSpec<2, 1> = SPEC;
    let mut acid = ACID;
    acid.rate = crate::guard::units::Rate::from_ml_per_min(rate_ml);
    spec.feeders[0] = FeederLimits::Enabled(acid);
    Limits::try_new(spec).unwrap()
}

fn kept(bench: &Bench) -> All {
    let upkeep = Upkeep::restore(Kept::NOTHING);
    let proofs = ProofTests::restore(Proofs::NEVER);
    let now = All::of(&bench.controller, &upkeep, &proofs);
    // As it comes back from the flash.
    let mut bytes = [0; 512];
    let length = now.encode(&mut bytes).unwrap();
    assert_eq!(All::decode(&bytes[..length]), Ok(now.clone()));
    now
}

/// Another controller, after the power was off.
fn restarted(limits: Limits<2, 1>, settings: Settings<2>, all: &All) -> crate::PoolController {
    let none: Option<&Record<2, 1, 7, 25>> = None;
    let mut controller =
        crate::PoolController::restore(limits, settings, regulators(), none, none).0;
    all.put_back(&mut controller);
    controller
}

/// Takes the events out: how many are such.
fn told(bench: &mut Bench, such: impl Fn(&EventKind) -> bool) -> usize {
    let mut count = 0;
    while let Some(event) = bench.controller.events_mut().take_oldest() {
        count += usize::from(such(&event.kind));
    }
    count
}

#[test]
fn a_lost_record_is_told_until_a_technician_ends_the_observing() {
    let mut bench = Bench::usual();
    All::NEW.put_back(&mut bench.controller);
    bench.run(10);
    assert_eq!(bench.alarm(LOST), AlarmState::Normal, "a new unit");
    assert_eq!(told(&mut bench, |one| *one == EventKind::KeptLost), 0);
    All::to_start(Err(KeptError::NotWhole), false).put_back(&mut bench.controller);
    bench.run(2);
    assert_eq!(bench.alarm(LOST), AlarmState::Unacknowledged);
    assert_eq!(told(&mut bench, |one| *one == EventKind::KeptLost), 1);
    // Through a restart too: it is kept that it is lost.
    let all = kept(&bench);
    assert!(all.is_lost);
    let mut bench = Bench::usual();
    all.put_back(&mut bench.controller);
    bench.run(2);
    assert_eq!(bench.alarm(LOST), AlarmState::Unacknowledged);
    bench.act(Act::AcknowledgeAll);
    bench.run(2);
    assert_eq!(bench.alarm(LOST), AlarmState::Acknowledged, "it stands");
    let reduced = Act::Guard(Action::SetStage(Stage::Reduced));
    assert_eq!(bench.act(reduced).act, Some(ActResult::Done));
    bench.run(2);
    assert_eq!(bench.alarm(LOST), AlarmState::Normal);
    assert!(!kept(&bench).is_lost);
    assert_eq!(bench.act(Act::Observe).act, Some(ActResult::Done));
    bench.run(2);
    assert_eq!(bench.alarm(LOST), AlarmState::Normal, "another observing");
    assert!(!kept(&bench).is_lost);
}

#[test]
fn a_hold_of_cold_water_outlives_the_power() {
    let mut bench = Bench::usual();
    bench.controller.set_care(COLD);
    bench.inputs.care.temperature = Reading::now(CentiCelsius(900));
    bench.run(2);
    let all = kept(&bench);
    assert!(all.is_too_cold);
    for (is_fitted, cold) in [(true, true), (false, false)] {
        let mut bench = Bench::usual();
        all.put_back(&mut bench.controller);
        if is_fitted {
            bench.controller.set_care(COLD);
        }
        let fed = (0..900).any(|_| bench.tick().feeds(0));
        assert_eq!(fed, !cold, "no temperature has come yet");
        bench.inputs.care.temperature = Reading::now(CentiCelsius(1100));
        assert!((0..900).any(|_| bench.tick().feeds(0)), "warm enough");
        assert!(!kept(&bench).is_too_cold);
    }
}

#[test]
fn a_temperature_that_is_not_there_is_told_where_cold_water_holds_feed() {
    let mut bench = Bench::usual();
    let lost = |now| move |one: &EventKind| *one == EventKind::TemperatureLost { now };
    bench.run(900);
    assert_eq!(bench.alarm(STATUS), AlarmState::Normal, "no hold is fitted");
    bench.controller.set_care(COLD);
    bench.inputs.care.temperature = Reading::now(CentiCelsius(2000));
    bench.run(900);
    assert_eq!(bench.alarm(STATUS), AlarmState::Normal);
    assert_eq!(told(&mut bench, lost(true)), 0);
    bench.inputs.care.temperature.age = Millis(TEMPERATURE_AGE_MAX.0 + 1);
    bench.run(2);
    assert_eq!(told(&mut bench, lost(true)), 1);
    bench.run(301);
    assert_eq!(bench.alarm(STATUS), AlarmState::Unacknowledged);
    bench.inputs.care.temperature.age = TEMPERATURE_AGE_MAX;
    bench.run(62);
    assert_eq!(bench.alarm(STATUS), AlarmState::ReturnedUnacknowledged);
    assert_eq!(told(&mut bench, lost(false)), 1);
}

#[test]
fn what_was_found_under_other_settings_begins_anew() {
    let mut bench = Bench::usual();
    let own = settings(|_| {}, 10);
    bench.controller.set_settings(own);
    let found = Estimate::UNKNOWN;
    bench.controller.set_response(0, found);
    bench.controller.set_drum_verdict(0, DrumVerdict::High);
    let mut all = kept(&bench);
    // One that is not what a controller begins with.
    let figures = serde_json::json!({
        "ratio": 2000, "variance": 100, "doses": 9, "odd": 0,
        "verdict": "high", "learned": 2000, "step": 1000,
    });
    let learned: Estimate = serde_json::from_value(figures).unwrap();
    all.answers[0].as_mut().unwrap().found = learned;
    let after = |rate, settings: Settings<2>| {
        let controller = restarted(limits(rate), settings, &all);
        let answers = controller.response(0) == Some(learned);
        (answers, controller.drum_verdict(0) == DrumVerdict::High)
    };
    assert_eq!(after(30, own), (true, true), "the same");
    assert_eq!(after(31, own), (false, false), "another rate");
    let moves = settings(|expected| expected.moves += 1, 10);
    assert_eq!(after(30, moves), (false, true), "another expectation");
    assert_eq!(after(30, settings(|_| {}, 11)), (true, false), "and level");
}

#[test]
fn a_verdict_of_a_drum_that_settings_or_limits_drop_is_told() {
    let mut bench = Bench::usual();
    bench.water(7400, 720); // nothing is wanted, no cycle stands
    bench.controller.set_settings(settings(|_| {}, 10));
    bench.run(900);
    let dropped = |one: &EventKind| {
        *one == EventKind::DrumSays {
            feeder: 0,
            verdict: DrumVerdict::Unclear,
        }
    };
    bench.controller.set_drum_verdict(0, DrumVerdict::High);
    bench
        .controller
        .set_settings(settings(|one| one.moves += 1, 10));
    assert_eq!(bench.controller.drum_verdict(0), DrumVerdict::High);
    assert_eq!(told(&mut bench, dropped), 0);
    bench.controller.set_settings(settings(|_| {}, 11));
    assert_eq!(bench.controller.drum_verdict(0), DrumVerdict::Unclear);
    assert_eq!(told(&mut bench, dropped), 1);
    bench.controller.set_drum_verdict(0, DrumVerdict::Low);
    assert_eq!(bench.controller.set_limits(limits(30)), SetLimits::Applied);
    assert_eq!(told(&mut bench, dropped), 1);
}

#[test]
fn a_cure_goes_on_where_it_stood() {
    let cure = |usual_ml, age_days| {
        let sized = SizedDose::try_new(Direction::Lowers, 7400, 50, Dose::from_ml(60), 100);
        let allowance = Allowance {
            usual: Dose::from_ml(usual_ml),
            first_day: Dose::from_ml(380),
            ceiling: Dose::from_ml(400),
            days: 28,
        };
        CureSchedule::try_new(sized.unwrap(), allowance, age_days).unwrap()
    };
    let own = |bench: &Bench| match bench.controller.regulators()[0] {
        Standard::CureSchedule(cure) => cure,
        _ => panic!("another regulator"),
    };
    let with = |one: CureSchedule| Bench::ready(SPEC, [one.into(), regulators()[1]]);
    let mut bench = with(cure(100, 3));
    bench.run(26 * 3600);
    let (then, all) = (own(&bench), kept(&bench));
    assert_eq!(then.age_days(), 4);
    assert!(then.left() < then.today(), "some of the day's is fed");
    let mut again = with(cure(100, 3));
    all.put_back(&mut again.controller);
    assert_eq!(own(&again).age_days(), 4);
    assert_eq!(own(&again).left(), then.left(), "and no more of the day's");
    for other in [cure(101, 3), cure(100, 0)] {
        let mut again = with(other);
        let fresh = own(&again);
        all.put_back(&mut again.controller);
        assert_eq!(own(&again), fresh, "another plaster");
    }
}

#[test]
fn a_dose_by_hand_that_is_put_back_keeps_its_body_if_the_site_has_it() {
    let mut bench = Bench::usual();
    for (kept, counts_in) in [(0, Some(Body(0))), (1, None), (200, None)] {
        let mut restraints = *bench.controller.restraints();
        restraints.by_hand[0].body = Some(Body(kept));
        bench.controller.set_restraints(restraints);
        let by_hand = bench.controller.restraints().by_hand[0];
        assert_eq!(by_hand.body, counts_in);
    }
}
