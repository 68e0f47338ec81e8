//! Permits: what only the guard can make, and only the next driver can use.
//!
//! A [`Permit`] names its feeder in its type, so it cannot be given to another feeder's drive. It
//! cannot be copied or stored past the next judgement: it borrows from the guard.

use core::marker::PhantomData;

use crate::answer::Clear;
use crate::decision::{Decision, FeederDecision};
use crate::rules::Rule;
use crate::units::Millis;

/// Leave for feeder `F` to run, now, for at most [`Permit::run_max`].
#[derive(Debug)]
#[must_use = "a permit that is not applied feeds nothing, and its time is charged all the same"]
pub struct Permit<'g, const F: usize> {
    run: Millis,
    guard: PhantomData<&'g ()>,
}

impl<const F: usize> Permit<'_, F> {
    /// Longest run that it covers, from the judgement on. At most `tick_gap_max`.
    #[must_use]
    pub const fn run_max(&self) -> Millis {
        self.run
    }

    /// Index of its feeder.
    #[must_use]
    pub const fn feeder(&self) -> usize {
        F
    }
}

/// Leave to close the series contact that cuts all feeders.
#[derive(Debug)]
#[must_use = "without it no feeder runs"]
pub struct MasterPermit<'g> {
    run: Millis,
    guard: PhantomData<&'g ()>,
}

impl MasterPermit<'_> {
    /// Longest time that it covers: the longest permit of this tick.
    #[must_use]
    pub const fn run_max(&self) -> Millis {
        self.run
    }
}

/// What was judged in this tick: permits to take, each once, and the decision to look at.
#[derive(Debug)]
pub struct Verdict<'g, const N: usize> {
    decision: &'g Decision<N>,
    taken: [bool; N],
    master_taken: bool,
}

impl<'g, const N: usize> Verdict<'g, N> {
    pub(crate) const fn of(decision: &'g Decision<N>) -> Self {
        Self {
            decision,
            taken: [false; N],
            master_taken: false,
        }
    }

    /// Takes feeder `F`'s permit, if it has one. There is one a tick.
    pub fn permit<const F: usize>(&mut self) -> Option<Permit<'g, F>> {
        const { assert!(F < N, "there is no such feeder") };
        let run = self.decision.feeders.get(F)?.run;
        let taken = self.taken.get_mut(F)?;
        if *taken || run.0 == 0 {
            return None;
        }
        *taken = true;
        Some(Permit {
            run,
            guard: PhantomData,
        })
    }

    /// Takes the permit of the series contact. There is one a tick, if any feeder has a permit and
    /// no drive runs against its command.
    pub fn master(&mut self) -> Option<MasterPermit<'g>> {
        if self.master_taken || !self.decision.master {
            return None;
        }
        self.master_taken = true;
        let longest = self.decision.feeders.iter().map(|feeder| feeder.run).max();
        Some(MasterPermit {
            run: longest.unwrap_or(Millis(0)),
            guard: PhantomData,
        })
    }

    /// The whole decision, as data.
    #[must_use]
    pub const fn decision(&self) -> &'g Decision<N> {
        self.decision
    }

    /// The decision for one feeder.
    #[must_use]
    pub fn feeder(&self, feeder: usize) -> Option<&'g FeederDecision> {
        self.decision.feeders.get(feeder)
    }

    /// What clears a rule's refusal of a feeder; [`Clear::Nothing`] if it does not refuse.
    #[must_use]
    pub fn explain(&self, feeder: usize, rule: Rule) -> Clear {
        self.feeder(feeder)
            .map_or(Clear::Nothing, |feeder| feeder.clears(rule))
    }
}
