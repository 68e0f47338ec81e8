//! A cycle's life: charged, confirmed durable, run, closed, booked.
//!
//! The charge is taken before the first drop and confirmed in both records. Inside the cycle only
//! drive-on milliseconds are counted; volume is worked out once, at closing, rounded up. Only
//! closing gives back what was not fed, once, after the drive is known to be off.

use crate::decision::Closed;
use crate::drive::{book, grow};
use crate::limits::{FeederSpec, Limits};
use crate::lockout::Lockout;
use crate::product::Product;
use crate::request::{FeedRequest, Requests, Stage};
use crate::rules::{Rule, RuleSet};
use crate::seen::{DriveSeen, Seen};
use crate::state::{CycleStage, FeederState, State};
use crate::units::{Body, Dose, MilliPh, Millis};

/// What the rules said of one feeder.
#[derive(Clone, Copy)]
pub(crate) struct Judged {
    /// Rules that refuse.
    pub(crate) vetoes: RuleSet,
    /// Longest run from now, if none refuses.
    pub(crate) most_run: Millis,
    /// A rule other than `charge_durable` refuses: nothing may be charged.
    pub(crate) charge_refused: bool,
    /// What may be charged, by all rules but `charge_durable`.
    pub(crate) most_dose: Dose,
}

/// What became of one feeder's cycle in this tick.
#[derive(Clone, Copy, Default)]
pub(crate) struct Outcome {
    pub(crate) run: Millis,
    pub(crate) closed: Option<Closed>,
    /// The record changed in a way that has to be saved.
    pub(crate) save: bool,
}

/// Rules whose refusal ends an open cycle rather than cutting it.
///
/// A tick that did not come in time ends it too: for how long the cut stood, a counter that stood or a program
/// that hung cannot say, and less than a hold must not pass for one.
const ENDING: [Rule; 8] = [
    Rule::ClockSane,
    Rule::StateSealed,
    Rule::LimitsSealed,
    Rule::CycleCap,
    Rule::RunTimeCap,
    Rule::NoLockout,
    Rule::ManualBounded,
    Rule::FallbackBounded,
];

fn ends(vetoes: RuleSet) -> bool {
    ENDING.into_iter().any(|rule| vetoes.has(rule))
}

/// Moves one feeder's cycle on by one tick.
pub(crate) fn advance<const N: usize, const B: usize, const H: usize, const D: usize>(
    limits: &Limits<N, B>,
    state: &mut State<N, B, H, D>,
    seen: &Seen<N>,
    requests: &Requests<N>,
    feeder: usize,
    judged: Judged,
) -> Outcome {
    let mut outcome = Outcome::default();
    let (Some(spec), Some(request)) = (limits.feeder(feeder), requests.get(feeder)) else {
        return outcome;
    };
    let account = limits.account(feeder);
    let busy = others_busy(limits, state, feeder, spec.product);
    let selected = seen.body;
    let Some(own) = state.feeders.get_mut(feeder) else {
        return outcome;
    };
    match own.stage {
        CycleStage::Idle => {
            if request.stands() && !judged.charge_refused && !busy {
                let grain = grain(limits, spec);
                if let Some(body) = selected
                    && open(spec, own, *request, judged.most_dose, grain, body)
                {
                    outcome.save = true;
                }
            }
        }
        CycleStage::Pending | CycleStage::Open => {
            let moved = selected.is_some_and(|body| body != own.body);
            let withdrawn = !request.stands() || request.mode != own.mode;
            let resume_within = limits.spec().resume_within;
            if withdrawn || moved || ends(judged.vetoes) || cut_too_long(own, seen, resume_within) {
                own.stage = CycleStage::Closing;
            } else if own.stage == CycleStage::Open && judged.vetoes.is_empty() {
                outcome.run = judged.most_run.min(limits.spec().tick_gap_max);
                own.cut = Millis(0);
                outcome.save = next_slice(spec, own, *request, judged.most_dose);
            }
        }
        CycleStage::Closing => {}
    }
    permit(own, outcome.run);
    let stage = own.stage;
    if stage == CycleStage::Pending && outcome.save {
        remember_ph(state, account, seen.ph);
    }
    if stage == CycleStage::Closing {
        outcome.closed = close(limits, state, seen, feeder, account);
        outcome.save |= outcome.closed.is_some();
    }
    outcome
}

/// Remembers the permit; the time since one ended starts when there is none any more.
fn permit(own: &mut FeederState, run: Millis) {
    if own.permit.0 > 0 || run.0 > 0 {
        own.off = Millis(0);
    }
    own.permit = run;
}

/// Ends a cycle from outside a tick.
pub(crate) fn end(own: &mut FeederState) {
    if own.in_cycle() {
        own.stage = CycleStage::Closing;
    }
}

/// Smallest run worth a permit: a tick's worth, or 1 ms where a timer cuts at the exact end.
pub(crate) fn grain<const N: usize, const B: usize>(
    limits: &Limits<N, B>,
    spec: &FeederSpec<B>,
) -> Millis {
    if spec.cut_timer.is_fitted() {
        Millis(1)
    } else {
        limits.spec().tick_gap_max
    }
}

/// Another feeder of the product, or an incompatible one, was charged in this very tick.
fn others_busy<const N: usize, const B: usize, const H: usize, const D: usize>(
    limits: &Limits<N, B>,
    state: &State<N, B, H, D>,
    feeder: usize,
    product: Product,
) -> bool {
    (0..N).zip(state.feeders.iter()).any(|(other, own)| {
        other != feeder
            && own.stage == CycleStage::Pending
            && limits
                .product(other)
                .is_some_and(|its| its == product || its.incompatible_with(product))
    })
}

/// Charges a cycle, if what may be charged is worth it.
fn open<const B: usize>(
    spec: &FeederSpec<B>,
    own: &mut FeederState,
    request: FeedRequest,
    may: Dose,
    grain: Millis,
    body: u8,
) -> bool {
    let charge = request.dose.min(may).min(spec.slice_max);
    let run = spec.rate_for_caps().run_floor(charge);
    let allowed = Millis(run.0.saturating_sub(spec.drive_off.0));
    if charge < spec.dose_min || allowed < grain {
        return false;
    }
    own.stage = CycleStage::Pending;
    own.mode = request.mode;
    own.body = body;
    own.charge = charge;
    own.next_slice = Dose(0);
    own.allowed = allowed;
    own.run = Millis(0);
    own.cut = Millis(0);
    true
}

fn remember_ph<const N: usize, const B: usize, const H: usize, const D: usize>(
    state: &mut State<N, B, H, D>,
    account: usize,
    ph: Option<MilliPh>,
) {
    if let Some(response) = state.response.get_mut(account) {
        response.before = ph;
        response.awaited = 0;
    }
}

/// Charges the next slice once half of this one has run.
fn next_slice<const B: usize>(
    spec: &FeederSpec<B>,
    own: &mut FeederState,
    request: FeedRequest,
    may: Dose,
) -> bool {
    let wanted = Dose(request.dose.0.saturating_sub(own.charge.0));
    let slice = wanted.min(may).min(spec.slice_max);
    if own.next_slice.0 > 0 || slice < spec.dose_min {
        return false;
    }
    let half = spec.rate_for_caps().dose_ceil(own.left()).0 <= spec.slice_max.0 >> 1;
    if half {
        own.next_slice = slice;
    }
    half
}

/// The charge is durable: a pending cycle opens, a pending slice is added.
pub(crate) fn confirm<const N: usize, const B: usize, const H: usize, const D: usize>(
    limits: &Limits<N, B>,
    state: &mut State<N, B, H, D>,
) {
    for (feeder, own) in (0..N).zip(state.feeders.iter_mut()) {
        if own.stage == CycleStage::Pending {
            own.stage = CycleStage::Open;
        }
        let Some(spec) = limits.feeder(feeder).filter(|_| own.next_slice.0 > 0) else {
            continue;
        };
        if own.stage == CycleStage::Open {
            let more = spec.rate_for_caps().run_floor(own.next_slice);
            grow(&mut own.allowed, more, Millis(u32::MAX));
        }
        own.charge = own.charged();
        own.next_slice = Dose(0);
    }
}

/// A cut longer than `resume_within` ends the cycle. Counts open cycles without a permit.
fn cut_too_long<const N: usize>(own: &mut FeederState, seen: &Seen<N>, within: Millis) -> bool {
    if own.stage != CycleStage::Open || own.permit.0 > 0 {
        own.cut = Millis(0);
        return false;
    }
    grow(
        &mut own.cut,
        seen.elapsed,
        Millis(within.0.saturating_add(1)),
    );
    own.cut > within && own.run.0 > 0
}

/// Books a closing cycle once its drive is known to be off. If it does not go off in time, nothing
/// is given back, and what it runs from then on is booked as it runs.
fn close<const N: usize, const B: usize, const H: usize, const D: usize>(
    limits: &Limits<N, B>,
    state: &mut State<N, B, H, D>,
    seen: &Seen<N>,
    feeder: usize,
    account: usize,
) -> Option<Closed> {
    let spec = limits.feeder(feeder)?;
    let fact = seen.feeders.get(feeder)?;
    let stage = state.stage;
    let unsure = state.site_lockouts.has(Lockout::LimitsSeal);
    let own = state.feeders.get_mut(feeder)?;
    // A permit that ended in this very tick may still drip, though no time has passed under it.
    let never_ran = own.run.0 == 0 && own.permit.0 == 0 && own.off.0 > 0;
    // Feedback that says off is believed once the drive has had the time to go off: one that lies
    // would shorten the hold by what still drips.
    let stopped = own.off.0 > 0 && own.off >= spec.drive_off;
    let off = match fact.drive {
        DriveSeen::On(on) => on.0 == 0 && stopped,
        DriveSeen::NotFitted => stopped,
        DriveSeen::Unknown => false,
    };
    let waited = own.off.0
        > spec
            .drive_off
            .0
            .saturating_add(limits.spec().tick_gap_max.0);
    if !(off || waited || never_ran) {
        return None;
    }
    let ran = spec.rate_for_caps().dose_ceil(own.run);
    let charged = own.charged();
    // By limits that changed by themselves nobody can say what a run gave.
    let fed = if (off || never_ran) && !unsure {
        ran
    } else {
        ran.max(charged)
    };
    let full = own.left() < grain(limits, spec) && own.next_slice.0 == 0;
    let (body, mode, run) = (own.body, own.mode, own.run);
    let cap = spec
        .bodies
        .get(usize::from(body))
        .map_or(Dose(0), |limits| limits.cycle_cap);
    own.stage = CycleStage::Idle;
    own.charge = Dose(0);
    own.next_slice = Dose(0);
    own.allowed = Millis(0);
    own.run = Millis(0);
    own.cut = Millis(0);
    if run.0 > 0 {
        book(state, account, Some(body), fed);
        if let Some(response) = state.response.get_mut(account) {
            // A cycle that a small cap made small is judged all the same.
            let small = response.quarter || stage == Stage::Reduced;
            // What the water of another body shows is no answer.
            let here = state.selected == Some(body);
            let awaited = quarters(fed, cap).max(u8::from(full && small));
            response.awaited = if here { awaited } else { 0 };
            response.since_cycle = Millis(0);
        }
    }
    Some(Closed {
        fed,
        charged,
        full,
        body: Body(body),
        mode,
    })
}

/// How many quarters of the cap a dose makes, up to 4.
fn quarters(fed: Dose, cap: Dose) -> u8 {
    let quarter = (cap.0 >> 2).max(1);
    (1_u8..=4)
        .rev()
        .find(|count| fed.0 >= quarter.saturating_mul(u32::from(*count)))
        .unwrap_or(0)
}

#[cfg(test)]
mod tests;
