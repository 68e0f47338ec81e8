//! Whether this board still has its pool: what a change of the board leaves on the old one.
//!
//! # Invariants
//! - A board that was given away asks for nothing, and holds what it has open, until a technician
//!   takes it back: through power cuts and resets, as the rest of what is kept.
//! - Taken back, the last day counts as used: another board may have fed it meanwhile.
//! - The number of changes only grows, so that an image that was taken up once is known again.

use crate::around::Around;
use crate::ask::{Ask, Held};
use crate::guard::units::{DAY_MS, Dose, Millis};
use crate::guard::{Inhibits, Limits, Stage};
use crate::restraint::HandDoses;

/// How often the pool has changed its board, and whether this one has given it away.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Handover {
    /// Changes of the board that this one knows of; saturates.
    pub number: u16,
    /// The pool was given to another board: nothing is fed.
    pub is_given_away: bool,
}

impl Handover {
    /// The board with which the pool began.
    pub const FIRST: Self = Self {
        number: 0,
        is_given_away: false,
    };

    /// What the guard is told. It ends in the same tick what the request alone would end later.
    pub(crate) const fn inhibits(self) -> Inhibits {
        if self.is_given_away {
            Inhibits::SERVICE
        } else {
            Inhibits::NONE
        }
    }

    /// Holds back what is asked for.
    pub(crate) const fn hold_back(self, ask: &mut Ask) {
        if self.is_given_away && ask.wants() {
            ask.held = Some(Held::GivenAway);
        }
    }
}

impl<const N: usize> Around<N> {
    /// Gives the pool away. False if that was done before.
    pub(crate) const fn give_away(&mut self) -> bool {
        let own = &mut self.handover;
        if own.is_given_away {
            return false;
        }
        *own = Handover {
            number: own.number.saturating_add(1),
            is_given_away: true,
        };
        true
    }

    /// Takes it back, with the day used. False if it was not given away.
    pub(crate) fn take_back<const B: usize>(&mut self, limits: &Limits<N, B>) -> bool {
        let was = core::mem::replace(&mut self.handover.is_given_away, false);
        if was {
            self.use_up_day(limits);
        }
        was
    }

    /// As if a whole day's cap of each product had been poured by hand just now.
    fn use_up_day<const B: usize>(&mut self, limits: &Limits<N, B>) {
        for (feeder, own) in (0..N).zip(self.restraints.by_hand.iter_mut()) {
            if limits.feeder(feeder).is_none() || limits.account(feeder) != feeder {
                continue;
            }
            let day = |body| limits.caps(feeder, body, Stage::Full).day.0;
            let most = (0..B).map(day).max().unwrap_or(0);
            *own = HandDoses {
                dose: Dose(own.dose.0.saturating_add(most)),
                body: None,
                counts_for: Millis(DAY_MS),
                ..*own
            };
        }
    }
}
