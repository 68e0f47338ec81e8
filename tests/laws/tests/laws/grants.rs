//! Laws 1 and 2: worse facts, or a worse state, never grant any feeder more in the same tick.

use dosewarden_guard::units::{Dose, Millis};
use dosewarden_guard::{CycleStage, Facts, Health, Inhibits, Reading, ResponseState, step};
use proptest::prelude::*;

use crate::engine::{S, elapsed, input};
use crate::rig::{Rig, Shot};
use crate::script::{Script, lives};
use crate::{check, dispatch};

/// A tick of a life: one with a permit, if there is any and it is not this case's turn for another.
pub(crate) fn shot<const N: usize, const B: usize>(
    script: &Script,
    pick: usize,
) -> (Rig<N, B>, Option<Shot<N, B>>) {
    let mut rig = Rig::<N, B>::new(script.clone());
    rig.shots = Some(Vec::new());
    // What a life breaks is another test's to tell.
    let _ = rig.run();
    let all = rig.shots.take().unwrap_or_default();
    let with: Vec<_> = all.iter().filter(|shot| shot.permit).copied().collect();
    let from = if with.is_empty() || pick.is_multiple_of(4) {
        all
    } else {
        with
    };
    let shot = from.get(pick / 4 % from.len().max(1)).copied();
    (rig, shot)
}

fn runs<const N: usize, const B: usize>(
    rig: &Rig<N, B>,
    shot: &Shot<N, B>,
    saved: bool,
) -> [u32; N] {
    let input = input(elapsed(shot.gap_ms), &shot.now, saved);
    let (_, decision) = step(&rig.unit.limits, &shot.state, &input);
    decision.feeders.map(|row| row.run.0)
}

fn no_more<const N: usize>(better: [u32; N], worse: [u32; N], what: &str) -> Result<(), String> {
    for (feeder, (better, worse)) in better.into_iter().zip(worse).enumerate() {
        if worse > better {
            return Err(format!("feeder {feeder}: {better} ms; {what}: {worse} ms"));
        }
    }
    Ok(())
}

fn quality<T>(reading: &mut Reading<T>, how: u8) {
    match how % 3 {
        0 => reading.age = Millis(u32::MAX),
        1 => reading.health = Health::Failure,
        _ => reading.health = Health::MaintenanceRequired,
    }
}

/// One fact worse: quality down, yes to no, an inhibit set, a drive that was off on or not known.
/// Values of probes are not ordered.
fn worse_fact<const N: usize>(facts: &mut Facts<N>, which: u8, how: u8, gap_ms: u32) -> String {
    let feeder = usize::from(how) % N;
    match which % 17 {
        0 => facts.flow_switch.value = false,
        1 => quality(&mut facts.flow_switch, how),
        2 => facts.flow_meter.value.0 = 0,
        3 => quality(&mut facts.flow_meter, how),
        4 => facts.pump_run.value = false,
        5 => quality(&mut facts.pump_run, how),
        6 => quality(&mut facts.ph, how),
        7 => quality(&mut facts.orp, how),
        8 => quality(&mut facts.body, how),
        9 => facts.inhibits = facts.inhibits.with(Inhibits::from_bits(1 << (how % 8))),
        10 => quality(&mut facts.minute, how),
        11 => facts.saved = None,
        12 => facts.feeders[feeder].feedback.value = Millis(gap_ms),
        13 => quality(&mut facts.feeders[feeder].feedback, how),
        14 => facts.feeders[feeder].stock.value = false,
        15 => facts.feeders[feeder].cell_flow.value = false,
        _ => facts.feeders[feeder].hold_to_run.value = false,
    }
    format!("fact {}, {how}", which % 17)
}

fn law_1<const N: usize, const B: usize>(
    script: &Script,
    pick: usize,
    changes: &[(u8, u8)],
) -> Result<(), String> {
    let (rig, shot) = shot::<N, B>(script, pick);
    let Some(shot) = shot else {
        return Ok(());
    };
    let better = runs(&rig, &shot, false);
    let mut worse = shot;
    let mut what = String::new();
    for (which, how) in changes {
        what += &worse_fact(&mut worse.now.facts, *which, *how, shot.gap_ms);
        no_more(better, runs(&rig, &worse, false), &what)?;
    }
    for gap_ms in [0, rig.unit.limits.spec().tick_gap_max.0 + 1, u32::MAX] {
        let worse = Shot { gap_ms, ..shot };
        no_more([0; N], runs(&rig, &worse, false), "time out of range")?;
    }
    Ok(())
}

/// One field worse. `by` says how much.
fn worse_state<const N: usize, const B: usize>(
    state: &mut S<N, B>,
    which: u8,
    by: u32,
) -> &'static str {
    let feeder = usize::try_from(by).unwrap() % N;
    let body = usize::try_from(by / 8).unwrap() % B;
    let less = |age: &mut Millis| age.0 = age.0.saturating_sub(by);
    let more = |age: &mut Millis| age.0 = age.0.saturating_add(by);
    let own = &mut state.feeders[feeder];
    match which % 20 {
        0 => less(&mut state.powered),
        1 => less(&mut state.flow_proven),
        2 => less(&mut state.settled),
        3 => less(&mut state.steady),
        4 => less(&mut own.cell_proven),
        5 => less(&mut state.since_cycle[feeder][body]),
        6 => less(&mut state.since_drive[feeder]),
        7 => less(&mut state.line.purged),
        8 => less(&mut own.allowed),
        9 => own.stage = own.stage.min(STAGES[usize::try_from(by % 3).unwrap()]),
        10 => {
            let account = &mut state.ledger.accounts[feeder][body];
            account.hour_total = Dose(account.hour_total.0.saturating_add(by));
            account.day_total = Dose(account.day_total.0.saturating_add(by));
        }
        11 => more(&mut own.run),
        12 => {
            let lockout = dosewarden_guard::Lockout::ALL[usize::try_from(by % 11).unwrap()];
            state.site_lockouts = state.site_lockouts.with(lockout);
        }
        13 => more(&mut state.line.standing[feeder]),
        14 => more(&mut own.manual),
        15 => more(&mut own.probe_failed),
        16 => more(&mut state.disagree),
        17 => more(&mut own.against),
        18 => less(&mut state.fallback_left),
        _ => worse_response(&mut state.response[feeder], by),
    }
    WHICH[usize::from(which % 20)]
}

const STAGES: [CycleStage; 3] = [CycleStage::Idle, CycleStage::Closing, CycleStage::Pending];

const WHICH: [&str; 20] = [
    "powered",
    "flow_proven",
    "settled",
    "steady",
    "cell_proven",
    "since_cycle",
    "since_drive",
    "purged",
    "allowed",
    "stage",
    "totals",
    "run",
    "lockouts",
    "standing",
    "manual",
    "probe_failed",
    "disagree",
    "against",
    "fallback_left",
    "response",
];

fn worse_response(response: &mut ResponseState, by: u32) {
    match by % 3 {
        0 => response.wrong = true,
        1 => response.unanswered = u8::MAX,
        _ => response.since_cycle = Millis(0),
    }
}

fn law_2<const N: usize, const B: usize>(
    script: &Script,
    pick: usize,
    changes: &[(u8, u32)],
) -> Result<(), String> {
    let (rig, shot) = shot::<N, B>(script, pick);
    let Some(shot) = shot else {
        return Ok(());
    };
    for saved in [false, true] {
        let better = runs(&rig, &shot, saved);
        let mut worse = shot;
        for (which, by) in changes {
            let what = worse_state(&mut worse.state, *which, *by);
            no_more(better, runs(&rig, &worse, saved), what)?;
        }
    }
    Ok(())
}

#[test]
fn law_1_worse_facts_never_grant_more() {
    let changes = proptest::collection::vec((any::<u8>(), any::<u8>()), 1..4);
    check(
        (lives(), any::<usize>(), changes),
        |(script, pick, changes)| dispatch!(script, law_1(&script, pick, &changes)),
    );
}

#[test]
fn law_2_worse_states_never_grant_more() {
    let by = prop_oneof![1..3000_u32, any::<u32>()];
    let changes = proptest::collection::vec((any::<u8>(), by), 1..4);
    check(
        (lives(), any::<usize>(), changes),
        |(script, pick, changes)| dispatch!(script, law_2(&script, pick, &changes)),
    );
}
