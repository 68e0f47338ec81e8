//! Drive-on time: what may have been fed since the last tick, and to which account it goes.
//!
//! The longer of command and feedback counts: uncertain delivery is delivery. After a permit ends,
//! the drive's off delay counts too unless feedback shows it off.

use crate::limits::{FeederSpec, Limits};
use crate::request::Mode;
use crate::seen::{DriveSeen, Seen, SeenFeeder};
use crate::state::{CycleStage, FeederState, OFF_MAX, State};
use crate::units::{Dose, Millis};

/// Adds to a duration, up to a bound.
pub(crate) fn grow(age: &mut Millis, by: Millis, up_to: Millis) {
    age.0 = age.0.saturating_add(by.0).min(up_to.0);
}

/// Books the drive-on time of the last tick. Returns whether anything was booked outside a cycle.
pub(crate) fn account<const N: usize, const B: usize, const H: usize, const D: usize>(
    limits: &Limits<N, B>,
    state: &mut State<N, B, H, D>,
    seen: &Seen<N>,
) -> bool {
    let mut booked = false;
    let mut on = [Millis(0); N];
    for (feeder, on) in (0..N).zip(on.iter_mut()) {
        let Some(spec) = limits.feeder(feeder) else {
            continue;
        };
        let Some(fact) = seen.feeders.get(feeder) else {
            continue;
        };
        let Some(own) = state.feeders.get_mut(feeder) else {
            continue;
        };
        *on = drive_on(spec, own, fact, seen);
        compare(spec, own, fact, seen);
        if own.against > spec.drive_off
            && let Some(ran) = state.ran_against.get_mut(feeder)
        {
            // Only the contact in series can stop it: a welded contact feeds whenever another
            // feeder's permit closes that, so it stays open until a person comes.
            *ran = true;
        }
        if own.mode == Mode::Manual && on.0 > 0 {
            grow(&mut own.manual, *on, Millis(u32::MAX));
        }
        if fact.released {
            own.manual = Millis(0);
        }
        if on.0 == 0 {
            continue;
        }
        let account = limits.account(feeder);
        let charged_in = if matches!(own.stage, CycleStage::Open | CycleStage::Closing) {
            grow(&mut own.run, *on, Millis(u32::MAX));
            booked |= overran(spec, own);
            if seen.body == Some(own.body) {
                continue;
            }
            Some(own.body)
        } else {
            None
        };
        let dose = spec.rate_for_caps().dose_ceil(*on);
        booked |= book_outside(state, account, charged_in, seen.body, dose);
    }
    line(limits, state, seen, &on);
    booked
}

/// A run past what was charged, as after a stall under a permit, is charged as it is seen: a record
/// holds the charge, and what was fed must not be more.
fn overran<const B: usize>(spec: &FeederSpec<B>, own: &mut FeederState) -> bool {
    if own.run.0 <= own.allowed.0.saturating_add(spec.drive_off.0) {
        return false;
    }
    let fed = spec.rate_for_caps().dose_ceil(own.run);
    if fed <= own.charged() {
        return false;
    }
    own.charge = Dose(fed.0.saturating_sub(own.next_slice.0));
    true
}

/// Books what was fed outside a cycle, or by a cycle while the valves were not, or may not have
/// been, where it was charged. When they moved within the tick is not known, so the cycle counts
/// all of it too.
fn book_outside<const N: usize, const B: usize, const H: usize, const D: usize>(
    state: &mut State<N, B, H, D>,
    account: usize,
    charged_in: Option<u8>,
    valves: Option<u8>,
    dose: Dose,
) -> bool {
    let mut booked = charged_in.is_none();
    for body in (0..u8::MAX).take(B) {
        if charged_in != Some(body) && valves.is_none_or(|valves| valves == body) {
            book(state, account, Some(body), dose);
            booked = true;
        }
    }
    booked
}

/// Books a dose and starts the hold. Where the body is not known, in every body.
pub(crate) fn book<const N: usize, const B: usize, const H: usize, const D: usize>(
    state: &mut State<N, B, H, D>,
    account: usize,
    body: Option<u8>,
    dose: Dose,
) {
    for index in 0..B {
        if body.is_none_or(|body| usize::from(body) == index) {
            state.ledger.add(account, index, dose);
            let row = state.since_cycle.get_mut(account);
            if let Some(since) = row.and_then(|bodies| bodies.get_mut(index)) {
                *since = Millis(0);
            }
        }
    }
}

/// How long the drive may have been on since the last tick.
fn drive_on<const N: usize, const B: usize>(
    spec: &FeederSpec<B>,
    own: &mut FeederState,
    fact: &SeenFeeder,
    seen: &Seen<N>,
) -> Millis {
    let commanded = commanded(spec, own, seen);
    let tail = if own.permit.0 > 0 {
        Millis(
            commanded.0.saturating_add(
                spec.drive_off
                    .0
                    .min(seen.elapsed.0.saturating_sub(commanded.0)),
            ),
        )
    } else {
        Millis(
            spec.drive_off
                .0
                .saturating_sub(own.off.0)
                .min(seen.elapsed.0),
        )
    };
    if own.permit.0 == 0 {
        grow(&mut own.off, seen.helps, OFF_MAX);
    }
    match fact.drive {
        DriveSeen::On(on) => commanded.max(on),
        DriveSeen::NotFitted | DriveSeen::Unknown => commanded.max(tail),
    }
}

/// How long the last permit let it run. Out of range, the time counts in full.
fn commanded<const N: usize, const B: usize>(
    spec: &FeederSpec<B>,
    own: &FeederState,
    seen: &Seen<N>,
) -> Millis {
    if own.permit.0 == 0 {
        Millis(0)
    } else if seen.clock_ok && spec.cut_timer.is_fitted() {
        own.permit.min(seen.elapsed)
    } else {
        seen.elapsed
    }
}

/// Compares feedback with command.
fn compare<const N: usize, const B: usize>(
    spec: &FeederSpec<B>,
    own: &mut FeederState,
    fact: &SeenFeeder,
    seen: &Seen<N>,
) {
    let DriveSeen::On(on) = fact.drive else {
        own.clear = Millis(0);
        return;
    };
    let commanded = commanded(spec, own, seen);
    let excess = Millis(on.0.saturating_sub(commanded.0));
    if excess.0 == 0 {
        own.against = Millis(0);
    } else {
        grow(
            &mut own.against,
            excess,
            Millis(spec.drive_off.0.saturating_add(1)),
        );
    }
    if on.0 > 0 {
        own.deaf = Millis(0);
        own.clear = Millis(0);
        return;
    }
    let start_max = spec.feedback.get().unwrap_or(Millis(0));
    grow(
        &mut own.deaf,
        commanded,
        Millis(start_max.0.saturating_add(1)),
    );
    grow(&mut own.clear, seen.helps, spec.feedback_clear);
    if !seen.clock_ok {
        own.clear = Millis(0);
    }
}

/// What stands in the line, and how long it has flowed since.
fn line<const N: usize, const B: usize, const H: usize, const D: usize>(
    limits: &Limits<N, B>,
    state: &mut State<N, B, H, D>,
    seen: &Seen<N>,
    on: &[Millis; N],
) {
    let purge = limits.spec().purge;
    let flowing = if seen.flow { seen.helps } else { Millis(0) };
    let mut driven = [false; N];
    let mut stopped = false;
    for (feeder, on) in (0..N).zip(on.iter()) {
        let account = limits.account(feeder);
        if on.0 == 0 {
            continue;
        }
        if let Some(driven) = driven.get_mut(account) {
            *driven = true;
        }
        if let Some(standing) = state.line.standing.get_mut(account).filter(|_| !seen.flow) {
            grow(standing, *on, Millis(u32::MAX));
            stopped = true;
        }
    }
    for (since, driven) in state.since_drive.iter_mut().zip(driven) {
        if driven {
            *since = Millis(0);
        } else {
            grow(since, flowing, purge);
        }
    }
    if stopped {
        state.line.purged = Millis(0);
    } else {
        grow(&mut state.line.purged, flowing, purge);
    }
    if state.line.purged >= purge {
        state.line.standing = [Millis(0); N];
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::clock::TickClock;
    use crate::facts::Facts;
    use crate::limits::FeederLimits;
    use crate::reading::Reading;
    use crate::test_site::SPEC;
    use crate::units::Fitted;

    type Small = State<2, 1, 7, 25>;

    /// A second in which the acid's drive was on so long, by feedback, with its button held.
    fn second(state: &mut Small, on: u32) -> bool {
        let mut spec = SPEC;
        if let FeederLimits::Enabled(acid) = &mut spec.feeders[0] {
            acid.feedback = Fitted::Fitted(Millis(3000));
        }
        let limits = Limits::try_new(spec).unwrap();
        let mut facts = Facts {
            flow_switch: Reading::now(true),
            pump_run: Reading::now(true),
            ..Facts::UNKNOWN
        };
        facts.feeders[0].feedback = Reading::now(Millis(on));
        facts.feeders[0].hold_to_run = Reading::now(true);
        let mut clock = TickClock::new();
        clock.step(0);
        let seen = Seen::of(&limits, clock.step(1000), &facts);
        account(&limits, state, &seen)
    }

    #[test]
    fn only_a_manual_feed_uses_up_the_time_of_the_button() {
        for (mode, used) in [
            (Mode::Automatic, 0),
            (Mode::Manual, 1000),
            (Mode::Fallback, 0),
        ] {
            let mut state = Small::POWER_ON;
            state.feeders[0] = FeederState {
                stage: CycleStage::Open,
                mode,
                permit: Millis(2000),
                manual: Millis(0),
                ..FeederState::REST
            };
            second(&mut state, 1000);
            assert_eq!(state.feeders[0].manual, Millis(used), "{mode:?}");
        }
    }

    #[test]
    fn what_runs_outside_a_cycle_is_booked_and_has_to_be_saved() {
        let mut state = Small::POWER_ON;
        assert!(!second(&mut state, 0));
        assert!(second(&mut state, 400));
        // 33 mL/min for 0.4 s.
        assert_eq!(state.ledger.totals(0, 0), (Dose(220), Dose(220)));
    }
}
