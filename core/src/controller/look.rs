//! What a display, a store or a person may look at.

use super::Controller;
use crate::alarm::Alarms;
use crate::event::Events;
use crate::guard::{FeedRequest, Guard, LockoutSet};
use crate::machine::Phase;
use crate::regulate::Regulator;
use crate::why::Why;

impl<const N: usize, const B: usize, const H: usize, const D: usize, R: Regulator>
    Controller<N, B, H, D, R>
{
    /// What stands in the way of a feeder, as of the last tick: nothing while it has a permit.
    /// `None` if there is no such feeder.
    #[must_use]
    pub fn why(&self, feeder: usize) -> Option<Why<'_>> {
        let row = self.guard.decision().feeders.get(feeder)?;
        let state = self.guard.state();
        let own = state.feeder_lockouts.get(feeder).copied();
        Some(Why::of(
            row,
            self.around.asks.get(feeder),
            self.other_asks(feeder),
            state.site_lockouts.union(own.unwrap_or(LockoutSet::NONE)),
        ))
    }

    /// Whether a product that this feeder's must not meet has the turn, and asks.
    fn other_asks(&self, feeder: usize) -> bool {
        let limits = self.guard.limits();
        let Some(own) = limits.product(feeder) else {
            return false;
        };
        (0..N).zip(self.around.may).any(|(other, may)| {
            let product = limits.product(other);
            may && product.is_some_and(|product| own.incompatible_with(product))
        })
    }

    /// The phase that a feeder shows. `None` if there is no such feeder.
    #[must_use]
    pub fn phase(&self, feeder: usize) -> Option<Phase> {
        self.around
            .machines
            .get(feeder)
            .map(|machine| machine.phase())
    }

    /// What is wanted of a feeder, by its regulator or a person, whether or not it may ask for it.
    #[must_use]
    pub fn wanted(&self, feeder: usize) -> FeedRequest {
        self.around
            .asks
            .get(feeder)
            .map_or(FeedRequest::NONE, |ask| FeedRequest {
                dose: ask.dose,
                mode: ask.mode,
            })
    }

    /// The guard, to look at: limits, state, decision, what clears a refusal.
    #[must_use]
    pub const fn guard(&self) -> &Guard<N, B, H, D> {
        &self.guard
    }

    /// The alarms, to look at. Persons move them by [`Act`](crate::Act)s.
    #[must_use]
    pub const fn alarms(&self) -> &Alarms<N> {
        &self.around.alarms
    }

    /// The events, to look at.
    #[must_use]
    pub const fn events(&self) -> &Events {
        &self.around.events
    }

    /// The events, to take out.
    pub const fn events_mut(&mut self) -> &mut Events {
        &mut self.around.events
    }

    /// The regulators, to look at.
    #[must_use]
    pub const fn regulators(&self) -> &[R; N] {
        &self.regulators
    }

    /// The regulators, as to move a set point.
    pub const fn regulators_mut(&mut self) -> &mut [R; N] {
        &mut self.regulators
    }
}
