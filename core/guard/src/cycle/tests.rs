//! What opens a cycle, what adds a slice, when a cut is too long, and what closing books.

use super::*;
use crate::clock::TickClock;
use crate::facts::Facts;
use crate::limits::FeederLimits;
use crate::reading::Reading;
use crate::request::Mode;
use crate::test_site::{ACID, LIMITS, SPEC};
use crate::units::Fitted;

type Small = State<2, 1, 7, 25>;

/// Acid at 33 mL/min, its tolerance in it: 550 uL/s. A tick is 2 s at most, the drive stops in 200 ms.
fn acid(change: impl FnOnce(&mut FeederSpec<1>)) -> Limits<2, 1> {
    let mut acid = ACID;
    change(&mut acid);
    let mut spec = SPEC;
    spec.feeders[0] = FeederLimits::Enabled(acid);
    Limits::try_new(spec).unwrap()
}

fn seen(limits: &Limits<2, 1>, feedback: Reading<Millis>) -> Seen<2> {
    let mut clock = TickClock::new();
    clock.step(0);
    let mut facts = Facts {
        flow_switch: Reading::now(true),
        pump_run: Reading::now(true),
        ..Facts::UNKNOWN
    };
    facts.feeders[0].feedback = feedback;
    Seen::of(limits, clock.step(1000), &facts)
}

fn wants(dose: Dose) -> FeedRequest {
    FeedRequest {
        dose,
        mode: Mode::Automatic,
    }
}

#[test]
fn quarters_of_the_cap_round_down() {
    assert_eq!(quarters(Dose(24), Dose(100)), 0);
    assert_eq!(quarters(Dose(25), Dose(100)), 1);
    assert_eq!(quarters(Dose(99), Dose(100)), 3);
    assert_eq!(quarters(Dose(500), Dose(100)), 4);
}

#[test]
fn the_smallest_dose_opens_a_cycle_and_a_smaller_one_does_not() {
    // Of a drive that runs for just a tick and the time to stop with it, and of one that runs longer.
    for smallest in [Dose(1210), Dose(5000)] {
        let limits = acid(|spec| spec.dose_min = smallest);
        let spec = limits.feeder(0).unwrap();
        let opens = |dose| {
            let (mut own, grain) = (FeederState::REST, grain(&limits, spec));
            let most = Dose(u32::MAX);
            open(spec, &mut own, wants(dose), most, grain, 0).then_some((own.charge, own.allowed))
        };
        assert_eq!(opens(Dose(smallest.0 - 1)), None);
        let run = spec.rate_for_caps().run_floor(smallest);
        let allowed = Millis(run.0 - spec.drive_off.0);
        assert_eq!(opens(smallest), Some((smallest, allowed)));
    }
}

#[test]
fn a_slice_is_charged_once_and_may_be_the_smallest_dose() {
    let mut own = FeederState {
        stage: CycleStage::Open,
        charge: ACID.slice_max,
        ..FeederState::REST
    };
    let more = |by| wants(Dose(ACID.slice_max.0 + by));
    let most = Dose(u32::MAX);
    let smaller = more(ACID.dose_min.0 - 1);
    assert!(!next_slice(&ACID, &mut own, smaller, most));
    assert!(next_slice(&ACID, &mut own, more(ACID.dose_min.0), most));
    assert_eq!(own.next_slice, ACID.dose_min);
    // While it waits to be durable nothing is added to it: what was sealed is what will count.
    assert!(!next_slice(&ACID, &mut own, more(ACID.slice_max.0), most));
    assert_eq!(own.next_slice, ACID.dose_min);
}

#[test]
fn a_cut_as_long_as_the_limits_allow_is_resumed() {
    let seen = seen(&LIMITS, Reading::unknown(Millis(0)));
    let within = SPEC.resume_within;
    let mut own = FeederState {
        stage: CycleStage::Open,
        run: Millis(1),
        cut: Millis(within.0 - seen.elapsed.0),
        ..FeederState::REST
    };
    assert!(!cut_too_long(&mut own, &seen, within));
    assert_eq!(own.cut, within);
    assert!(cut_too_long(&mut own, &seen, within));
}

/// A cycle of 45 mL that closes, so long after its permit ended; what is booked of it.
fn closed(
    limits: &Limits<2, 1>,
    feedback: Reading<Millis>,
    off: u32,
    change: impl FnOnce(&mut FeederState),
) -> Option<Closed> {
    let mut state = Small::POWER_ON;
    state.feeders[0] = FeederState {
        stage: CycleStage::Closing,
        charge: Dose(45_000),
        allowed: Millis(81_618),
        off: Millis(off),
        ..FeederState::REST
    };
    change(&mut state.feeders[0]);
    close(limits, &mut state, &seen(limits, feedback), 0, 0)
}

fn fed(closed: Option<Closed>) -> Option<u32> {
    closed.map(|closed| closed.fed.0)
}

#[test]
fn a_cycle_that_never_ran_is_given_back_once_no_permit_can_drip() {
    let limits = acid(|spec| spec.feedback = Fitted::Fitted(Millis(3000)));
    let unknown = Reading::unknown(Millis(0));
    // The permit ended in this very tick.
    assert_eq!(closed(&limits, unknown, 0, |_| {}), None);
    assert_eq!(fed(closed(&limits, unknown, 1, |_| {})), Some(0));
}

#[test]
fn a_drive_that_stops_at_once_is_off_a_tick_after_its_permit() {
    let limits = acid(|spec| spec.drive_off = Millis(0));
    let unknown = Reading::unknown(Millis(0));
    let ran = |own: &mut FeederState| own.run = Millis(1000);
    assert_eq!(closed(&limits, unknown, 0, ran), None);
    assert_eq!(fed(closed(&limits, unknown, 1, ran)), Some(550));
}

#[test]
fn feedback_that_says_nothing_is_waited_for_no_longer_than_a_tick_past_the_drive() {
    let limits = acid(|spec| spec.feedback = Fitted::Fitted(Millis(3000)));
    let unknown = Reading::unknown(Millis(0));
    let ran = |own: &mut FeederState| own.run = Millis(1000);
    let longest = ACID.drive_off.0 + SPEC.tick_gap_max.0;
    assert_eq!(closed(&limits, unknown, longest, ran), None);
    // Nobody can say that it stopped: all of it counts.
    assert_eq!(
        fed(closed(&limits, unknown, longest + 1, ran)),
        Some(45_000)
    );
    let off = Reading::now(Millis(0));
    assert_eq!(fed(closed(&limits, off, longest, ran)), Some(550));
}

#[test]
fn a_cycle_is_full_when_less_than_a_tick_is_left_and_no_slice_waits() {
    let unknown = Reading::unknown(Millis(0));
    let full = |left: u32, waits: u32| {
        let change = |own: &mut FeederState| {
            own.run = Millis(own.allowed.0 - left);
            own.next_slice = Dose(waits);
        };
        closed(&LIMITS, unknown, 1000, change).map(|closed| closed.full)
    };
    let tick = SPEC.tick_gap_max.0;
    assert_eq!(full(tick - 1, 0), Some(true));
    assert_eq!(full(tick, 0), Some(false));
    assert_eq!(full(tick - 1, 1), Some(false));
}

#[test]
fn the_time_since_a_permit_starts_anew_with_it_and_when_it_ends() {
    // Also if a flipped bit has let it run on meanwhile: what was just on may drip.
    for (before, now, off) in [(0, 1, 0), (1, 1, 0), (1, 0, 0), (0, 0, 77)] {
        let mut own = FeederState {
            permit: Millis(before),
            off: Millis(77),
            ..FeederState::REST
        };
        permit(&mut own, Millis(now));
        assert_eq!((own.permit, own.off), (Millis(now), Millis(off)));
    }
}
