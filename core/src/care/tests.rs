//! Overdue tests, cold water, prime, limits.

use super::*;
use crate::alarm::{AlarmId, AlarmState, FeederAlarm, SiteAlarm};
use crate::bench::{ACID, Bench, SPEC, Shown, regulators};
use crate::event::EventKind;
use crate::guard::units::Percent;
use crate::guard::{Authority, FeederLimits, Limits, LimitsSpec};
use crate::water_tests::TestedValue;
use crate::{Act, ActResult, LimitsRefused};

fn charged(bench: &mut Bench, feeder: usize) -> Dose {
    bench.until(3600, |shown| shown.feeds(feeder));
    bench.controller.guard().decision().feeders[feeder].charged
}

fn overdue(value: TestedValue) -> Care {
    Care {
        overdue: TestedSet::NONE.with(value),
        ..Care::UNKNOWN
    }
}

#[test]
fn an_overdue_test_of_the_buffer_halves_acid_and_leaves_chlorine() {
    for (value, acid_ul) in [
        (TestedValue::Alkalinity, 22_500),
        (TestedValue::Cyanurate, 22_500),
        (TestedValue::Borate, 22_500),
        (TestedValue::Salt, 45_000),
    ] {
        let mut bench = Bench::usual();
        bench.water(7850, 600);
        bench.inputs.care = overdue(value);
        assert_eq!(charged(&mut bench, 0), Dose(acid_ul), "{value:?}");
        assert_eq!(charged(&mut bench, 1), Dose(60_000), "{value:?}");
        let alarm = AlarmId::Site(SiteAlarm::TestOverdue);
        assert_eq!(bench.alarm(alarm), AlarmState::Unacknowledged);
        bench.inputs.care = Care::UNKNOWN;
        bench.run(2);
        assert_eq!(bench.alarm(alarm), AlarmState::ReturnedUnacknowledged);
    }
}

#[test]
fn slices_do_not_make_up_for_what_was_cut() {
    let mut spec = SPEC;
    if let FeederLimits::Enabled(acid) = &mut spec.feeders[0] {
        acid.slice_max = Dose::from_ml(12);
    }
    let mut bench = Bench::ready(spec, regulators());
    bench.water(8000, 720);
    bench.inputs.care = overdue(TestedValue::Alkalinity);
    bench.until(600, |shown| shown.feeds(0));
    let mut fed = Dose(0);
    for _ in 0..300 {
        if let Some(closed) = bench.tick().decision.feeders[0].closed {
            fed = closed.fed;
        }
    }
    assert!(fed > Dose(0) && fed <= Dose(22_500), "{fed:?}");
}

#[test]
fn what_is_cut_is_still_a_dose_and_never_more_than_was_asked_for() {
    let care = overdue(TestedValue::Alkalinity);
    let cut = |cap, least, dose| {
        let amounts = (Dose(cap), Dose(least));
        care.cut(Product::Acid, Mode::Automatic, amounts, Dose(dose))
            .0
    };
    assert_eq!(
        [cut(100, 5, 80), cut(100, 5, 30), cut(100, 70, 80)],
        [50, 30, 70]
    );
    assert_eq!(cut(100, 70, 60), 60, "never raised");
    let by_hand = care.cut(Product::Acid, Mode::Manual, (Dose(100), Dose(5)), Dose(80));
    assert_eq!(by_hand, Dose(80));
}

const COLD: CareSettings = CareSettings {
    cold_below: Fitted::Fitted(CentiCelsius::from_whole(10)),
    ..CareSettings::NONE
};

#[test]
fn cold_water_is_not_fed_until_it_is_a_degree_warmer() {
    let mut bench = Bench::usual();
    bench.controller.set_care(COLD);
    let mut told = 0;
    let mut at = |bench: &mut Bench, hundredths: i32| {
        bench.inputs.care.temperature = Reading::now(CentiCelsius(hundredths));
        let mut fed = false;
        for _ in 0..900 {
            let shown = bench.tick();
            fed |= shown.feeds(0) || shown.feeds(1);
            while let Some(event) = bench.controller.events_mut().take_oldest() {
                told += u32::from(matches!(event.kind, EventKind::TooCold { .. }));
            }
        }
        fed
    };
    assert!(at(&mut bench, 1000));
    assert!(!at(&mut bench, 999));
    assert!(!at(&mut bench, 1099));
    // A sensor that fails leaves it as it was.
    bench.inputs.care.temperature = Reading {
        age: Millis(TEMPERATURE_AGE_MAX.0 + 1),
        ..Reading::now(CentiCelsius(2000))
    };
    assert!(!(0..900).any(|_| bench.tick().feeds(0)));
    assert!(at(&mut bench, 1100));
    bench.inputs.care.temperature = Reading::unknown(CentiCelsius(0));
    assert!(
        (0..900).any(|_| bench.tick().feeds(0)),
        "and warm stays warm"
    );
    assert_eq!(told, 2);
}

const UNMET: [AlarmId; 2] = [
    AlarmId::Feeder(0, FeederAlarm::DemandUnmet),
    AlarmId::Feeder(1, FeederAlarm::DemandUnmet),
];

/// Water that wants both, at a site where cold water is not fed, and how many hours of pump until it is told
/// that neither is; the water's temperature is given for each hour, `None`: no sensor. It is told after 4 h.
fn unmet_after(hours: &[Option<i32>], inhibits: Inhibits) -> [Option<usize>; 2] {
    let mut bench = Bench::usual();
    bench.controller.set_care(COLD);
    bench.water(8000, 500);
    bench.inputs.facts.inhibits = inhibits;
    let mut told = [None; 2];
    for (hour, celsius) in hours.iter().enumerate() {
        bench.inputs.care.temperature = celsius
            .map_or(Reading::unknown(CentiCelsius(0)), |celsius| {
                Reading::now(CentiCelsius::from_whole(celsius))
            });
        bench.run(3600);
        for (told, id) in told.iter_mut().zip(UNMET) {
            if bench.alarm(id) == AlarmState::Unacknowledged {
                *told = told.or(Some(hour + 1));
            }
        }
    }
    told
}

#[test]
fn a_run_against_frost_at_a_site_that_is_not_laid_up_is_no_demand() {
    let (cold, warm, lost) = (Some(FROST_BELOW.0 / 100 - 1), Some(20), None);
    let told = |hours: &[Option<i32>]| unmet_after(hours, Inhibits::NONE);
    assert_eq!(told(&[cold; 24]), [None; 2]);
    // Too cold to be fed and far from freezing: somebody may bathe, and is to be told.
    assert_eq!(told(&[Some(FROST_BELOW.0 / 100); 6]), [Some(4); 2]);
    // What is held for another reason in warm water is one, and time in the cold does not count towards it.
    let paused = |hours: &[Option<i32>]| unmet_after(hours, Inhibits::PAUSED);
    assert_eq!(paused(&[warm; 6]), [Some(4); 2]);
    let mixed = [warm, warm, cold, cold, cold, cold, cold, warm, warm, warm];
    assert_eq!(paused(&mixed), [Some(9); 2]);
    // Cold by the last that was known holds feed, and a sensor that is lost does not hide the demand.
    assert_eq!(told(&[cold, lost, lost, lost, lost, lost]), [Some(5); 2]);
    // Nor does one that reads what no water is.
    let (coldest, cut) = (Some(COLDEST.0 / 100), Some(COLDEST.0 / 100 - 1));
    assert_eq!(told(&[coldest; 24]), [None; 2]);
    assert_eq!(told(&[cold, cut, cut, cut, cut, cut]), [Some(5); 2]);
}

#[test]
fn a_winter_is_no_demand_once_the_site_is_open_again() {
    let mut bench = Bench::usual();
    bench.water(8000, 500);
    bench.inputs.facts.inhibits = Inhibits::LAID_UP;
    bench.run(24 * 3600);
    bench.inputs.facts.inhibits = Inhibits::PAUSED;
    // Some minutes had gone by before.
    bench.run(3 * 3600);
    for id in UNMET {
        assert_eq!(bench.alarm(id), AlarmState::Normal);
    }
    bench.run(3600);
    for id in UNMET {
        assert_eq!(bench.alarm(id), AlarmState::Unacknowledged);
    }
}

#[test]
fn a_demand_that_was_told_stays_told_in_the_cold() {
    let mut bench = Bench::usual();
    bench.controller.set_care(COLD);
    bench.water(8000, 500);
    bench.inputs.facts.inhibits = Inhibits::PAUSED;
    bench.inputs.care.temperature = Reading::now(CentiCelsius::from_whole(20));
    bench.run(5 * 3600);
    bench.inputs.care.temperature = Reading::now(CentiCelsius::from_whole(4));
    bench.run(5 * 3600);
    for id in UNMET {
        assert_eq!(bench.alarm(id), AlarmState::Unacknowledged);
    }
}

#[test]
fn without_a_bound_cold_water_is_fed() {
    let mut bench = Bench::usual();
    bench.inputs.care.temperature = Reading::now(CentiCelsius(0));
    assert!((0..900).any(|_| bench.tick().feeds(0)));
}

#[test]
fn a_failed_interlock_holds_feed_and_an_unproven_one_is_an_alarm_only() {
    let mut bench = Bench::usual();
    let alarm = AlarmId::Site(SiteAlarm::ProofOverdue);
    bench.inputs.care.unproven = Some(InterlockSet::NONE);
    bench.run(2);
    assert_eq!(bench.alarm(alarm), AlarmState::Normal);
    let due = InterlockSet::NONE.with(crate::proof::Interlock::FlowSwitch);
    bench.inputs.care.unproven = Some(due);
    assert!((0..900).any(|_| bench.tick().feeds(0)));
    assert_eq!(bench.alarm(alarm), AlarmState::Unacknowledged);
    bench.inputs.care.interlock_failed = true;
    bench.run(1);
    assert!(!(0..900).any(|_| bench.tick().feeds(0)));
}

fn act(bench: &mut Bench, by: Authority, act: Act) -> Option<ActResult> {
    let shown: Shown = bench.act_as(by, act);
    shown.act
}

#[test]
fn prime_runs_while_the_button_is_held_and_within_the_guard_s_limit() {
    let mut bench = Bench::usual();
    bench.water(7400, 720); // nothing is wanted
    bench.run(900);
    let prime = |feeder| Act::Prime { feeder };
    let needed = ActResult::NeedsAuthority(Authority::Operator);
    assert_eq!(act(&mut bench, Authority::Owner, prime(0)), Some(needed));
    let nobody = act(&mut bench, Authority::Operator, prime(2));
    assert_eq!(nobody, Some(ActResult::NoSuchFeeder));
    let done = act(&mut bench, Authority::Operator, prime(0));
    assert_eq!(done, Some(ActResult::Done));
    assert!(
        !(0..20).any(|_| bench.tick().feeds(0)),
        "not without the button"
    );
    bench.inputs.facts.feeders[0].hold_to_run = Reading::now(true);
    let ran = (0..300).filter(|_| bench.tick().feeds(0)).count();
    assert!((5..=20).contains(&ran), "manual_max is 20 s: {ran} s");
    // Without flow it gives nothing.
    let mut bench = Bench::usual();
    bench.inputs.facts.flow_switch.value = false;
    bench.inputs.facts.pump_run.value = false;
    bench.run(5);
    act(&mut bench, Authority::Operator, prime(0));
    bench.inputs.facts.feeders[0].hold_to_run = Reading::now(true);
    assert!(!(0..60).any(|_| bench.tick().feeds(0)));
}

fn limits(day_ml: u32) -> Limits<2, 1> {
    let mut spec: LimitsSpec<2, 1> = SPEC;
    let mut acid = ACID;
    acid.bodies[0].day_cap = Dose::from_ml(day_ml);
    acid.rate_tolerance = Percent(10);
    spec.feeders[0] = FeederLimits::Enabled(acid);
    Limits::try_new(spec).unwrap()
}

#[test]
fn tightening_is_at_once_and_loosening_is_confirmed_and_waits_until_it_has_stopped() {
    let mut bench = Bench::usual();
    bench.until(600, |shown| shown.feeds(0) || shown.feeds(1));
    let day = |bench: &Bench| {
        let caps = bench.controller.guard().limits().feeder(0).unwrap().bodies[0];
        caps.day_cap
    };
    let change = |bench: &mut Bench, by, ml, confirmed| {
        bench.controller.change_limits(by, limits(ml), confirmed)
    };
    let needs = |by| Err(LimitsRefused::NeedsAuthority(by));
    let (owner, operator) = (Authority::Owner, Authority::Operator);
    let technician = Authority::Technician;
    assert_eq!(change(&mut bench, owner, 800, None), needs(operator));
    assert_eq!(change(&mut bench, operator, 800, None), Ok(()));
    assert_eq!(day(&bench), Dose::from_ml(800), "while it feeds");
    assert_eq!(change(&mut bench, operator, 850, None), needs(technician));
    let Err(LimitsRefused::Confirm(with)) = change(&mut bench, technician, 850, None) else {
        panic!("not asked to confirm");
    };
    let other = change(&mut bench, technician, 900, Some(with));
    assert!(
        matches!(other, Err(LimitsRefused::Confirm(_))),
        "of other limits"
    );
    let closing = change(&mut bench, technician, 850, Some(with));
    assert_eq!(closing, Err(LimitsRefused::ClosingFirst));
    assert_eq!(day(&bench), Dose::from_ml(800));
    bench.water(7400, 720);
    bench.run(10);
    assert_eq!(change(&mut bench, technician, 850, Some(with)), Ok(()));
    assert_eq!(day(&bench), Dose::from_ml(850));
    let count = |wanted: fn(&EventKind) -> bool| {
        let events = bench.controller.events().iter();
        events.filter(|one| wanted(&one.kind)).count()
    };
    let all = count(|one| matches!(one, EventKind::LimitsChange { .. }));
    let done = count(|one| matches!(one, EventKind::LimitsChange { done: true, .. }));
    assert_eq!((all, done), (7, 2));
}

#[test]
fn what_reads_colder_than_water_can_be_is_no_temperature() {
    let settings = CareSettings {
        cold_below: Fitted::Fitted(CentiCelsius::from_whole(10)),
        ..CareSettings::NONE
    };
    let mut caring = crate::care::Caring {
        settings,
        ..crate::care::Caring::UNTOLD
    };
    // 2 degrees under freezing, and less.
    for (centi, is_blind) in [(-200, false), (-201, true)] {
        caring.look(&Care {
            temperature: Reading::now(CentiCelsius(centi)),
            ..Care::UNKNOWN
        });
        assert_eq!(caring.is_blind, is_blind, "{centi}");
    }
}
