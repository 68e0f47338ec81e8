//! Each condition raises its own alarm and no other.

use super::*;

use std::vec::Vec;

use crate::alarm::{WatchedFeeder, WatchedProbe};
use crate::bench::SETTINGS_SPEC;
use crate::guard::LockoutSet;

const WELL: WatchedProbe = WatchedProbe {
    value: Some(700),
    failing: false,
};

const QUIET: Watched<1> = Watched {
    elapsed: Millis::from_hours(30),
    ph: WatchedProbe {
        value: Some(7400),
        failing: false,
    },
    orp: WELL,
    notices: Notices::NONE,
    lockouts: LockoutSet::NONE,
    records_differ: false,
    master_fault: false,
    flow: true,
    pump_due: None,
    pump_slow: false,
    laid_up: false,
    observing: false,
    test_due: false,
    proof_due: false,
    clock_stands: false,
    kept_lost: false,
    feeders: [WatchedFeeder::NOTHING],
};

/// Alarms that come of one long tick after a quiet one.
fn raised(change: impl Fn(&mut Watched<1>)) -> Vec<AlarmId> {
    let mut settings = SETTINGS_SPEC.alarms;
    settings.ph.rate = Some(crate::settings::RateLimit {
        change_max: 300,
        within: Millis::from_hours(20),
    });
    settings.orp.rate = settings.ph.rate.map(|rate| crate::settings::RateLimit {
        change_max: 60,
        ..rate
    });
    let mut alarms = Alarms::<1>::NORMAL;
    alarms.step(&settings, &QUIET, |id, _| panic!("{id:?}"));
    let mut seen = QUIET;
    change(&mut seen);
    let mut all = Vec::new();
    alarms.step(&settings, &seen, |id, state| {
        assert_eq!(state, AlarmState::Unacknowledged);
        all.push(id);
    });
    assert_eq!(usize::from(alarms.summary().active), all.len());
    all
}

#[test]
fn each_condition_raises_its_own_alarm() {
    type Change = fn(&mut Watched<1>);
    let site: [(SiteAlarm, Change); 21] = [
        (SiteAlarm::KeptLost, |seen| seen.kept_lost = true),
        (SiteAlarm::TestOverdue, |seen| seen.test_due = true),
        (SiteAlarm::ProofOverdue, |seen| seen.proof_due = true),
        (SiteAlarm::ClockFault, |seen| seen.clock_stands = true),
        (SiteAlarm::PhLow, |seen| seen.ph.value = Some(7101)),
        (SiteAlarm::PhHigh, |seen| seen.ph.value = Some(7700)),
        (SiteAlarm::PhRate, |seen| seen.ph.value = Some(7701)),
        (SiteAlarm::PhStatus, |seen| seen.ph.failing = true),
        (SiteAlarm::OrpLow, |seen| seen.orp.value = Some(640)),
        (SiteAlarm::OrpHigh, |seen| seen.orp.value = Some(760)),
        (SiteAlarm::OrpRate, |seen| seen.orp.value = Some(761)),
        (SiteAlarm::OrpStatus, |seen| seen.orp.failing = true),
        (SiteAlarm::SaveOverdue, |seen| {
            seen.notices = Notices::SAVE_OVERDUE
        }),
        (SiteAlarm::PumpWithoutFlow, |seen| {
            seen.notices = Notices::PUMP_WITHOUT_FLOW;
        }),
        (SiteAlarm::FlowAbsent, |seen| seen.flow = false),
        (SiteAlarm::NoAnswer, |seen| {
            seen.notices = Notices::NO_ANSWER
        }),
        (SiteAlarm::FallbackEnds, |seen| {
            seen.notices = Notices::FALLBACK_ENDS
        }),
        (SiteAlarm::WeakChlorine, |seen| {
            seen.notices = Notices::WEAK_CHLORINE
        }),
        (SiteAlarm::RecordsDiffer, |seen| seen.records_differ = true),
        (SiteAlarm::RunsAgainst, |seen| {
            seen.notices = Notices::RUNS_AGAINST
        }),
        (SiteAlarm::MasterFault, |seen| seen.master_fault = true),
    ];
    for (id, change) in site {
        // Values inside their thresholds raise nothing; the thresholds have tests of their own.
        let expected: &[AlarmId] = match id {
            SiteAlarm::PhLow | SiteAlarm::PhHigh | SiteAlarm::OrpLow | SiteAlarm::OrpHigh => &[],
            _ => &[AlarmId::Site(id)],
        };
        assert_eq!(raised(change), expected, "{id:?}");
    }
    for lockout in Lockout::ALL {
        let set = LockoutSet::NONE.with(lockout);
        let all = raised(|seen| {
            seen.lockouts = set;
            seen.feeders[0].lockouts = set;
        });
        let stands_for = |id: &AlarmId| match id {
            AlarmId::Site(alarm) => alarm.lockout(),
            AlarmId::Feeder(_, alarm) => alarm.lockout(),
        };
        assert_eq!(all.len(), 1, "{lockout:?}");
        assert_eq!(stands_for(&all[0]), Some(lockout));
    }
}

#[test]
fn each_threshold_raises_its_own_alarm() {
    let only = |change: fn(&mut Watched<1>), of: SiteAlarm| {
        assert!(raised(change).contains(&AlarmId::Site(of)), "{of:?}");
    };
    only(|seen| seen.ph.value = Some(6999), SiteAlarm::PhLow);
    only(|seen| seen.ph.value = Some(7801), SiteAlarm::PhHigh);
    only(|seen| seen.orp.value = Some(599), SiteAlarm::OrpLow);
    only(|seen| seen.orp.value = Some(801), SiteAlarm::OrpHigh);
}

#[test]
fn each_condition_of_a_feeder_raises_its_own_alarm() {
    type Change = fn(&mut WatchedFeeder);
    let all: [(FeederAlarm, Change); 4] = [
        (FeederAlarm::DemandUnmet, |look| look.wants = Some(true)),
        (FeederAlarm::StockLow, |look| look.low = true),
        (FeederAlarm::StockEmpty, |look| look.empty = true),
        (FeederAlarm::LineFault, |look| look.line_fault = true),
    ];
    for (id, change) in all {
        let found = raised(|seen| change(&mut seen.feeders[0]));
        assert_eq!(found, [AlarmId::Feeder(0, id)]);
    }
}

#[test]
fn a_controller_fits_its_memory() {
    // On the host; pointers and alignment make it larger than on a board.
    let whole = core::mem::size_of::<crate::PoolController>();
    let alarms = core::mem::size_of::<Alarms<2>>();
    assert!(whole <= 2976 && alarms <= 620, "{whole} and {alarms} bytes");
}

/// Whatever a tick or a person does: the list is another only if the number is.
#[test]
fn a_list_that_is_another_has_another_number() {
    let mut alarms = Alarms::<1>::NORMAL;
    let listed = |alarms: &Alarms<1>| -> Vec<(AlarmId, AlarmState, bool)> {
        let one = |(id, state)| (id, state, alarms.is_latched(id));
        alarms.listed().map(one).collect()
    };
    let (mut seed, mut same, mut other) = (11_u32, 0, 0);
    for _ in 0..4000 {
        seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        let drawn = seed >> 16;
        let (before, as_of) = (listed(&alarms), alarms.changes());
        let mut seen = QUIET;
        seen.elapsed = Millis::from_mins(10);
        seen.test_due = drawn & 3 == 3;
        seen.flow = drawn & 4 == 0;
        seen.laid_up = drawn & 0x38 == 0x38;
        seen.lockouts = match drawn & 0x1C0 {
            0 => LockoutSet::NONE.with(Lockout::EmergencyStop),
            _ => LockoutSet::NONE,
        };
        let id = AlarmId::Site(SiteAlarm::ALL[(drawn as usize >> 9) % SiteAlarm::COUNT]);
        match drawn % 11 {
            0 => alarms.acknowledge_all(|_, _| {}),
            1 => _ = alarms.moved(id, Hand::Acknowledge),
            2 => _ = alarms.moved(id, Hand::Shelve(Shelving::Timed(Millis::from_hours(1)))),
            3 => _ = alarms.moved(id, Hand::TakeOut),
            4 => _ = alarms.moved(id, Hand::PutBack),
            5 => _ = alarms.moved(id, Hand::Reset),
            _ => alarms.step(&SETTINGS_SPEC.alarms, &seen, |_, _| {}),
        }
        if listed(&alarms) == before {
            same += 1;
        } else {
            other += 1;
            assert_ne!(alarms.changes(), as_of);
        }
    }
    assert!(
        same > 500 && other > 500,
        "{same} the same, {other} another"
    );
}

#[test]
fn a_demand_is_over_once_fed_or_once_not_wanted_for_the_off_delay() {
    let off_delay = Millis(2000);
    let mut unwanted = Millis(0);
    let mut now = |wants, fed| {
        let look = WatchedFeeder {
            wants,
            fed,
            ..WatchedFeeder::NOTHING
        };
        demand(&look, &mut unwanted, off_delay, Millis(1000))
    };
    assert_eq!(now(Some(true), false), Condition::Stands);
    assert_eq!(now(Some(true), true), Condition::Gone);
    assert_eq!(now(Some(false), false), Condition::Unknown);
    assert_eq!(now(Some(false), false), Condition::Gone);
    assert_eq!(now(Some(true), false), Condition::Stands);
    assert_eq!(now(Some(false), false), Condition::Unknown, "anew");
    assert_eq!(now(None, false), Condition::Unknown);
    assert_eq!(now(Some(false), false), Condition::Unknown, "and anew");
}

#[test]
fn an_alarm_is_shelved_for_up_to_the_longest_time() {
    let mut alarms = Alarms::<1>::NORMAL;
    let id = AlarmId::Site(SiteAlarm::PhHigh);
    let mut shelved = |length| {
        let by = Hand::Shelve(Shelving::Timed(length));
        alarms.moved(id, by)
    };
    let past = Millis(Shelving::LONGEST.0 + 1);
    assert_eq!(shelved(Millis(0)), Err(NotMoved::TooLong));
    assert_eq!(shelved(past), Err(NotMoved::TooLong));
    assert_eq!(shelved(Shelving::LONGEST), Ok(AlarmState::Shelved));
}

#[test]
fn a_fast_change_an_empty_drum_and_water_that_should_flow_each_have_their_delays() {
    let settings = SETTINGS_SPEC.alarms;
    let (on, off) = (settings.on_delay, settings.off_delay);
    let of = |id, pump_due| {
        let seen = Watched { pump_due, ..QUIET };
        let delays = delays_of_site(id, &settings, &seen);
        (delays.on, delays.off)
    };
    for id in [SiteAlarm::PhRate, SiteAlarm::OrpRate] {
        assert_eq!(of(id, None), (Millis(0), off));
    }
    let absent = SiteAlarm::FlowAbsent;
    assert_eq!(of(absent, None), (settings.flow_absent_after, off));
    assert_eq!(of(absent, Some(true)), (on, off));
    let empty = delays_of_feeder(FeederAlarm::StockEmpty, &settings);
    assert_eq!((empty.on, empty.off), (on, off));
}

#[test]
fn what_is_not_normal_and_what_is_latched_is_listed() {
    let mut alarms = Alarms::<1>::NORMAL;
    assert_eq!(alarms.listed().count(), 0);
    let settings = SETTINGS_SPEC.alarms;
    alarms.step(&settings, &QUIET, |_, _| ());
    assert_eq!(alarms.listed().count(), 0);
    let differ = Watched {
        records_differ: true,
        ..QUIET
    };
    alarms.step(&settings, &differ, |_, _| ());
    let id = AlarmId::Site(SiteAlarm::RecordsDiffer);
    let listed = |alarms: &Alarms<1>| alarms.listed().collect::<Vec<_>>();
    assert_eq!(listed(&alarms), [(id, AlarmState::Unacknowledged)]);
    assert_eq!(
        alarms.moved(id, Hand::Acknowledge),
        Ok(AlarmState::Acknowledged)
    );
    alarms.step(&settings, &QUIET, |_, _| ());
    assert_eq!(
        listed(&alarms),
        [(id, AlarmState::Normal)],
        "until it is reset"
    );
}

#[test]
fn what_stands_is_set_aside_as_the_pool_is_laid_up_though_the_water_stays_as_it_is() {
    let high = Watched {
        ph: WatchedProbe {
            value: Some(7900),
            failing: false,
        },
        ..QUIET
    };
    let laid_up = Watched {
        laid_up: true,
        ..high
    };
    let id = AlarmId::Site(SiteAlarm::PhHigh);
    let mut alarms = Alarms::<1>::NORMAL;
    alarms.step(&SETTINGS_SPEC.alarms, &high, |_, _| ());
    assert_eq!(alarms.state(id), Some(AlarmState::Unacknowledged));
    alarms.step(&SETTINGS_SPEC.alarms, &laid_up, |_, _| ());
    assert_eq!(alarms.state(id), Some(AlarmState::SuppressedByDesign));
}
