//! Laws 4 and 5: who is healthy and asks is fed, in bounded time, and both of two get their turn.

use dosewarden_guard::units::Dose;
use dosewarden_guard::{Rule, RuleSet};

use crate::rig::Rig;
use crate::script::{Demand, Script, healthy_lives, lives};
use crate::{check, dispatch};

/// All that a healthy unit may have to wait for before it charges, side by side; and then the two
/// ticks of the handshake.
fn start_ms(script: &Script) -> u64 {
    let plan = &script.plan;
    let longest = [
        plan.flow_prove_s,
        plan.settle_s,
        plan.hold_s + 1,
        plan.purge_s,
        plan.power_on_s,
        3,
    ];
    let tick = u64::from(script.tick_ms);
    u64::from(longest.into_iter().max().unwrap()) * 1000 + 8 * tick
}

/// The longest dose: the cycle's run, or as long as its records take; the drive's off delay; and
/// the ticks of opening and closing.
fn dose_ms(script: &Script) -> u64 {
    let plan = &script.plan;
    let tick = u64::from(script.tick_ms);
    u64::from(plan.cycle_ticks * crate::site::GAP + plan.drive_off_ms) + 10 * tick
}

fn first_permits<const N: usize, const B: usize>(
    rig: &mut Rig<N, B>,
    within_ms: u64,
) -> Result<[Option<u64>; N], String> {
    let mut first = [None; N];
    let begin = rig.truth.world_ms;
    while rig.truth.world_ms - begin < within_ms {
        rig.step()?;
        for (first, row) in first.iter_mut().zip(&rig.decision.feeders) {
            if row.run.0 > 0 && first.is_none() {
                *first = Some(rig.truth.world_ms - begin);
            }
        }
    }
    Ok(first)
}

fn law_4<const N: usize, const B: usize>(script: &Script) -> Result<(), String> {
    let mut rig = Rig::<N, B>::new(script.clone());
    let purge = u64::from(script.plan.purge_s) * 1000;
    let hold = u64::from(script.plan.hold_s + 1) * 1000;
    // One dose of each other feeder may come first, each with its purge.
    let others = u64::try_from(N).unwrap() - 1;
    let turn = others * (dose_ms(script) + purge) + 8 * u64::from(script.tick_ms);
    let bound = start_ms(script) + turn;
    let first = first_permits(&mut rig, bound)?;
    // Two feeders of one product share a hold: the second one waits for it as well.
    let limits = rig.unit.limits.clone();
    let shared = |feeder: usize| {
        let product = limits.product(feeder);
        (0..N).any(|other| other != feeder && limits.product(other) == product)
    };
    for (feeder, first) in first.into_iter().enumerate() {
        if first.is_none() && !shared(feeder) {
            let why = rig.decision.feeders[feeder].vetoes;
            return Err(format!(
                "feeder {feeder} had no turn in {bound} ms: {why:?}"
            ));
        }
    }
    let again = first_permits(&mut rig, turn + hold + dose_ms(script))?;
    for (feeder, again) in again.into_iter().enumerate() {
        let why = rig.decision.feeders[feeder].vetoes;
        if again.is_none() && !shared(feeder) && !waits_long(why) {
            return Err(format!("feeder {feeder} had no second turn: {why:?}"));
        }
    }
    Ok(())
}

#[test]
fn law_4_both_get_their_turn() {
    check(healthy_lives(), |mut script| {
        script.demand = Demand::Turns;
        dispatch!(script, law_4(&script))
    });
}

fn law_5<const N: usize, const B: usize>(script: &Script) -> Result<(), String> {
    let mut rig = Rig::<N, B>::new(script.clone());
    let bound = start_ms(script);
    let first = first_permits(&mut rig, bound)?;
    let Demand::One(one) = script.demand else {
        return Err("one feeder asks".into());
    };
    let asks = usize::from(one).min(N - 1);
    if first[asks].is_none() {
        let why = rig.decision.feeders[asks].vetoes;
        return Err(format!("feeder {asks} was not fed in {bound} ms: {why:?}"));
    }
    Ok(())
}

#[test]
fn law_5_healthy_and_asked_means_fed() {
    check((healthy_lives(), 0..3_u8), |(mut script, one)| {
        script.demand = Demand::One(one);
        dispatch!(script, law_5(&script))
    });
}

/// What only long waiting clears.
fn waits_long(vetoes: RuleSet) -> bool {
    [Rule::HourCap, Rule::DayCap, Rule::ResponseSane]
        .into_iter()
        .any(|rule| vetoes.has(rule))
}

/// When the faults stop and a person has come, feeding resumes, or a cap says why not.
fn resumes<const N: usize, const B: usize>(script: &Script) -> Result<(), String> {
    let mut rig = Rig::<N, B>::new(script.clone());
    // What a life breaks is another test's to tell.
    if rig.run().is_err() {
        return Ok(());
    }
    rig.script.events.clear();
    rig.script.person_at = 0;
    rig.script.tick_ms = 1000;
    rig.ph = 7500;
    for feeder in 0..N {
        rig.script.demand = Demand::One(u8::try_from(feeder).unwrap());
        // Closing, releasing, and a drive's feedback that has to be off for a while.
        let bound = start_ms(&rig.script) + dose_ms(&rig.script) + 60_000;
        let first = first_permits(&mut rig, bound)?;
        let vetoes = rig.decision.feeders[feeder].vetoes;
        if first[feeder].is_none() && !waits_long(vetoes) {
            return Err(format!("feeder {feeder} does not resume: {vetoes:?}"));
        }
    }
    Ok(())
}

#[test]
fn when_the_faults_stop_feeding_resumes() {
    check(lives(), |script| dispatch!(script, resumes(&script)));
}

/// A demand too small for a cycle must not keep the other product waiting for ever.
#[test]
fn a_demand_too_small_for_a_cycle_starves_nobody() {
    check((healthy_lives(), 1..2000_u32), |(mut script, dose)| {
        script.demand = Demand::All;
        dispatch!(script, small(&script, dose))
    });
}

fn small<const N: usize, const B: usize>(script: &Script, dose: u32) -> Result<(), String> {
    let mut rig = Rig::<N, B>::new(script.clone());
    rig.first_asks = Some(Dose(dose));
    let purge = u64::from(script.plan.purge_s) * 1000;
    let turns = u64::try_from(N).unwrap() * (dose_ms(script) + purge);
    let bound = start_ms(script) + turns;
    let first = first_permits(&mut rig, bound)?;
    if first.iter().all(Option::is_none) {
        let why = rig.decision.feeders.map(|row| row.vetoes);
        return Err(format!("nobody was fed in {bound} ms: {why:?}"));
    }
    // Nor may a demand that becomes small in an open cycle let two products run at once.
    rig.first_asks = None;
    while rig.decision.feeders[0].run.0 == 0 && rig.truth.world_ms < 5 * bound {
        rig.step()?;
    }
    rig.first_asks = Some(Dose(dose));
    first_permits(&mut rig, bound).map(drop)
}
