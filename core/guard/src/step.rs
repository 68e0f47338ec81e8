//! One tick, as a pure function: limits, state, facts and requests in, state and decision out.

use crate::action::{self, Intact};
use crate::ages;
use crate::clock::Elapsed;
use crate::cycle::{self, Judged};
use crate::decision::{Decision, FeederDecision, Notices};
use crate::drive;
use crate::facts::Facts;
use crate::limits::{Cutoff, Limits};
use crate::lockout::{Lockout, LockoutSet};
use crate::request::{Action, ActionResult, FeedRequest, PersonAction, Requests, Stage};
use crate::rules::{self, Answers, Context};
use crate::seen::Seen;
use crate::state::{CycleStage, State};
use crate::units::{Dose, Millis};

/// Everything that enters one tick.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Input<'a, const N: usize> {
    /// Time since the last tick.
    pub elapsed: Elapsed,
    /// What is known.
    pub facts: &'a Facts<N>,
    /// What is asked for.
    pub requests: &'a Requests<N>,
    /// What a person does in this tick.
    pub action: Option<PersonAction>,
    /// The record with everything charged so far was read back from both places.
    pub saved: bool,
    /// The state is as the last tick left it.
    pub state_intact: bool,
    /// The limits are as they were set.
    pub limits_intact: bool,
    /// Time without power that a trusted clock has shown, once; bounded by the bank.
    pub off_credit: Millis,
}

/// One tick. Same in, same out, bit for bit, on every machine.
#[must_use]
pub fn step<const N: usize, const B: usize, const H: usize, const D: usize>(
    limits: &Limits<N, B>,
    state: &State<N, B, H, D>,
    input: &Input<'_, N>,
) -> (State<N, B, H, D>, Decision<N>) {
    let mut next = *state;
    let mut decision = Decision::NOTHING;
    advance(limits, &mut next, input, &mut decision);
    (next, decision)
}

/// [`step`] in place: what the guard runs. Nothing of the decision before is read.
pub(crate) fn advance<const N: usize, const B: usize, const H: usize, const D: usize>(
    limits: &Limits<N, B>,
    state: &mut State<N, B, H, D>,
    input: &Input<'_, N>,
    decision: &mut Decision<N>,
) {
    let seen = Seen::of(limits, input.elapsed, input.facts);
    let mut save = !input.state_intact;
    if !input.state_intact {
        broken(limits, state);
    }
    if input.saved {
        cycle::confirm(limits, state);
        state.save_wanted = false;
        state.save_age = Millis(0);
    }
    // A drive that does not follow is judged by what was known before this tick: feedback that says
    // off must not allow less in it than feedback that says on.
    let mut deaf = state.feeders.map(|own| own.deaf);
    save |= drive::account(limits, state, &seen);
    save |= ages::pass(limits, state, &seen, input.off_credit);
    let intact = Intact {
        state: input.state_intact,
        limits: input.limits_intact,
    };
    let result = input
        .action
        .map(|person| action::take(limits, state, &seen, intact, person));
    save |= result == Some(ActionResult::Done);
    if let Some(feeder) = drive_released(input, result)
        && let Some(one) = deaf.get_mut(feeder)
    {
        *one = Millis(0);
    }
    decision.clear();
    decision.action = result;
    let judged = judge_all(limits, state, &seen, input, deaf, decision);
    save |= enter_lockouts(state, &judged);
    let answered = ages::answers(limits, state, &seen);
    save |= answered.contains(&true);
    for (feeder, one) in (0..N).zip(judged.iter()) {
        let Some(one) = one else {
            continue;
        };
        let mut judged = one.judged;
        // An answer that was judged in this tick binds the next charge.
        let waits = answered
            .get(limits.account(feeder))
            .copied()
            .unwrap_or(true);
        judged.charge_refused |= waits;
        let outcome = cycle::advance(limits, state, &seen, input.requests, feeder, judged);
        save |= outcome.save;
        if let Some(row) = decision.feeders.get_mut(feeder) {
            row.run = outcome.run;
            row.closed = outcome.closed;
        }
    }
    finish(limits, state, &seen, decision, save);
}

/// The feeder whose drive a person has released in this tick.
fn drive_released<const N: usize>(
    input: &Input<'_, N>,
    result: Option<ActionResult>,
) -> Option<usize> {
    match input.action?.action {
        Action::Release {
            lockout: Lockout::Drive,
            feeder,
            ..
        } if result == Some(ActionResult::Done) => Some(feeder),
        _ => None,
    }
}

/// What the rules said of one feeder, and the lockouts that they enter.
#[derive(Clone, Copy)]
struct Verdicts {
    judged: Judged,
    site: LockoutSet,
    feeder: LockoutSet,
}

/// The state changed by itself: nothing in it can be believed to be smaller than it was.
fn broken<const N: usize, const B: usize, const H: usize, const D: usize>(
    limits: &Limits<N, B>,
    state: &mut State<N, B, H, D>,
) {
    state.site_lockouts = state.site_lockouts.with(Lockout::StateSeal);
    state.line.purged = Millis(0);
    state.since_drive = [Millis(0); N];
    state.since_cycle = [[Millis(0); B]; N];
    state.stage = Stage::Reduced;
    for age in [
        &mut state.fallback_left,
        &mut state.off_bank,
        &mut state.powered,
        &mut state.flow_proven,
        &mut state.settled,
        &mut state.steady,
        &mut state.ledger.hour_age,
        &mut state.ledger.day_age,
    ] {
        *age = Millis(0);
    }
    for feeder in &mut state.feeders {
        feeder.cell_proven = Millis(0);
    }
    for response in &mut state.response {
        response.since_cycle = Millis(0);
    }
    for account in state.ledger.accounts.iter_mut().flatten() {
        account.resum();
    }
    action::use_up_all(limits, state);
}

fn judge_all<const N: usize, const B: usize, const H: usize, const D: usize>(
    limits: &Limits<N, B>,
    state: &State<N, B, H, D>,
    seen: &Seen<N>,
    input: &Input<'_, N>,
    deaf: [Millis; N],
    decision: &mut Decision<N>,
) -> [Option<Verdicts>; N] {
    let mut all = [None; N];
    let master_open = state.ran_against.contains(&true);
    let rows = all.iter_mut().zip(decision.feeders.iter_mut()).zip(deaf);
    for (feeder, ((judged, row), deaf)) in (0..N).zip(rows) {
        let Some(mut context) = context(limits, state, seen, input, feeder) else {
            continue;
        };
        context.deaf = deaf;
        context.master_open = master_open;
        row.enabled = true;
        *judged = Some(judge_one(&context, row));
    }
    all
}

fn judge_one<const N: usize, const B: usize, const H: usize, const D: usize>(
    context: &Context<'_, N, B, H, D>,
    row: &mut FeederDecision,
) -> Verdicts {
    let mut answers = Answers::new(&mut row.clears);
    let charge = rules::judge(context, &mut answers);
    let verdicts = Verdicts {
        judged: Judged {
            vetoes: answers.vetoes,
            most_run: answers.most_run,
            charge_refused: charge.refuses,
            most_dose: charge.most_dose,
        },
        site: answers.site,
        feeder: answers.feeder,
    };
    row.vetoes = verdicts.judged.vetoes;
    verdicts
}

fn context<'a, const N: usize, const B: usize, const H: usize, const D: usize>(
    limits: &'a Limits<N, B>,
    state: &'a State<N, B, H, D>,
    seen: &'a Seen<N>,
    input: &Input<'a, N>,
    feeder: usize,
) -> Option<Context<'a, N, B, H, D>> {
    let spec = limits.feeder(feeder)?;
    let own = state.feeders.get(feeder)?;
    let body_index = if own.stage == CycleStage::Idle {
        usize::from(state.selected.unwrap_or(0))
    } else {
        usize::from(own.body)
    };
    let account = limits.account(feeder);
    let charged = (0..N)
        .zip(state.feeders.iter())
        .fold(0_u32, |sum, (other, its)| {
            let counts = its.stage != CycleStage::Idle
                && usize::from(its.body) == body_index
                && limits.account(other) == account;
            if counts {
                sum.saturating_add(its.charged().0)
            } else {
                sum
            }
        });
    Some(Context {
        limits,
        state,
        seen,
        requests: input.requests,
        state_intact: input.state_intact,
        limits_intact: input.limits_intact,
        feeder,
        spec,
        body: spec.bodies.get(body_index)?,
        body_index,
        account,
        own,
        fact: seen.feeders.get(feeder)?,
        request: input
            .requests
            .get(feeder)
            .copied()
            .unwrap_or(FeedRequest::NONE),
        caps: limits.caps(feeder, body_index, state.stage),
        charged: Dose(charged),
        grain: cycle::grain(limits, spec),
        deaf: own.deaf,
        master_open: false,
    })
}

/// Lockouts that a rule entered in this tick. Saved in the same tick.
fn enter_lockouts<const N: usize, const B: usize, const H: usize, const D: usize>(
    state: &mut State<N, B, H, D>,
    judged: &[Option<Verdicts>; N],
) -> bool {
    let mut entered = false;
    for (standing, verdicts) in state.feeder_lockouts.iter_mut().zip(judged.iter()) {
        let Some(verdicts) = verdicts else {
            continue;
        };
        let with = standing.union(verdicts.feeder);
        entered |= with != *standing;
        *standing = with;
        let site = state.site_lockouts.union(verdicts.site);
        entered |= site != state.site_lockouts;
        state.site_lockouts = site;
    }
    entered
}

fn finish<const N: usize, const B: usize, const H: usize, const D: usize>(
    limits: &Limits<N, B>,
    state: &mut State<N, B, H, D>,
    seen: &Seen<N>,
    decision: &mut Decision<N>,
    save: bool,
) {
    let mut notices = Notices::NONE;
    let mut permitted = false;
    let rows = decision.feeders.iter_mut().zip(state.feeders.iter());
    for (feeder, (row, own)) in (0..N).zip(rows) {
        row.stage = own.stage;
        row.charged = own.charged();
        permitted |= row.run.0 > 0;
        let Some(spec) = limits.feeder(feeder) else {
            continue;
        };
        let body = spec.bodies.get(usize::from(state.selected.unwrap_or(0)));
        if let (Some(Cutoff::Oxidiser { ph_weak, .. }), Some(ph)) =
            (body.map(|body| body.cutoff), seen.ph)
            && ph > ph_weak
        {
            notices = notices.with(Notices::WEAK_CHLORINE);
        }
    }
    // No feeder has a permit while a drive runs against command: `drive_obeys` refuses them all.
    decision.master = permitted;
    if state.ran_against.contains(&true) {
        notices = notices.with(Notices::RUNS_AGAINST);
    }
    state.save_wanted |= save;
    decision.save = state.save_wanted;
    decision.changed = save;
    decision.notices = notices.with(standing_notices(limits, state, seen));
}

fn standing_notices<const N: usize, const B: usize, const H: usize, const D: usize>(
    limits: &Limits<N, B>,
    state: &State<N, B, H, D>,
    seen: &Seen<N>,
) -> Notices {
    let spec = limits.spec();
    let mut notices = Notices::NONE;
    if state.save_age > spec.save_max {
        notices = notices.with(Notices::SAVE_OVERDUE);
    }
    if seen.pump_without_flow {
        notices = notices.with(Notices::PUMP_WITHOUT_FLOW);
    }
    let unanswered = |count: u8| count >= spec.response.unanswered_max;
    if state
        .response
        .iter()
        .any(|response| unanswered(response.unanswered))
    {
        notices = notices.with(Notices::NO_ANSWER);
    }
    let warn = spec
        .fallback
        .get()
        .map_or(Millis(0), |fallback| fallback.warn_before);
    if state.fallback_left.0 > 0 && state.fallback_left <= warn {
        notices = notices.with(Notices::FALLBACK_ENDS);
    }
    notices
}

#[cfg(test)]
mod tests;
