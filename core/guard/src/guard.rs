//! The guard: owns the state, and alone turns a decision into permits.

use crate::clock::Elapsed;
use crate::cycle;
use crate::decision::{Decision, Notices};
use crate::facts::Facts;
use crate::limits::Limits;
use crate::off_time::OffTime;
use crate::record::{Record, RecordError, Ticket};
use crate::request::{PersonAction, Requests};
use crate::restore::{bound_times, change_products, lose, products, resume};
use crate::state::{CycleStage, FeederState, State};
use crate::step::{Input, advance};
use crate::sum::{Crc32, WordSum};
use crate::units::ClockSeconds;
use crate::verdict::Verdict;

/// What was found at start.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Restored {
    /// Both records were whole and equal.
    Equal {
        /// Cycles that stood open: each counts as fed in full, owes its hold and a purge.
        open_cycles: usize,
        /// The limits are not those under which the record was made.
        limits_changed: bool,
    },
    /// One was whole, or they differed: the later one counts. A person should know.
    Differing {
        /// Cycles that stood open.
        open_cycles: usize,
        /// The limits are not those under which the record was made.
        limits_changed: bool,
    },
    /// Neither was whole: the day counts as used, and a person is needed.
    Lost,
}

/// What became of new limits.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[must_use]
pub enum SetLimits {
    /// They apply.
    Applied,
    /// They loosen something, change a rate, or end a run that is longer than they allow, while a
    /// cycle stands: the cycles are being closed, and feed nothing more. The old limits still apply;
    /// set the new ones again after a tick.
    ClosingFirst,
}

/// Owns the state of `N` feeders, `B` bodies, and a ledger of `H` buckets of the hour and `D` of
/// the day. Not `Clone`: there is one guard, and one permit a feeder and tick.
#[derive(Debug)]
pub struct Guard<const N: usize, const B: usize, const H: usize, const D: usize> {
    limits: Limits<N, B>,
    limits_sum: u64,
    limits_crc: u32,
    /// The CRC was found wrong since the limits were set.
    limits_broken: bool,
    state: State<N, B, H, D>,
    state_sum: u64,
    sequence: u32,
    outstanding: Option<Ticket>,
    /// The record changed since the outstanding one was sealed.
    changed: bool,
    off_time: OffTime,
    decision: Decision<N>,
}

impl<const N: usize, const B: usize, const H: usize, const D: usize> Guard<N, B, H, D> {
    /// Starts from the two records that the store holds; `None` for one that is not whole.
    ///
    /// The later one counts. Charges that stood open count as fed in full. Without any, the day
    /// counts as used and a person is needed: [`Action::Initialise`](crate::Action::Initialise) for
    /// a new unit.
    #[must_use]
    pub fn restore(
        limits: Limits<N, B>,
        first: Option<&Record<N, B, H, D>>,
        second: Option<&Record<N, B, H, D>>,
    ) -> (Self, Restored) {
        let equal = first == second;
        let later = match (first, second) {
            (Some(a), Some(b)) => Some(if b.sequence > a.sequence { b } else { a }),
            (one, other) => one.or(other),
        };
        // Built where it is returned, and changed there: a state is large beside the stack of a
        // small controller, and each copy of it would lie there at the same time.
        let mut all = (Self::begin(limits), Restored::Lost);
        let (guard, found) = &mut all;
        match later {
            None => lose(&guard.limits, &mut guard.state),
            Some(record) => {
                guard.state = record.state;
                guard.sequence = record.sequence;
                guard.off_time = OffTime::since(record.stamp);
                let limits_changed = record.limits_crc != guard.limits_crc;
                // Version 1 does not name the products; under the same limits they are the same.
                let unnamed = if limits_changed {
                    [None; N]
                } else {
                    products(&guard.limits)
                };
                let before = record.products.unwrap_or(unnamed);
                let open_cycles = resume(&guard.limits, &mut guard.state, &before);
                change_products(&guard.limits, &mut guard.state, &before);
                *found = if equal {
                    Restored::Equal {
                        open_cycles,
                        limits_changed,
                    }
                } else {
                    Restored::Differing {
                        open_cycles,
                        limits_changed,
                    }
                };
            }
        }
        guard.state_sum = WordSum::of(&guard.state);
        all
    }

    /// A second guard in the same state: for trials of what could happen next, never in a device, where there
    /// is one guard.
    #[cfg(feature = "upset")]
    #[must_use]
    pub fn fork(&self) -> Self {
        Self {
            limits: self.limits.clone(),
            ..*self
        }
    }

    /// Changes the state behind the guard's back, as a flipped bit would: for trials, never in a device. The
    /// next [`judge`](Self::judge) finds the seal broken.
    #[cfg(feature = "upset")]
    pub fn upset_state(&mut self, change: impl FnOnce(&mut State<N, B, H, D>)) {
        change(&mut self.state);
    }

    /// Before a record is looked at. The sum over the state is not taken yet.
    fn begin(limits: Limits<N, B>) -> Self {
        Self {
            limits_sum: WordSum::of(&limits),
            limits_crc: Crc32::of_value(limits.spec()),
            limits,
            limits_broken: false,
            state: State::POWER_ON,
            state_sum: 0,
            sequence: 0,
            outstanding: None,
            changed: true,
            off_time: OffTime::since(None),
            decision: Decision::NOTHING,
        }
    }

    /// One tick. The verdict's permits cannot outlive the next call.
    pub fn judge(
        &mut self,
        elapsed: Elapsed,
        facts: Facts<N>,
        requests: Requests<N>,
        action: Option<PersonAction>,
    ) -> Verdict<'_, N> {
        let state_intact = WordSum::of(&self.state) == self.state_sum;
        let limits_intact = !self.limits_broken && WordSum::of(&self.limits) == self.limits_sum;
        let clock = facts.clock.trusted(self.limits.spec().witness_age_max);
        let tick_gap_max = self.limits.spec().tick_gap_max;
        let charged = |own: &FeederState| own.stage != CycleStage::Idle;
        let against = self.decision.notices.any_of(Notices::RUNS_AGAINST);
        if against || self.state.feeders.iter().any(charged) {
            self.off_time.forget();
        }
        let off = self.off_time.tick(clock, elapsed.millis(), tick_gap_max);
        if off.passed.0 > 0 {
            let left = &mut self.state.fallback_left;
            left.0 = left.0.saturating_sub(off.passed.0);
        }
        let saved = !self.changed && self.outstanding.is_some() && facts.saved == self.outstanding;
        let input = Input {
            elapsed,
            facts: &facts,
            requests: &requests,
            action,
            saved,
            state_intact,
            limits_intact,
            off_credit: off.credit,
        };
        advance(&self.limits, &mut self.state, &input, &mut self.decision);
        if saved {
            self.outstanding = None;
        }
        self.changed |= self.decision.changed;
        self.state_sum = WordSum::of(&self.state);
        Verdict::of(&self.decision)
    }

    /// Seals a record of everything that has to survive the power, into `out`. Write it whole to
    /// both places, read both back, and report the ticket in [`Facts::saved`] once they are equal.
    /// Seal again only when [`Decision::save`] still stands after that, or to start over.
    ///
    /// # Errors
    /// [`RecordError::Space`] if `out` is shorter than [`Record::LEN`];
    /// [`RecordError::StateChanged`] if the state is not as the last judgement left it: the next
    /// one locks out and fills the day, and that is what has to be saved.
    pub fn seal_record(&mut self, out: &mut [u8]) -> Result<Ticket, RecordError> {
        if WordSum::of(&self.state) != self.state_sum {
            return Err(RecordError::StateChanged);
        }
        // No charge counts before a record with it was sealed, so the limits are checked in full
        // here, and for each charge.
        self.limits_broken |= Crc32::of_value(self.limits.spec()) != self.limits_crc;
        let sequence = self.sequence.saturating_add(1);
        let record = Record {
            sequence,
            stamp: self.off_time.now(),
            limits_crc: self.limits_crc,
            products: Some(products(&self.limits)),
            state: self.state,
        };
        let ticket = record.encode(out)?;
        self.sequence = sequence;
        self.outstanding = Some(ticket);
        self.changed = false;
        Ok(ticket)
    }

    /// Sets new limits. What tightens applies at once; what loosens, or changes a rate or what is
    /// fitted, waits until every cycle is closed, and closes them. A product that is new here, or is
    /// now given by another feeder first, counts the day as used and owes its hold and a purge.
    pub fn set_limits(&mut self, limits: Limits<N, B>) -> SetLimits {
        let intact = WordSum::of(&self.state) == self.state_sum;
        let stopped = self
            .state
            .feeders
            .iter()
            .all(|own| own.stage == CycleStage::Idle);
        // A run that is past its new limit already is ended first; else it would look like a drive
        // that did not stop.
        let runs_fit = (0..N).zip(self.state.feeders.iter()).all(|(feeder, own)| {
            let spec = limits.feeder(feeder);
            spec.is_none_or(|spec| own.run <= spec.run_max)
        });
        let applies = stopped || (runs_fit && limits.no_looser_than(&self.limits));
        if applies {
            let before = products(&self.limits);
            self.limits = limits;
            self.limits_sum = WordSum::of(&self.limits);
            self.limits_crc = Crc32::of_value(self.limits.spec());
            self.limits_broken = false;
            bound_times(&self.limits, &mut self.state);
            change_products(&self.limits, &mut self.state, &before);
            // Time off before these limits must not age a day that they used up.
            self.off_time.forget();
            self.state.save_wanted = true;
            self.changed = true;
        } else {
            for own in &mut self.state.feeders {
                cycle::end(own);
            }
        }
        // A state that was not intact must not become so by being summed anew.
        if intact {
            self.state_sum = WordSum::of(&self.state);
        }
        if applies {
            SetLimits::Applied
        } else {
            SetLimits::ClosingFirst
        }
    }

    /// The limits that apply.
    #[must_use]
    pub const fn limits(&self) -> &Limits<N, B> {
        &self.limits
    }

    /// What the guard remembers, to look at.
    #[must_use]
    pub const fn state(&self) -> &State<N, B, H, D> {
        &self.state
    }

    /// What was decided in the last tick.
    #[must_use]
    pub const fn decision(&self) -> &Decision<N> {
        &self.decision
    }

    /// What clears a rule's refusal of a feeder, as of the last tick.
    #[must_use]
    pub fn explain(&self, feeder: usize, rule: crate::Rule) -> crate::Clear {
        self.decision
            .feeders
            .get(feeder)
            .map_or(crate::Clear::Nothing, |row| row.clears(rule))
    }

    /// Stamp that the next record would carry, if the clock is trusted.
    #[must_use]
    pub const fn clock(&self) -> Option<ClockSeconds> {
        self.off_time.now()
    }
}

#[cfg(test)]
mod tests;
