//! (f) what clears a refusal is true: when the stated time has passed with all else good, that rule
//! no longer refuses.

use dosewarden_guard::units::Millis;
use dosewarden_guard::{Clear, Decision, FeedRequest, Mode, Rule, step};
use proptest::prelude::*;

use crate::engine::{Now, S, elapsed, input};
use crate::facts::healthy;
use crate::grants::shot;
use crate::rig::Rig;
use crate::script::{Script, lives};
use crate::{check, dispatch};

/// Longest wait that is lived tick by tick; what is left of a longer one, which only caps and
/// answers have, passes by the ledger's off time, or not at all.
const LIVED_MS: u32 = 7_300_000;
const TICK_MS: u32 = 2000;

/// The time stated. `None`: it is not a time that clears it.
fn stated(clear: Clear) -> Option<Millis> {
    match clear {
        Clear::After(time)
        | Clear::AfterFlow(time)
        | Clear::FlowThen(time)
        | Clear::OtherOffThen(time) => Some(time),
        // The tick that tells the position comes first: in it the valves may still have turned.
        Clear::ValvesThen(time) => Some(Millis(time.0.saturating_add(TICK_MS))),
        _ => None,
    }
}

/// Rules whose time begins anew with every drop, so that all else is good only once the drives have
/// stopped.
const BY_DROPS: [Rule; 3] = [Rule::SpreadHold, Rule::OneAtATime, Rule::LineClear];

fn clears<const N: usize, const B: usize>(script: &Script, pick: usize) -> Result<(), String> {
    let (rig, shot) = shot::<N, B>(script, pick);
    let Some(shot) = shot else {
        return Ok(());
    };
    let first = input(elapsed(shot.gap_ms), &shot.now, false);
    let (mut state, decision) = step(&rig.unit.limits, &shot.state, &first);
    all_clear(&rig, &state, &decision, &shot.now, |rule| {
        !BY_DROPS.contains(&rule)
    })?;
    // Nobody asks, and every drive stops.
    let quiet = good::<N>(state.selected.unwrap_or(0));
    let mut last = decision;
    for _ in 0..4 {
        let one = input(elapsed(1000), &quiet, false);
        (state, last) = step(&rig.unit.limits, &state, &one);
    }
    all_clear(&rig, &state, &last, &quiet, |_| true)
}

fn all_clear<const N: usize, const B: usize>(
    rig: &Rig<N, B>,
    state: &S<N, B>,
    decision: &Decision<N>,
    now: &Now<N>,
    looks_at: impl Fn(Rule) -> bool,
) -> Result<(), String> {
    for (feeder, row) in decision.feeders.iter().enumerate() {
        for rule in row.vetoes.iter().filter(|rule| looks_at(*rule)) {
            if let Some(Millis(wait)) = stated(row.clears(rule)) {
                let what = format!("feeder {feeder}: {}: {:?}", rule.name(), row.clears(rule));
                let mode = now.requests[feeder].mode;
                waited(rig, state, (feeder, rule, mode), wait)
                    .map_err(|why| format!("{what}: {why}"))?;
            }
        }
    }
    Ok(())
}

/// Healthy facts of the body that is selected, with the clock in the operating hours.
fn good<const N: usize>(body: u8) -> Now<N> {
    let mut facts = healthy::<N>();
    facts.body.value.0 = body;
    Now {
        facts,
        requests: [FeedRequest::NONE; N],
        action: None,
        state_intact: true,
        limits_intact: true,
        off_credit: 0,
    }
}

fn waited<const N: usize, const B: usize>(
    rig: &Rig<N, B>,
    state: &S<N, B>,
    (feeder, rule, mode): (usize, Rule, Mode),
    wait: u32,
) -> Result<(), String> {
    let limits = &rig.unit.limits;
    let mut state = *state;
    let mut now = good::<N>(state.selected.unwrap_or(0));
    // The mode of the request decides which rules apply; a fallback that stands goes on.
    if mode == Mode::Fallback && rule == Rule::FallbackBounded {
        now.requests[feeder].mode = mode;
        state.fallback_left = Millis(u32::MAX);
    }
    let mut left = wait;
    if left > LIVED_MS && matches!(rule, Rule::DayCap | Rule::HourCap | Rule::FallbackBounded) {
        state.off_bank = Millis(u32::MAX);
        now.off_credit = left - LIVED_MS;
        left = LIVED_MS;
    }
    loop {
        let gap = left.clamp(1, TICK_MS);
        let (next, decision) = step(limits, &state, &input(elapsed(gap), &now, false));
        now.off_credit = 0;
        state = next;
        left = left.saturating_sub(gap);
        if left == 0 {
            return if decision.feeders[feeder].vetoes.has(rule) {
                Err(format!("still {:?}", decision.feeders[feeder].clears(rule)))
            } else {
                Ok(())
            };
        }
    }
}

#[test]
fn f_what_is_stated_to_clear_a_refusal_clears_it() {
    check((lives(), any::<usize>()), |(script, pick)| {
        dispatch!(script, clears(&script, pick))
    });
}
