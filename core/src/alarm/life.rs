//! The life of one alarm, by the states of ISA-18.2 (IEC 62682) as in OPC 10000-9.
//!
//! Acknowledging an alarm says that a person has seen it, and cures nothing. Latching stands
//! apart from the states: a latched alarm stays listed until a person resets it.

use crate::guard::units::Millis;

/// Where an alarm stands. Names as in OPC 10000-9.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
pub enum AlarmState {
    /// The condition does not stand, nothing waits.
    Normal,
    /// The condition stands, nobody has acknowledged it.
    Unacknowledged,
    /// The condition stands, and somebody has.
    Acknowledged,
    /// The condition is gone again, and nobody has acknowledged it.
    ReturnedUnacknowledged,
    /// A person has set it aside for a while. Ends by itself.
    Shelved,
    /// The plant's state makes it meaningless, by design.
    SuppressedByDesign,
    /// A person has taken it out of service.
    OutOfService,
}

impl AlarmState {
    /// Its name.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Normal => "normal",
            Self::Unacknowledged => "unacknowledged",
            Self::Acknowledged => "acknowledged",
            Self::ReturnedUnacknowledged => "returned_unacknowledged",
            Self::Shelved => "shelved",
            Self::SuppressedByDesign => "suppressed_by_design",
            Self::OutOfService => "out_of_service",
        }
    }

    /// Whether it calls for attention: the condition stands, or stood and nobody has seen it.
    #[must_use]
    pub const fn calls(self) -> bool {
        matches!(self, Self::Unacknowledged | Self::ReturnedUnacknowledged)
    }

    /// Whether the condition stands and the alarm is neither shelved, suppressed nor out of
    /// service.
    #[must_use]
    pub const fn is_active(self) -> bool {
        matches!(self, Self::Unacknowledged | Self::Acknowledged)
    }
}

/// How long an alarm stays shelved.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
pub enum Shelving {
    /// For this long.
    Timed(Millis),
    /// Until the condition is gone, and for this long at most.
    OneShot(Millis),
}

impl Shelving {
    /// Longest shelving: 24 h. Common practice, no source.
    pub const LONGEST: Millis = Millis::from_hours(24);

    const fn length(self) -> Millis {
        match self {
            Self::Timed(length) | Self::OneShot(length) => length,
        }
    }
}

/// What moves an alarm: a column of the transition table.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Move {
    /// The condition comes (after the on-delay).
    Comes,
    /// The condition goes (after the off-delay).
    Goes,
    Acknowledge,
    Shelve,
    /// Shelving ends: by its time, by the condition going (one shot), or by a person. The condition
    /// stands if `true`.
    Unshelve(bool),
    Suppress,
    /// As for shelving.
    Unsuppress(bool),
    TakeOut,
    /// As for shelving.
    PutBack(bool),
}

/// The transition table. `None`: the move means nothing in that state, and is refused.
pub(crate) const fn next(from: AlarmState, by: Move) -> Option<AlarmState> {
    use AlarmState::{
        Acknowledged, Normal, OutOfService, ReturnedUnacknowledged, Shelved, SuppressedByDesign,
        Unacknowledged,
    };
    match (from, by) {
        (Normal | ReturnedUnacknowledged, Move::Comes) => Some(Unacknowledged),
        (Unacknowledged, Move::Goes) => Some(ReturnedUnacknowledged),
        (Acknowledged, Move::Goes) | (ReturnedUnacknowledged, Move::Acknowledge) => Some(Normal),
        (Unacknowledged, Move::Acknowledge) => Some(Acknowledged),
        (Normal | Unacknowledged | Acknowledged | ReturnedUnacknowledged, Move::Shelve) => {
            Some(Shelved)
        }
        (Shelved, Move::Unshelve(stands))
        | (SuppressedByDesign, Move::Unsuppress(stands))
        | (OutOfService, Move::PutBack(stands)) => {
            Some(if stands { Unacknowledged } else { Normal })
        }
        (SuppressedByDesign | OutOfService, Move::Suppress) => None,
        (_, Move::Suppress) => Some(SuppressedByDesign),
        (OutOfService, Move::TakeOut) => None,
        (_, Move::TakeOut) => Some(OutOfService),
        _ => None,
    }
}

/// How an alarm behaves in time.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Delays {
    /// How long the condition stands before the alarm comes.
    pub(crate) on: Millis,
    /// How long it is gone before the alarm goes.
    pub(crate) off: Millis,
}

/// What a tick says of the condition.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Condition {
    Stands,
    Gone,
    /// Not known just now: neither delay runs.
    Unknown,
}

impl Condition {
    pub(crate) const fn of(stands: bool) -> Self {
        if stands { Self::Stands } else { Self::Gone }
    }
}

/// One alarm.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Alarm {
    pub(crate) state: AlarmState,
    /// Whether the condition stands, delays counted, in any state.
    stands: bool,
    one_shot: bool,
    pub(crate) latched: bool,
    /// How long the condition has been other than `stands` says.
    turning: Millis,
    shelf_left: Millis,
}

impl Alarm {
    pub(crate) const NORMAL: Self = Self {
        state: AlarmState::Normal,
        stands: false,
        one_shot: false,
        latched: false,
        turning: Millis(0),
        shelf_left: Millis(0),
    };

    /// Time changes it by itself: its condition is turning, or it is set aside for a while.
    pub(crate) const fn stirs(&self) -> bool {
        self.turning.0 > 0
            || matches!(
                self.state,
                AlarmState::Shelved | AlarmState::SuppressedByDesign
            )
    }

    /// Moves on by one tick. `suppressed`: the plant's state makes it meaningless. True if the
    /// state changed.
    pub(crate) fn step(
        &mut self,
        condition: Condition,
        suppressed: bool,
        latching: bool,
        delays: Delays,
        elapsed: Millis,
    ) -> bool {
        let before = self.state;
        let turned = self.turn(condition, delays, elapsed);
        if turned && self.stands {
            self.latched |= latching && self.counts();
            self.go(Move::Comes);
        } else if turned {
            self.go(Move::Goes);
        }
        if suppressed {
            self.go(Move::Suppress);
        } else {
            self.go(Move::Unsuppress(self.stands));
        }
        if self.state == AlarmState::Shelved {
            self.shelf_left.0 = self.shelf_left.0.saturating_sub(elapsed.0);
            if self.shelf_left.0 == 0 || (self.one_shot && turned && !self.stands) {
                self.go(Move::Unshelve(self.stands));
            }
        }
        before != self.state
    }

    /// Counts the delay. True if the condition turned.
    fn turn(&mut self, condition: Condition, delays: Delays, elapsed: Millis) -> bool {
        let other = match condition {
            Condition::Stands => !self.stands,
            Condition::Gone => self.stands,
            Condition::Unknown => return false,
        };
        if !other {
            self.turning = Millis(0);
            return false;
        }
        self.turning.0 = self.turning.0.saturating_add(elapsed.0);
        let delay = if self.stands { delays.off } else { delays.on };
        if self.turning < delay {
            return false;
        }
        self.turning = Millis(0);
        self.stands = !self.stands;
        true
    }

    /// Whether the condition stands, delays counted.
    pub(crate) const fn stands(&self) -> bool {
        self.stands
    }

    const fn counts(&self) -> bool {
        !matches!(
            self.state,
            AlarmState::SuppressedByDesign | AlarmState::OutOfService
        )
    }

    fn go(&mut self, by: Move) -> bool {
        match next(self.state, by) {
            Some(state) => {
                self.state = state;
                true
            }
            None => false,
        }
    }

    pub(crate) fn acknowledge(&mut self) -> bool {
        self.go(Move::Acknowledge)
    }

    /// Shelves it. The caller has checked the length.
    pub(crate) fn shelve(&mut self, shelving: Shelving) -> bool {
        let done = self.go(Move::Shelve);
        if done {
            self.shelf_left = shelving.length();
            self.one_shot = matches!(shelving, Shelving::OneShot(_));
        }
        done
    }

    pub(crate) fn unshelve(&mut self) -> bool {
        self.go(Move::Unshelve(self.stands))
    }

    pub(crate) fn take_out(&mut self) -> bool {
        self.go(Move::TakeOut)
    }

    pub(crate) fn put_back(&mut self) -> bool {
        self.go(Move::PutBack(self.stands))
    }

    /// Ends the latch. Needs the condition gone and the alarm acknowledged.
    pub(crate) fn reset(&mut self) -> bool {
        let may = self.latched && !self.stands && !self.state.calls();
        if may {
            self.latched = false;
        }
        may
    }
}

#[cfg(test)]
mod tests;
