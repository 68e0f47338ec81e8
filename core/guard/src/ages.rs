//! How the state ages by one tick. Ages that help grow by sane time only, and start anew when the
//! clock is not sane; ages that hurt grow by time in full.

use crate::drive::grow;
use crate::limits::Limits;
use crate::seen::Seen;
use crate::state::{LedgerTrust, ResponseState, State};
use crate::units::{DAY_MS, MilliPh, Millis};

/// Lets one tick pass. True if a bucket of the ledger ended: that has to be saved.
pub(crate) fn pass<const N: usize, const B: usize, const H: usize, const D: usize>(
    limits: &Limits<N, B>,
    state: &mut State<N, B, H, D>,
    seen: &Seen<N>,
    off_credit: Millis,
) -> bool {
    let spec = limits.spec();
    body(limits, state, seen);
    proofs(limits, state, seen);
    let beyond = |max: Millis| Millis(max.0.saturating_add(1));
    if seen.flow_without_pump {
        grow(
            &mut state.disagree,
            seen.elapsed,
            beyond(spec.stuck_flow_max),
        );
    } else if seen.agree {
        state.disagree = Millis(0);
    }
    grow(
        &mut state.powered,
        seen.helps,
        spec.power_on_delay_new_probe,
    );
    if state.new_probe && state.powered >= spec.power_on_delay_new_probe {
        state.new_probe = false;
    }
    state.fallback_left.0 = state.fallback_left.0.saturating_sub(seen.elapsed.0);
    if let LedgerTrust::Lost(age) = &mut state.trust {
        grow(age, seen.helps, Millis(DAY_MS));
    }
    for response in &mut state.response {
        grow(
            &mut response.since_cycle,
            seen.helps,
            spec.response.probe_cycle_every,
        );
    }
    holds(limits, state, seen);
    if state.save_wanted {
        grow(&mut state.save_age, seen.elapsed, beyond(spec.save_max));
    }
    let ended = state.ledger.age(seen.helps);
    bank(limits, state, seen, off_credit) || ended
}

/// Time without power, credited out of the bank.
fn bank<const N: usize, const B: usize, const H: usize, const D: usize>(
    limits: &Limits<N, B>,
    state: &mut State<N, B, H, D>,
    seen: &Seen<N>,
    off_credit: Millis,
) -> bool {
    let spec = limits.spec();
    let earned = seen
        .helps
        .0
        .saturating_mul(u32::from(spec.off_credit_ratio));
    let credit = off_credit.min(state.off_bank);
    state.off_bank.0 = state.off_bank.0.saturating_sub(credit.0);
    grow(&mut state.off_bank, Millis(earned), spec.off_credit_max);
    if credit.0 > 0 {
        state.ledger.age(credit);
    }
    credit.0 > 0
}

/// The body that the valves select. A change restarts flow and settling, and owes a purge; so does a
/// position that was not known for a while.
fn body<const N: usize, const B: usize, const H: usize, const D: usize>(
    limits: &Limits<N, B>,
    state: &mut State<N, B, H, D>,
    seen: &Seen<N>,
) {
    let Some(body) = seen.body else {
        // Where the valves were meanwhile is not known: if they come back, that is a change too.
        state.selected = None;
        state.steady = Millis(0);
        return;
    };
    let steady_min = limits.spec().body_valves.get().unwrap_or(Millis(0));
    if state.selected == Some(body) {
        grow(&mut state.steady, seen.helps, steady_min);
        if !seen.clock_ok {
            state.steady = Millis(0);
        }
        return;
    }
    state.line.purged = Millis(0);
    state.selected = Some(body);
    state.steady = Millis(0);
    state.flow_proven = Millis(0);
    state.settled = Millis(0);
    for feeder in &mut state.feeders {
        feeder.cell_proven = Millis(0);
    }
    for response in &mut state.response {
        response.awaited = 0;
    }
}

/// Proving ages.
fn proofs<const N: usize, const B: usize, const H: usize, const D: usize>(
    limits: &Limits<N, B>,
    state: &mut State<N, B, H, D>,
    seen: &Seen<N>,
) {
    let spec = limits.spec();
    let prove = |age: &mut Millis, shown: bool, up_to: Millis| {
        if shown && seen.clock_ok {
            grow(age, seen.helps, up_to);
        } else {
            *age = Millis(0);
        }
    };
    prove(&mut state.flow_proven, seen.flow, spec.flow_prove);
    prove(&mut state.settled, seen.flow, spec.probe_settle);
    for (own, fact) in state.feeders.iter_mut().zip(seen.feeders.iter()) {
        prove(&mut own.cell_proven, fact.cell_flow, spec.flow_prove);
        if fact.governor_failed {
            let beyond = Millis(spec.probe_failure_max.0.saturating_add(1));
            grow(&mut own.probe_failed, seen.elapsed, beyond);
        } else {
            own.probe_failed = Millis(0);
        }
    }
}

/// Holds in flowing time of the body that the valves select.
fn holds<const N: usize, const B: usize, const H: usize, const D: usize>(
    limits: &Limits<N, B>,
    state: &mut State<N, B, H, D>,
    seen: &Seen<N>,
) {
    let Some(body) = seen.body.filter(|_| seen.flow) else {
        return;
    };
    let index = usize::from(body);
    let rows = state.since_cycle.iter_mut().zip(state.since_drive.iter());
    for (account, (bodies, since_drive)) in (0..N).zip(rows) {
        // Driven in this tick: the hold runs from the last drop on.
        let driven = since_drive.0 == 0;
        let hold = limits.body(account, index).map(|body| body.spread_hold);
        if let (Some(hold), Some(since)) = (hold.filter(|_| !driven), bodies.get_mut(index)) {
            grow(since, seen.helps, hold);
        }
    }
}

/// Judges the water's answers whose time has come; true for each account that had one.
///
/// After the rules, not before: a reading that is not trusted leaves an answer unjudged, and must
/// not thereby allow more in this tick than a trusted one would.
pub(crate) fn answers<const N: usize, const B: usize, const H: usize, const D: usize>(
    limits: &Limits<N, B>,
    state: &mut State<N, B, H, D>,
    seen: &Seen<N>,
) -> [bool; N] {
    let mut judged = [false; N];
    let settled = state.settled >= limits.spec().probe_settle;
    let (Some(body), Some(now)) = (seen.body, seen.ph.filter(|_| seen.flow && settled)) else {
        return judged;
    };
    let index = usize::from(body);
    let rows = state.since_cycle.iter().zip(state.response.iter_mut());
    for ((account, (bodies, response)), judged) in (0..N).zip(rows).zip(judged.iter_mut()) {
        let hold = limits.body(account, index).map(|body| body.spread_hold);
        if let (Some(hold), Some(since)) = (hold, bodies.get(index))
            && *since >= hold
            && response.awaited > 0
        {
            answer(limits, account, response, now);
            *judged = true;
        }
    }
    judged
}

/// Judges the water's answer to the last full cycle of acid or base.
fn answer<const N: usize, const B: usize>(
    limits: &Limits<N, B>,
    account: usize,
    response: &mut ResponseState,
    now: MilliPh,
) {
    use crate::product::Product;
    // Taken whatever follows: an answer that cannot be judged must not be awaited for ever.
    let quarters = i32::from(core::mem::replace(&mut response.awaited, 0));
    let Some(before) = response.before else {
        return;
    };
    let moved = match limits.product(account) {
        Some(Product::Acid) => before.0.saturating_sub(now.0),
        Some(Product::Base) => now.0.saturating_sub(before.0),
        _ => return,
    };
    let allowed = &limits.spec().response;
    let answer_min = allowed.answer_min.0.saturating_mul(quarters) >> 2;
    if moved > allowed.answer_max.0 || moved < allowed.wrong_way_max.0.saturating_neg() {
        response.wrong = true;
        return;
    }
    // One cycle at a quarter of the cap, and it was not wrong.
    response.quarter = false;
    if moved < answer_min {
        response.unanswered = response
            .unanswered
            .saturating_add(1)
            .min(allowed.unanswered_max);
    } else {
        response.unanswered = 0;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::clock::TickClock;
    use crate::facts::Facts;
    use crate::reading::Reading;
    use crate::test_site::{LIMITS, SPEC};
    use crate::units::HOUR_MS;

    type Small = State<2, 1, 7, 25>;

    fn seen() -> Seen<2> {
        let mut clock = TickClock::new();
        clock.step(0);
        let facts = Facts {
            flow_switch: Reading::now(true),
            pump_run: Reading::now(true),
            ph: Reading::now(MilliPh(7200)),
            ..Facts::UNKNOWN
        };
        Seen::of(&LIMITS, clock.step(1000), &facts)
    }

    #[test]
    fn what_the_ledger_loses_is_saved() {
        let seen = seen();
        let mut state = Small::POWER_ON;
        state.off_bank = Millis(10);
        assert!(!pass(&LIMITS, &mut state, &seen, Millis(0)));
        state.ledger.hour_age = Millis(HOUR_MS / 6 - 1000);
        assert!(pass(&LIMITS, &mut state, &seen, Millis(0)), "a bucket ends");
        assert!(!pass(&LIMITS, &mut state, &seen, Millis(0)));
        // Credit was taken out of the bank, whether a bucket ended by it or not.
        let bank = state.off_bank;
        assert!(pass(&LIMITS, &mut state, &seen, Millis(1)));
        let earned = 1000 * u32::from(SPEC.off_credit_ratio);
        assert_eq!(state.off_bank, Millis(bank.0 - 1 + earned));
    }

    /// Acid was fed at pH 7.4, and its hold has passed.
    fn awaiting() -> Small {
        let mut state = Small::POWER_ON;
        state.response[0].before = Some(MilliPh(7400));
        state.response[0].awaited = 4;
        state.since_cycle[0][0] = Millis(HOUR_MS);
        state
    }

    #[test]
    fn an_answer_waits_until_the_probe_has_settled() {
        let mut state = awaiting();
        state.settled = Millis(SPEC.probe_settle.0 - 1);
        assert_eq!(answers(&LIMITS, &mut state, &seen()), [false, false]);
        assert_eq!(state.response[0].awaited, 4);
        state.settled = SPEC.probe_settle;
        assert_eq!(answers(&LIMITS, &mut state, &seen()), [true, false]);
        assert_eq!(state.response[0].awaited, 0);
    }

    #[test]
    fn an_answer_at_its_bound_is_one() {
        let allowed = SPEC.response;
        // How far pH fell; whether that was wrong; cycles without an answer.
        for (moved, wrong, unanswered) in [
            (allowed.answer_max.0 + 1, true, 0),
            (allowed.answer_max.0, false, 0),
            (allowed.answer_min.0, false, 0),
            (allowed.answer_min.0 - 1, false, 1),
            (-allowed.wrong_way_max.0, false, 1),
            (-allowed.wrong_way_max.0 - 1, true, 0),
        ] {
            let mut response = awaiting().response[0];
            answer(&LIMITS, 0, &mut response, MilliPh(7400 - moved));
            let found = (response.wrong, response.unanswered);
            assert_eq!(found, (wrong, unanswered), "{moved}");
        }
    }
}
