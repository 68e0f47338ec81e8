//! What the controller follows from tick to tick: the record that was sealed, and lockouts.

use crate::around::Around;
use crate::event::{EventKind, Events};
use crate::guard::units::Millis;
use crate::guard::{LockoutSet, State, Ticket};

impl<const N: usize> Around<N> {
    /// A record was sealed: nothing more is sealed until it is confirmed.
    pub(crate) fn sealed(&mut self, ticket: Ticket) {
        self.outstanding = Some(ticket);
        self.waited = Millis(0);
    }

    /// Follows the record that was sealed. One that is not confirmed in time is sealed anew.
    pub(crate) fn follow_record(
        &mut self,
        saved: Option<Ticket>,
        save_max: Millis,
        elapsed: Millis,
    ) {
        if self.outstanding.is_none() {
            return;
        }
        self.waited.0 = self.waited.0.saturating_add(elapsed.0);
        if saved == self.outstanding {
            self.outstanding = None;
            self.records_differ = false;
        } else if self.waited > save_max {
            self.outstanding = None;
            self.events.push(EventKind::SaveBegunAnew);
        }
    }

    /// Notes lockouts that came or went in the last tick.
    pub(crate) fn follow_lockouts<const B: usize, const H: usize, const D: usize>(
        &mut self,
        state: &State<N, B, H, D>,
    ) {
        if self.site_lockouts == state.site_lockouts
            && self.feeder_lockouts == state.feeder_lockouts
        {
            return;
        }
        note(
            &mut self.events,
            None,
            self.site_lockouts,
            state.site_lockouts,
        );
        self.site_lockouts = state.site_lockouts;
        let sets = self
            .feeder_lockouts
            .iter_mut()
            .zip(state.feeder_lockouts.iter());
        for ((before, now), feeder) in sets.zip(0..u8::MAX) {
            note(&mut self.events, Some(feeder), *before, *now);
            *before = *now;
        }
    }
}

/// Lockouts that came or went.
fn note(events: &mut Events, feeder: Option<u8>, before: LockoutSet, now: LockoutSet) {
    for lockout in now.iter().filter(|lockout| !before.has(*lockout)) {
        events.push(EventKind::LockedOut { feeder, lockout });
    }
    for lockout in before.iter().filter(|lockout| !now.has(*lockout)) {
        events.push(EventKind::Released { feeder, lockout });
    }
}
