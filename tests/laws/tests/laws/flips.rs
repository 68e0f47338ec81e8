//! One bit of the state flips, anywhere: nothing runs, a person is needed, and what the state then
//! says is no better than before. The day counts as used.

use dosewarden_guard::units::Millis;
use dosewarden_guard::{Action, ActionResult, Authority, Lockout, PersonAction, Stage, step};
use proptest::prelude::*;

use crate::engine::{S, elapsed, input};
use crate::grants::shot;
use crate::script::{Script, lives};
use crate::{check, dispatch};

const FIELDS: u8 = 34;

/// Flips one bit of a field.
fn flip<const N: usize, const B: usize>(state: &mut S<N, B>, field: u8, which: usize, bit: u32) {
    let (feeder, body) = (which % N, which / 8 % B);
    let mask = 1_u32 << (bit % 32);
    let own = &mut state.feeders[feeder];
    let account = &mut state.ledger.accounts[feeder][body];
    let word = match field % FIELDS {
        0 => &mut state.powered.0,
        1 => &mut state.flow_proven.0,
        2 => &mut state.settled.0,
        3 => &mut state.steady.0,
        4 => &mut own.cell_proven.0,
        5 => &mut state.since_cycle[feeder][body].0,
        6 => &mut state.since_drive[feeder].0,
        7 => &mut state.line.purged.0,
        8 => &mut own.allowed.0,
        9 => &mut own.charge.0,
        10 => &mut own.next_slice.0,
        11 => &mut own.run.0,
        12 => &mut own.permit.0,
        13 => &mut own.off.0,
        14 => &mut own.manual.0,
        15 => &mut own.probe_failed.0,
        16 => &mut own.against.0,
        17 => &mut own.deaf.0,
        18 => &mut own.clear.0,
        19 => &mut own.cut.0,
        20 => &mut state.disagree.0,
        21 => &mut state.line.standing[feeder].0,
        22 => &mut state.fallback_left.0,
        23 => &mut state.off_bank.0,
        24 => &mut state.save_age.0,
        25 => &mut state.ledger.hour_age.0,
        26 => &mut state.ledger.day_age.0,
        27 => &mut account.hour[which % 7].0,
        28 => &mut account.day[which % 25].0,
        29 => &mut account.hour_total.0,
        30 => &mut account.day_total.0,
        31 => &mut state.response[feeder].since_cycle.0,
        32 => {
            own.body ^= 1 << (bit % 8);
            return;
        }
        _ => {
            state.new_probe = !state.new_probe;
            return;
        }
    };
    *word ^= mask;
}

fn flipped<const N: usize, const B: usize>(
    script: &Script,
    pick: usize,
    (field, which, bit): (u8, usize, u32),
) -> Result<(), String> {
    let (rig, shot) = shot::<N, B>(script, pick);
    let Some(mut shot) = shot else {
        return Ok(());
    };
    let limits = &rig.unit.limits;
    flip(&mut shot.state, field, which, bit);
    shot.now.state_intact = false;
    shot.now.action = None;
    let first = input(elapsed(shot.gap_ms), &shot.now, true);
    let (state, decision) = step(limits, &shot.state, &first);
    if decision.master || decision.feeders.iter().any(|row| row.run.0 > 0) {
        return Err("a permit on a state that changed by itself".into());
    }
    if !state.site_lockouts.has(Lockout::StateSeal) || !decision.save {
        return Err("no lockout, or it is not saved".into());
    }
    // A person releases it at once.
    shot.now.state_intact = true;
    shot.now.action = Some(PersonAction {
        by: Authority::Technician,
        action: Action::Release {
            lockout: Lockout::StateSeal,
            feeder: 0,
            pool_empty: true,
            remedy: None,
        },
    });
    let (state, decision) = step(limits, &state, &input(elapsed(1000), &shot.now, false));
    if decision.action != Some(ActionResult::Done) {
        return Err(format!("{:?}", decision.action));
    }
    for feeder in (0..N).filter(|one| limits.account(*one) == *one) {
        for body in 0..B {
            let cap = limits.body(feeder, body).unwrap().day_cap;
            let (hour, day) = state.ledger.totals(feeder, body);
            if day < cap || hour < cap {
                return Err(format!("{hour:?} and {day:?} of {cap:?} count as used"));
            }
        }
    }
    if state.fallback_left > Millis(0) || state.stage != Stage::Reduced {
        return Err("a fallback or a stage that nobody set".into());
    }
    Ok(())
}

#[test]
fn a_flipped_bit_needs_a_person_and_the_day_counts_as_used() {
    let flip = (0..FIELDS, any::<usize>(), any::<u32>());
    check((lives(), any::<usize>(), flip), |(script, pick, flip)| {
        dispatch!(script, flipped(&script, pick, flip))
    });
}
