//! From regulators and persons to what is asked of the guard in one tick.

use crate::guard::units::{DAY_MS, Dose, MilliPh, Millis, Millivolts};
use crate::guard::{
    CycleStage, FeederDecision, FeederSpec, Governor, Guard, Limits, Mode, Rule, RuleSet, State,
};
use crate::io::Inputs;
use crate::regulate::{Regulator, View};

/// Why the controller holds a request back, besides the rules and the turn.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Held {
    /// The pump stops within a purge of the end of any dose.
    PumpStops(Millis),
    /// The output of the drive, or of the series contact, has failed.
    Output,
    /// A dose by hand has not spread for so much flowing time yet.
    HandDose(Millis),
    /// With doses by hand the day's cap is used up, for so long.
    HandDay(Millis),
    /// The pool was given to another board.
    GivenAway,
    /// Water answers this feeder's product the wrong way.
    WrongWay,
    /// Water has not answered this feeder's product, and has chlorine enough.
    Unanswered,
}

/// What is wanted of one feeder.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Ask {
    pub(crate) dose: Dose,
    pub(crate) mode: Mode,
    pub(crate) held: Option<Held>,
    /// The value that governs is known; without it nothing can be said about the demand.
    pub(crate) known: bool,
}

impl Ask {
    pub(crate) const NOTHING: Self = Self {
        dose: Dose(0),
        mode: Mode::Automatic,
        held: None,
        known: true,
    };

    pub(crate) const fn wants(&self) -> bool {
        self.dose.0 > 0
    }

    /// Holds what nobody stands beside, for what water made of the feeder's product: a person who feeds by hand
    /// sees what comes. A cycle that stands is given: half of one would tell less.
    pub(crate) fn hold_for_answers(&mut self, why: Option<Held>, stage: CycleStage) {
        let is_begun = why == Some(Held::Unanswered) && in_cycle(stage);
        if self.held.is_none() && self.wants() && self.mode != Mode::Manual && !is_begun {
            self.held = why;
        }
    }
}

/// A feed by hand that a person has announced.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct ByHand {
    dose: Dose,
    /// Time left to press the button.
    waits: Millis,
    pressed: bool,
}

impl ByHand {
    pub(crate) const fn new(dose: Dose) -> Self {
        Self {
            dose,
            waits: crate::act::HAND_WAITS,
            pressed: false,
        }
    }
}

/// What the controller remembers of one feeder's asking.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Asking {
    pub(crate) by_hand: Option<ByHand>,
    /// Time until the next dose of fallback is due.
    fallback_due: Millis,
    /// Smallest dose that the guard would charge.
    pub(crate) least: Dose,
}

impl Asking {
    pub(crate) const START: Self = Self {
        by_hand: None,
        fallback_due: Millis(0),
        least: Dose(0),
    };
}

/// Values that can be believed, of water that has moved past the probe for long enough.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Water {
    pub(crate) ph: Option<MilliPh>,
    pub(crate) orp: Option<Millivolts>,
}

impl Water {
    pub(crate) fn of<const N: usize, const B: usize, const H: usize, const D: usize>(
        guard: &Guard<N, B, H, D>,
        inputs: &Inputs<N>,
    ) -> Self {
        let site = guard.limits().spec();
        let settled = guard.state().settled >= site.probe_settle;
        let age_max = site.probe_age_max;
        let ph = inputs.facts.ph.trusted(age_max);
        let orp = inputs.facts.orp.trusted(age_max);
        Self {
            ph: ph.filter(|_| settled && site.ph_probe.is_fitted()),
            orp: orp.filter(|_| settled && site.orp_probe.is_fitted()),
        }
    }

    pub(crate) fn governing(&self, governor: Governor) -> Option<i32> {
        match governor {
            Governor::Ph => self.ph.map(|ph| ph.0),
            Governor::Orp => self.orp.map(|orp| orp.0),
            Governor::TimedShare => None,
        }
    }
}

/// The smallest dose that the guard would charge: one that is worth a cycle by its limits, and runs
/// for a tick (or a timer's grain) besides the drive's off delay.
pub(crate) fn least<const N: usize, const B: usize>(
    limits: &Limits<N, B>,
    spec: &FeederSpec<B>,
) -> Dose {
    let grain = if spec.cut_timer.is_fitted() {
        Millis(1)
    } else {
        limits.spec().tick_gap_max
    };
    let run = Millis(grain.0.saturating_add(spec.drive_off.0));
    spec.rate_for_caps().dose_ceil(run).max(spec.dose_min)
}

/// All that is needed to ask for one feeder.
pub(crate) struct Desk<'a, const N: usize, const B: usize, const H: usize, const D: usize> {
    pub(crate) limits: &'a Limits<N, B>,
    pub(crate) state: &'a State<N, B, H, D>,
    pub(crate) inputs: &'a Inputs<N>,
    pub(crate) water: Water,
    pub(crate) elapsed: Millis,
}

impl<const N: usize, const B: usize, const H: usize, const D: usize> Desk<'_, N, B, H, D> {
    /// What is wanted of a feeder in this tick. Every regulator is called every tick, so that its
    /// time goes on also while a person feeds by hand.
    pub(crate) fn ask(
        &self,
        feeder: usize,
        row: &FeederDecision,
        asking: &mut Asking,
        regulator: &mut impl Regulator,
        learned: Option<u16>,
    ) -> Ask {
        let Some(spec) = self.limits.feeder(feeder) else {
            return Ask::NOTHING;
        };
        let body = usize::from(self.state.selected.unwrap_or(0));
        let value = self.water.governing(spec.governor);
        let view = View {
            elapsed: self.elapsed,
            product: spec.product,
            value,
            ph: self.water.ph,
            orp: self.water.orp,
            in_cycle: in_cycle(row.stage),
            closed: row.closed,
            dose_min: asking.least,
            cycle_cap: self.limits.caps(feeder, body, self.state.stage).cycle,
            rate: spec.rate,
            learned_milli: learned.unwrap_or(1000),
        };
        let proposed = regulator.propose(&view);
        let mut ask = Ask {
            dose: proposed,
            mode: Mode::Automatic,
            held: None,
            known: value.is_some() || spec.governor == Governor::TimedShare,
        };
        if let Some(dose) = self.fallback(spec, body, row, asking) {
            ask.dose = dose;
            ask.mode = Mode::Fallback;
            ask.known = true;
        }
        if let Some(dose) = self.by_hand(feeder, row, asking) {
            ask.dose = dose;
            ask.mode = Mode::Manual;
            ask.known = true;
        }
        self.hold_back(feeder, spec, row, asking.least, &mut ask);
        ask
    }

    /// A dose of fallback, if the feeder is in it. Doses are spread over the day by time: the caps
    /// alone would let the day's amount go in its first hours.
    fn fallback(
        &self,
        spec: &FeederSpec<B>,
        body: usize,
        row: &FeederDecision,
        asking: &mut Asking,
    ) -> Option<Dose> {
        let caps = spec.bodies.get(body)?.fallback.get()?;
        if self.state.fallback_left.0 == 0 {
            asking.fallback_due = Millis(0);
            return None;
        }
        let left = asking.fallback_due.0.saturating_sub(self.elapsed.0);
        asking.fallback_due = Millis(left);
        if row
            .closed
            .is_some_and(|closed| closed.mode == Mode::Fallback && closed.fed.0 > 0)
        {
            asking.fallback_due = spread_ceil(caps.cycle, caps.day);
        }
        let due = asking.fallback_due.0 == 0 || in_cycle(row.stage);
        Some(if due { caps.cycle } else { Dose(0) })
    }

    /// The dose of a feed by hand, while its button is held.
    fn by_hand(&self, feeder: usize, row: &FeederDecision, asking: &mut Asking) -> Option<Dose> {
        let hand = asking.by_hand.as_mut()?;
        let fresh = self.limits.spec().witness_age_max;
        let facts = self.inputs.facts.feeders.get(feeder);
        let held = facts.and_then(|facts| facts.hold_to_run.trusted(fresh)) == Some(true);
        let given = row
            .closed
            .is_some_and(|closed| closed.mode == Mode::Manual && closed.fed.0 > 0);
        if held && !given {
            hand.pressed = true;
            return Some(hand.dose);
        }
        hand.waits = Millis(hand.waits.0.saturating_sub(self.elapsed.0));
        if hand.pressed || hand.waits.0 == 0 || given {
            asking.by_hand = None;
        }
        None
    }

    /// Ends feed one purge ahead of a pump stop that is known of, and before that asks for no more
    /// than there is time for. Holds back where an output has failed.
    fn hold_back(
        &self,
        feeder: usize,
        spec: &FeederSpec<B>,
        row: &FeederDecision,
        least: Dose,
        ask: &mut Ask,
    ) {
        let fault = self.inputs.line_faults.get(feeder) == Some(&true);
        if fault || self.inputs.master_fault {
            ask.held = Some(Held::Output);
        } else if let Some(stop) = self.inputs.pump_stops_in {
            let site = self.limits.spec();
            // The next tick may come this late, and the drive goes off that late.
            let before = site
                .purge
                .0
                .saturating_add(spec.drive_off.0)
                .saturating_add(site.tick_gap_max.0);
            let left = Millis(stop.0.saturating_sub(before));
            if left.0 == 0 {
                ask.held = Some(Held::PumpStops(stop));
            } else if ask.wants() {
                let fits = spec.rate_for_caps().dose_ceil(left);
                if !in_cycle(row.stage) && fits < least {
                    ask.held = Some(Held::PumpStops(stop));
                }
                // Of a cycle that runs, what is charged stays; a further slice has to fit as well.
                let run = self.state.feeders.get(feeder).map(|own| own.run);
                let given = spec.rate_for_caps().dose_ceil(run.unwrap_or(Millis(0)));
                let most = Dose(given.0.saturating_add(fits.0)).max(row.charged);
                ask.dose = ask.dose.min(most);
            }
        }
    }
}

pub(crate) const fn in_cycle(stage: CycleStage) -> bool {
    matches!(stage, CycleStage::Pending | CycleStage::Open)
}

/// Time from one dose of fallback to the next, so that the day's cap lasts for a day. Rounded up.
fn spread_ceil(cycle: Dose, day: Dose) -> Millis {
    let whole = u64::from(DAY_MS).saturating_mul(u64::from(cycle.0));
    let rounded = whole.saturating_add(u64::from(day.0).saturating_sub(1));
    let each = rounded.checked_div(u64::from(day.0));
    Millis(each.map_or(DAY_MS, |each| u32::try_from(each).unwrap_or(DAY_MS)))
}

/// Rules whose refusal is no reason to give up one's turn: the turn itself, and the charge, which
/// comes of asking.
pub(crate) const fn blocking(vetoes: RuleSet) -> RuleSet {
    vetoes
        .without(Rule::OneAtATime)
        .without(Rule::ChargeDurable)
}

#[cfg(test)]
mod tests;
