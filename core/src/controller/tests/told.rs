//! What is told of records, lockouts, persons, drums and answers.

use super::*;
use crate::alarm::{AlarmId, AlarmState, SiteAlarm};

#[test]
fn a_record_that_is_not_read_back_is_begun_anew_past_its_time() {
    let mut bench = Bench::usual();
    bench.saves = false;
    bench.until(700, |shown| shown.save);
    let mut bytes = [0; crate::PoolController::<crate::regulate::Standard>::RECORD_LEN];
    bench.controller.seal_record(&mut bytes).unwrap();
    let begun = |bench: &Bench| {
        let mut events = bench.controller.events().iter();
        events.any(|event| event.kind == EventKind::SaveBegunAnew)
    };
    bench.run(SPEC.save_max.0 / 1000);
    assert!(!begun(&bench), "at its time");
    bench.run(1);
    assert!(begun(&bench));
}

#[test]
fn a_lockout_of_a_feeder_alone_is_told_as_it_comes_and_as_it_goes() {
    let mut bench = Bench::usual();
    let before = *bench.controller.guard().state();
    let mut locked = before;
    locked.feeder_lockouts[1] = locked.feeder_lockouts[1].with(Lockout::Drive);
    let (feeder, lockout) = (Some(1), Lockout::Drive);
    for (state, kind) in [
        (&locked, EventKind::LockedOut { feeder, lockout }),
        (&before, EventKind::Released { feeder, lockout }),
    ] {
        bench.controller.around.follow_lockouts(state);
        let last = bench
            .controller
            .events()
            .iter()
            .last()
            .map(|event| event.kind);
        assert_eq!(last, Some(kind));
        // What stands is told once.
        let count = bench.controller.events().iter().count();
        bench.controller.around.follow_lockouts(state);
        assert_eq!(bench.controller.events().iter().count(), count);
    }
}

#[test]
fn what_a_person_did_or_was_refused_is_told_so() {
    let mut bench = Bench::usual();
    for (time, done) in [(Millis(5000), true), (Millis(0), false)] {
        bench.act(Act::Pause(time));
        let person = EventKind::Person {
            by: Authority::Technician,
            act: crate::ActKind::Pause,
            done,
        };
        let mut events = bench.controller.events().iter();
        assert!(events.any(|event| event.kind == person), "{done}");
    }
}

#[test]
fn a_full_drum_is_no_more_than_a_drum_and_a_feeder_that_is_not_used_feeds_nothing_by_hand() {
    let mut bench = Bench::usual();
    let level = |level| Act::ReadLevel { feeder: 0, level };
    let Fitted::Fitted(drum) = SETTINGS_SPEC.drums[0] else {
        panic!("fitted");
    };
    assert_eq!(bench.act(level(drum.size)).act, Some(ActResult::Done));
    let more = bench.act(level(Dose(drum.size.0 + 1))).act;
    assert_eq!(more, Some(ActResult::MoreThanDrum(drum.size)));
    let spec = LimitsSpec {
        feeders: [SPEC.feeders[0], FeederLimits::Disabled],
        ..SPEC
    };
    let mut bench = Bench::begun(spec, regulators());
    assert_eq!(bench.act(by_hand(1, 20)).act, Some(ActResult::NoSuchFeeder));
}

#[test]
fn a_reading_is_failing_past_its_age_and_not_at_it() {
    let age_max = SPEC.probe_age_max;
    let mut bench = Bench::usual();
    let state = |bench: &Bench| {
        [SiteAlarm::PhStatus, SiteAlarm::OrpStatus].map(|alarm| bench.alarm(AlarmId::Site(alarm)))
    };
    bench.inputs.facts.ph.age = age_max;
    bench.inputs.facts.orp.age = age_max;
    bench.run(400);
    assert_eq!(state(&bench), [AlarmState::Normal; 2]);
    bench.inputs.facts.ph.age.0 += 1;
    bench.inputs.facts.orp.age.0 += 1;
    bench.run(400);
    assert_eq!(state(&bench), [AlarmState::Unacknowledged; 2]);
}

#[test]
fn a_new_unit_and_a_release_of_a_rate_begin_anew_what_was_found() {
    let mut bench = Bench::usual();
    let spec = crate::settings::SettingsSpec {
        response: Fitted::Fitted(super::answers::EXPECTED),
        ..SETTINGS_SPEC
    };
    bench
        .controller
        .set_settings(Settings::try_new(spec).unwrap());
    let figures = serde_json::json!({
        "ratio": 2000, "variance": 100, "doses": 9, "odd": 0,
        "verdict": "high", "learned": 2000, "step": 1000,
    });
    let found: crate::response::Estimate = serde_json::from_value(figures).unwrap();
    for (lockout, stays) in [
        (Lockout::Response, false),
        (Lockout::Drive, false),
        (Lockout::RunTime, false),
        (Lockout::Witnesses, true),
    ] {
        assert!(bench.controller.set_response(0, found));
        bench.controller.around.note_guard_act(&Action::Release {
            lockout,
            feeder: 0,
            pool_empty: false,
            remedy: None,
        });
        assert_eq!(
            bench.controller.response(0) == Some(found),
            stays,
            "{lockout:?}"
        );
    }
    bench.controller.around.restraints.evidence.kit_agreed = true;
    bench.controller.around.note_guard_act(&Action::Initialise);
    assert!(!bench.controller.evidence().kit_agreed);
}

#[test]
fn a_level_that_says_nothing_of_a_rate_leaves_what_the_last_one_said() {
    use crate::stock::{DrumVerdict, Reconciled};
    let mut bench = Bench::usual();
    let spec = crate::settings::SettingsSpec {
        level_errors: [Fitted::Fitted(Dose::from_ml(100)); 2],
        ..SETTINGS_SPEC
    };
    bench
        .controller
        .set_settings(Settings::try_new(spec).unwrap());
    let mut after = |real_ml, booked_ml, ratio_percent| {
        bench.controller.set_drum_verdict(0, DrumVerdict::Low);
        let found = Reconciled {
            real: Dose::from_ml(real_ml),
            booked: Dose::from_ml(booked_ml),
            ratio_percent,
        };
        bench.controller.around.note_level(0, &found);
        bench.controller.drum_verdict(0)
    };
    assert_eq!(after(10_000, 10_000, Some(100)), DrumVerdict::AsConfigured);
    assert_eq!(
        after(20, 10, Some(200)),
        DrumVerdict::Low,
        "within the readings"
    );
    assert_eq!(after(1000, 0, None), DrumVerdict::Low, "nothing was fed");
}
