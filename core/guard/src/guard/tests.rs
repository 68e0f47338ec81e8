//! A guard whose memory fails, two records that differ, and what may count as saved.

use super::*;
use crate::clock::TickClock;
use crate::facts::Inhibits;
use crate::limits::FeederLimits;
use crate::lockout::Lockout;
use crate::reading::Reading;
use crate::request::{Action, Authority, FeedRequest, Mode, Stage};
use crate::test_site::LIMITS;
use crate::units::{Dose, MilliPh, Millis, Millivolts};

#[test]
fn a_state_that_changed_by_itself_is_not_sealed() {
    let (mut guard, _) = Guard::<2, 1, 7, 25>::restore(LIMITS, None, None);
    let mut bytes = [0; Record::<2, 1, 7, 25>::LEN];
    assert!(guard.seal_record(&mut bytes).is_ok());
    guard.state.stage = Stage::Full;
    let sealed = guard.seal_record(&mut bytes);
    assert_eq!(sealed, Err(RecordError::StateChanged));
}

/// A guard, its time and its record.
struct Rig {
    guard: Guard<2, 1, 7, 25>,
    clock: TickClock,
    now_ms: u32,
    saved: Option<Ticket>,
    /// Whether the store works.
    stores: bool,
}

impl Rig {
    fn tick(&mut self, ml: u32, action: Option<Action>) {
        self.now_ms += 1000;
        let facts = Facts {
            flow_switch: Reading::now(true),
            pump_run: Reading::now(true),
            ph: Reading::now(MilliPh(7600)),
            orp: Reading::now(Millivolts(650)),
            inhibits: Inhibits::NONE,
            saved: self.saved,
            ..Facts::UNKNOWN
        };
        let acid = FeedRequest {
            dose: Dose::from_ml(ml),
            mode: Mode::Automatic,
        };
        let by = Authority::Technician;
        let person = action.map(|action| PersonAction { by, action });
        let elapsed = self.clock.step(self.now_ms);
        let requests = [acid, FeedRequest::NONE];
        let verdict = self.guard.judge(elapsed, facts, requests, person);
        if verdict.decision().save && self.stores {
            let mut bytes = [0; Record::<2, 1, 7, 25>::LEN];
            self.saved = self.guard.seal_record(&mut bytes).ok();
        }
    }
}

/// Everything proven, in the full stage, nothing fed yet.
fn ready() -> Rig {
    let (guard, _) = Guard::<2, 1, 7, 25>::restore(LIMITS, None, None);
    let mut rig = Rig {
        guard,
        clock: TickClock::new(),
        now_ms: 0,
        saved: None,
        stores: true,
    };
    rig.clock.step(0);
    rig.tick(0, Some(Action::Initialise));
    rig.tick(0, Some(Action::SetStage(Stage::Full)));
    (0..900).for_each(|_| rig.tick(0, None));
    rig
}

#[test]
fn limits_that_changed_by_themselves_book_no_less_than_was_charged() {
    let mut rig = ready();
    (0..40).for_each(|_| rig.tick(45, None));
    let run = rig.guard.state.feeders[0].run;
    let fed = LIMITS.feeder(0).unwrap().rate_for_caps().dose_ceil(run);
    assert!(fed > Dose(5000), "{fed:?}");
    // The rate changes in memory.
    let mut spec = *LIMITS.spec();
    if let FeederLimits::Enabled(acid) = &mut spec.feeders[0] {
        acid.rate.0 /= 1024;
        acid.rate_any_tube.0 /= 1024;
    }
    rig.guard.limits = Limits::bent(spec);
    (0..10).for_each(|_| rig.tick(45, None));
    assert!(rig.guard.state.site_lockouts.has(Lockout::LimitsSeal));
    let booked = rig.guard.state.ledger.totals(0, 0).1;
    assert!(booked >= fed, "fed {fed:?}, booked {booked:?}");
}

#[test]
fn limits_whose_change_the_sum_of_each_tick_does_not_see_are_seen_by_the_crc_of_a_record() {
    let mut rig = ready();
    let mut spec = *LIMITS.spec();
    spec.purge.0 -= 1;
    rig.guard.limits = Limits::bent(spec);
    // Two bits at the same place of words 32 apart leave that sum as it was.
    rig.guard.limits_sum = WordSum::of(&rig.guard.limits);
    rig.tick(0, None);
    assert!(!rig.guard.state.site_lockouts.has(Lockout::LimitsSeal));
    let mut bytes = [0; Record::<2, 1, 7, 25>::LEN];
    assert!(rig.guard.seal_record(&mut bytes).is_ok());
    rig.tick(0, None);
    assert!(rig.guard.state.site_lockouts.has(Lockout::LimitsSeal));
}

#[test]
fn a_record_sealed_before_a_charge_does_not_make_it_durable() {
    let mut rig = ready();
    rig.stores = false;
    let seal = |rig: &mut Rig| {
        let mut bytes = [0; Record::<2, 1, 7, 25>::LEN];
        rig.guard.seal_record(&mut bytes).ok()
    };
    let before = seal(&mut rig);
    rig.saved = None;
    rig.tick(45, None);
    // The store took its time, and reads back the record without the charge.
    rig.saved = before;
    rig.tick(45, None);
    assert_eq!(rig.guard.state.feeders[0].stage, CycleStage::Pending);
    rig.saved = seal(&mut rig);
    rig.tick(45, None);
    assert_eq!(rig.guard.state.feeders[0].stage, CycleStage::Open);
}

#[test]
fn of_two_records_the_later_one_counts_wherever_it_lay() {
    let (mut guard, _) = Guard::<2, 1, 7, 25>::restore(LIMITS, None, None);
    let mut seal = |stage| {
        guard.state.stage = stage;
        guard.state_sum = WordSum::of(&guard.state);
        let mut bytes = [0; Record::<2, 1, 7, 25>::LEN];
        assert!(guard.seal_record(&mut bytes).is_ok());
        Record::<2, 1, 7, 25>::decode(&bytes).unwrap()
    };
    let (earlier, later) = (seal(Stage::Full), seal(Stage::Reduced));
    assert!(earlier.sequence < later.sequence);
    let found = |first, second| {
        let (guard, found) = Guard::restore(LIMITS, Some(first), Some(second));
        assert!(matches!(found, Restored::Differing { .. }));
        (guard.sequence, guard.state.stage)
    };
    let expected = (later.sequence, Stage::Reduced);
    assert_eq!(found(&earlier, &later), expected);
    assert_eq!(found(&later, &earlier), expected);
    // None is later: the first, so that every start finds the same.
    let same = Record {
        sequence: later.sequence,
        ..earlier
    };
    assert_eq!(found(&later, &same), expected);
}

/// Whether time without power is credited after a start at which something is made to be so.
fn credits(change: impl FnOnce(&mut Guard<2, 1, 7, 25>)) -> bool {
    const BANK: Millis = Millis(3_600_000);
    let mut record = Record {
        sequence: 1,
        stamp: Some(ClockSeconds(1000)),
        limits_crc: Crc32::of_value(LIMITS.spec()),
        products: Some(products(&LIMITS)),
        state: State::POWER_ON,
    };
    record.state.off_bank = BANK;
    let (mut guard, _) = Guard::restore(LIMITS, Some(&record), Some(&record));
    change(&mut guard);
    guard.state_sum = WordSum::of(&guard.state);
    let mut clock = TickClock::new();
    clock.step(0);
    for second in 1..130 {
        let facts = Facts {
            clock: Reading::now(ClockSeconds(90_000 + second)),
            ..Facts::UNKNOWN
        };
        let elapsed = clock.step(second * 1000);
        let _ = guard.judge(elapsed, facts, [FeedRequest::NONE; 2], None);
    }
    guard.state.off_bank < BANK
}

#[test]
fn time_without_power_is_not_credited_once_something_was_charged_or_ran_against_command() {
    assert!(credits(|_| {}));
    assert!(!credits(|guard| {
        guard.state.feeders[0].stage = CycleStage::Pending;
    }));
    assert!(!credits(|guard| {
        guard.decision.notices = Notices::RUNS_AGAINST;
    }));
}
