//! What persons have put in the way of feed: a pause, a lay-up, a dose that was poured by hand. It
//! only ever takes away: the guard still decides on what is left to ask for.

use crate::ask::{Ask, Held, in_cycle};
use crate::guard::units::{Body, DAY_MS, Dose, Millis};
use crate::guard::{FeederDecision, Governor, Inhibits, Limits, State};
use crate::stages::Evidence;

/// The longest pause. Our choice: whoever wants longer lays up, and opens up again.
pub const PAUSE_MAX: Millis = Millis(DAY_MS);

/// What was poured by hand of one product.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct HandDoses {
    /// How much, as the feeder's product; counts towards the day's cap.
    pub dose: Dose,
    /// The body of water that all of it went into, and against which it counts. `None`: nobody said, or it
    /// went into more than one; it counts against each.
    pub body: Option<Body>,
    /// Time until it counts no more: a day from the last, for all of it.
    pub counts_for: Millis,
    /// Time of flow through its body, or through any, until it has spread.
    pub spreads_for: Millis,
}

impl HandDoses {
    /// None.
    pub const NONE: Self = Self {
        dose: Dose(0),
        body: None,
        counts_for: Millis(0),
        spreads_for: Millis(0),
    };

    /// Whether it counts against the body that the valves select; where none is known, it does.
    pub(crate) fn counts_in(&self, selected: Option<u8>) -> bool {
        let other = self.body.zip(selected);
        other.is_none_or(|(own, selected)| own.0 == selected)
    }
}

/// All of it. Keep it across a restart: cycling the power must not end a pause.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Restraints<const N: usize> {
    /// Time that is left of a pause.
    pub paused: Millis,
    /// Laid up for winter.
    pub is_laid_up: bool,
    /// By hand, at the first feeder of each product.
    #[cfg_attr(feature = "serde", serde(with = "crate::serial::array"))]
    pub by_hand: [HandDoses; N],
    /// Whether it only observes, and the evidence for the next stage.
    pub evidence: Evidence,
}

impl<const N: usize> Restraints<N> {
    /// None.
    pub const NONE: Self = Self {
        paused: Millis(0),
        is_laid_up: false,
        by_hand: [HandDoses::NONE; N],
        evidence: Evidence::NONE,
    };

    /// What the guard is told.
    pub(crate) const fn inhibits(&self) -> Inhibits {
        let mut inhibits = Inhibits::NONE;
        if self.paused.0 > 0 {
            inhibits = inhibits.with(Inhibits::PAUSED);
        }
        if self.is_laid_up {
            inhibits = inhibits.with(Inhibits::LAID_UP);
        }
        if self.evidence.is_observing {
            inhibits = inhibits.with(Inhibits::OBSERVE_ONLY);
        }
        inhibits
    }

    /// Lets time pass. True if a pause ended by itself.
    pub(crate) fn pass(&mut self, elapsed: Millis, flows: bool, selected: Option<u8>) -> bool {
        let was_paused = self.paused.0 > 0;
        less(&mut self.paused, elapsed);
        for by_hand in self.by_hand.iter_mut().filter(|one| one.counts_for.0 > 0) {
            less(&mut by_hand.counts_for, elapsed);
            let through = |own: Body| selected == Some(own.0);
            if flows && by_hand.body.is_none_or(through) {
                less(&mut by_hand.spreads_for, elapsed);
            }
            if by_hand.counts_for.0 == 0 {
                *by_hand = HandDoses::NONE;
            }
        }
        was_paused && self.paused.0 == 0
    }

    /// Notes a dose by hand, into a body that is there if one is said. False if there is no such feeder, or
    /// it is not in use.
    pub(crate) fn dosed<const B: usize>(
        &mut self,
        limits: &Limits<N, B>,
        selected: Option<u8>,
        feeder: usize,
        (dose, body): (Dose, Option<Body>),
    ) -> bool {
        let Some(spec) = limits.feeder(feeder) else {
            return false;
        };
        // Into which body nobody knows: the longest hold.
        let hold_in = body.map(|body| body.0).or(selected);
        let known = hold_in.and_then(|body| spec.bodies.get(usize::from(body)));
        let longest = || spec.bodies.iter().map(|body| body.spread_hold).max();
        let spreads_for = known.map(|body| body.spread_hold).or_else(longest);
        let spreads_for = spreads_for.unwrap_or(Millis(DAY_MS));
        let Some(by_hand) = self.by_hand.get_mut(limits.account(feeder)) else {
            return false;
        };
        let was = *by_hand;
        let is_other = was.counts_for.0 > 0 && was.body != body;
        *by_hand = HandDoses {
            dose: Dose(was.dose.0.saturating_add(dose.0)),
            body: body.filter(|_| !is_other),
            counts_for: Millis(DAY_MS),
            // What went into another body before spreads on.
            spreads_for: spreads_for.max(if is_other { was.spreads_for } else { Millis(0) }),
        };
        true
    }

    /// Holds back what is asked for, as far as doses by hand want it: the same product, and what
    /// ORP governs, waits until they have spread, since ORP moves with pH and with chlorine; and
    /// the day's cap counts them.
    pub(crate) fn hold_back<const B: usize, const H: usize, const D: usize>(
        &self,
        limits: &Limits<N, B>,
        state: &State<N, B, H, D>,
        feeder: usize,
        (row, least): (&FeederDecision, Dose),
        ask: &mut Ask,
    ) {
        let Some(spec) = limits.feeder(feeder) else {
            return;
        };
        if ask.held.is_some() || !ask.wants() {
            return;
        }
        let account = limits.account(feeder);
        let here = |one: &&HandDoses| one.counts_in(state.selected);
        let own = self.by_hand.get(account).filter(here).copied();
        let own = own.unwrap_or(HandDoses::NONE);
        let all = self.by_hand.iter().filter(here);
        let all = all.map(|one| one.spreads_for).max();
        let spreads_for = match spec.governor {
            Governor::Orp => all.unwrap_or(own.spreads_for),
            Governor::Ph | Governor::TimedShare => own.spreads_for,
        };
        if spreads_for.0 > 0 {
            ask.held = Some(Held::HandDose(spreads_for));
        } else if own.dose.0 > 0 && !in_cycle(row.stage) {
            let body = usize::from(state.selected.unwrap_or(0));
            let cap = limits.caps(feeder, body, state.stage).day;
            let fed = state.ledger.totals(account, body).1;
            let left = cap.0.saturating_sub(fed.0).saturating_sub(own.dose.0);
            ask.dose = ask.dose.min(Dose(left));
            if ask.dose < least {
                ask.held = Some(Held::HandDay(own.counts_for));
            }
        }
    }
}

const fn less(left: &mut Millis, by: Millis) {
    left.0 = left.0.saturating_sub(by.0);
}

#[cfg(test)]
mod tests;
