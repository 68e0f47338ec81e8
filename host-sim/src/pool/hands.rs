//! What persons have done at the unit that stands: a button that is held, a stop, fallback.
//!
//! Invariant: it stands by what persons did and the unit answered that it was done, whatever the unit makes of it.

use crate::plant::MAX_FEEDERS;
use crate::scenario::{CareAct, PersonAct};

/// What stands, until when, ms from midnight before day 1.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Hands {
    held_until: [u64; MAX_FEEDERS],
    stopped_until: u64,
    paused_until: u64,
    is_laid_up: bool,
    is_fallback: bool,
}

impl Hands {
    /// An act was done.
    pub(super) fn done(&mut self, clock_ms: u64, act: &PersonAct) {
        match *act {
            PersonAct::ManualFeed { feeder, for_ms }
            | PersonAct::Care {
                act: CareAct::Prime { feeder, for_ms },
                ..
            } => {
                if let Some(until) = self.held_until.get_mut(feeder) {
                    *until = clock_ms.saturating_add(for_ms);
                }
            }
            PersonAct::EmergencyStop(for_ms) => {
                self.stopped_until = clock_ms.saturating_add(for_ms);
            }
            PersonAct::Pause(for_ms) => {
                self.paused_until = self.paused_until.max(clock_ms.saturating_add(for_ms));
            }
            PersonAct::Resume(_) => self.paused_until = 0,
            PersonAct::LayUp(_) => self.is_laid_up = true,
            PersonAct::OpenUp(_) => self.is_laid_up = false,
            PersonAct::EnterFallback { .. } => self.is_fallback = true,
            PersonAct::LeaveFallback(_) => self.is_fallback = false,
            _ => {}
        }
    }

    /// Which buttons are held.
    pub(super) fn held(&self, clock_ms: u64) -> [bool; MAX_FEEDERS] {
        self.held_until.map(|until| clock_ms < until)
    }

    /// Whether a person has stopped all feed.
    pub(super) fn stopped(&self, clock_ms: u64) -> bool {
        self.is_laid_up || clock_ms < self.stopped_until.max(self.paused_until)
    }

    /// Whether fallback was entered and not left.
    pub(super) const fn is_fallback(&self) -> bool {
        self.is_fallback
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use dosewarden::guard::Authority;

    #[test]
    fn acts_stand_until_they_are_over_or_taken_back() {
        let by = Authority::Owner;
        let mut hands = Hands::default();
        hands.done(
            1_000,
            &PersonAct::ManualFeed {
                feeder: 1,
                for_ms: 500,
            },
        );
        assert_eq!(hands.held(1_499), [false, true, false, false]);
        assert_eq!(hands.held(1_500), [false; MAX_FEEDERS]);
        hands.done(1_000, &PersonAct::Pause(100));
        hands.done(1_000, &PersonAct::EmergencyStop(200));
        assert!(hands.stopped(1_199) && !hands.stopped(1_200));
        hands.done(1_000, &PersonAct::Pause(9_000));
        assert!(hands.stopped(5_000));
        hands.done(1_000, &PersonAct::Resume(by));
        assert!(!hands.stopped(5_000));
        hands.done(1_000, &PersonAct::LayUp(by));
        assert!(hands.stopped(u64::MAX));
        hands.done(1_000, &PersonAct::OpenUp(by));
        assert!(!hands.stopped(5_000) && !hands.is_fallback());
    }
}
