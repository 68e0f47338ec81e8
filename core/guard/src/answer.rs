//! What a rule answers: at most this much, now; and if it refuses, what clears it.

use crate::lockout::Lockout;
use crate::units::{Dose, Millis};

/// What makes a refusal go away.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Clear {
    /// Nothing refuses.
    Nothing,
    /// This much time with power.
    After(Millis),
    /// This much flowing time.
    AfterFlow(Millis),
    /// Flow returns, and then stays for this long.
    FlowThen(Millis),
    /// The probe is trusted again.
    ProbeTrusted,
    /// The water is back inside its cut-off.
    WaterInside,
    /// The valves' position is known, and then steady for this long.
    ValvesThen(Millis),
    /// The cycle that stands ends.
    CycleEnds,
    /// A cycle is charged: asked for, and every other rule allows it.
    Charge,
    /// The record is read back from both places.
    Saved,
    /// A person releases it.
    Person,
    /// The inhibit ends.
    InhibitEnds,
    /// Operating hours begin, in this much time.
    HoursOpen(Millis),
    /// The clock is known.
    ClockKnown,
    /// The drum is filled.
    Refill,
    /// The incompatible product's drive goes off, and this much water then flows.
    OtherOffThen(Millis),
    /// The incompatible product, which goes first, has had its turn.
    TurnPasses,
    /// Feedback of the drive is known.
    FeedbackKnown,
    /// The button is released and pressed again, or pressed.
    Button,
    /// A tick comes in time.
    NextTick,
}

/// A [`Clear`] in 32 bits: kind in the upper 5, milliseconds in the lower 27 (37 h; no rule waits
/// longer), so that a decision keeps one for each rule and feeder in little memory.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub(crate) struct PackedClear(u32);

const TIME_BITS: u32 = 27;
const TIME_MAX: u32 = 0x07FF_FFFF;

impl PackedClear {
    pub(crate) const NOTHING: Self = Self(0);

    pub(crate) fn pack(clear: Clear) -> Self {
        let (kind, time) = match clear {
            Clear::Nothing => (0, Millis(0)),
            Clear::After(time) => (1, time),
            Clear::AfterFlow(time) => (2, time),
            Clear::FlowThen(time) => (3, time),
            Clear::ProbeTrusted => (4, Millis(0)),
            Clear::WaterInside => (5, Millis(0)),
            Clear::ValvesThen(time) => (6, time),
            Clear::CycleEnds => (7, Millis(0)),
            Clear::Charge => (8, Millis(0)),
            Clear::Saved => (9, Millis(0)),
            Clear::Person => (10, Millis(0)),
            Clear::InhibitEnds => (11, Millis(0)),
            Clear::HoursOpen(time) => (12, time),
            Clear::ClockKnown => (13, Millis(0)),
            Clear::Refill => (14, Millis(0)),
            Clear::OtherOffThen(time) => (15, time),
            Clear::TurnPasses => (16, Millis(0)),
            Clear::FeedbackKnown => (17, Millis(0)),
            Clear::Button => (18, Millis(0)),
            Clear::NextTick => (19, Millis(0)),
        };
        Self(kind << TIME_BITS | time.0.min(TIME_MAX))
    }

    pub(crate) const fn unpack(self) -> Clear {
        let time = Millis(self.0 & TIME_MAX);
        match self.0 >> TIME_BITS {
            1 => Clear::After(time),
            2 => Clear::AfterFlow(time),
            3 => Clear::FlowThen(time),
            4 => Clear::ProbeTrusted,
            5 => Clear::WaterInside,
            6 => Clear::ValvesThen(time),
            7 => Clear::CycleEnds,
            8 => Clear::Charge,
            9 => Clear::Saved,
            10 => Clear::Person,
            11 => Clear::InhibitEnds,
            12 => Clear::HoursOpen(time),
            13 => Clear::ClockKnown,
            14 => Clear::Refill,
            15 => Clear::OtherOffThen(time),
            16 => Clear::TurnPasses,
            17 => Clear::FeedbackKnown,
            18 => Clear::Button,
            19 => Clear::NextTick,
            _ => Clear::Nothing,
        }
    }
}

/// What one rule answers for one feeder: at most this much, now.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Answer {
    /// Refuses: nothing may run now.
    pub refuses: bool,
    /// Longest run from now.
    pub most_run: Millis,
    /// Largest dose that may be charged now.
    pub most_dose: Dose,
    /// If it refuses: what clears it.
    pub clear: Clear,
    /// If it refuses for good: the lockout that it enters.
    pub lockout: Option<Lockout>,
}

impl Answer {
    /// No objection.
    pub const ALLOW: Self = Self {
        refuses: false,
        most_run: Millis(u32::MAX),
        most_dose: Dose(u32::MAX),
        clear: Clear::Nothing,
        lockout: None,
    };

    /// What a rule that did not run counts as.
    pub const NOT_RUN: Self = Self::hold(Clear::NextTick);

    /// Refuses until it clears by itself.
    #[must_use]
    pub const fn hold(clear: Clear) -> Self {
        Self {
            refuses: true,
            most_run: Millis(0),
            most_dose: Dose(0),
            clear,
            lockout: None,
        }
    }

    /// Refuses, and enters a lockout.
    #[must_use]
    pub const fn lock(lockout: Lockout) -> Self {
        Self {
            lockout: Some(lockout),
            ..Self::hold(Clear::Person)
        }
    }

    /// No objection if `ok`; holds otherwise.
    #[must_use]
    pub const fn hold_unless(ok: bool, clear: Clear) -> Self {
        if ok { Self::ALLOW } else { Self::hold(clear) }
    }

    /// At most this run.
    #[must_use]
    pub const fn run(self, most_run: Millis) -> Self {
        Self { most_run, ..self }
    }

    /// At most this dose.
    #[must_use]
    pub const fn dose(self, most_dose: Dose) -> Self {
        Self { most_dose, ..self }
    }

    /// The smaller of the two in every respect: how answers are put together. Commutative and
    /// associative in what they grant, so the order of the rules does not matter, and one more rule
    /// never grants more.
    #[must_use]
    #[inline]
    pub fn and(self, other: Self) -> Self {
        Self {
            refuses: self.refuses | other.refuses,
            most_run: Millis(self.most_run.0.min(other.most_run.0)),
            most_dose: Dose(self.most_dose.0.min(other.most_dose.0)),
            clear: if self.refuses {
                self.clear
            } else {
                other.clear
            },
            lockout: if self.lockout.is_some() {
                self.lockout
            } else {
                other.lockout
            },
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn packing_keeps_kind_and_time() {
        let time = Millis(90_000_000);
        let all = [
            Clear::Nothing,
            Clear::After(time),
            Clear::AfterFlow(time),
            Clear::FlowThen(time),
            Clear::ProbeTrusted,
            Clear::WaterInside,
            Clear::ValvesThen(time),
            Clear::CycleEnds,
            Clear::Charge,
            Clear::Saved,
            Clear::Person,
            Clear::InhibitEnds,
            Clear::HoursOpen(time),
            Clear::ClockKnown,
            Clear::Refill,
            Clear::OtherOffThen(time),
            Clear::TurnPasses,
            Clear::FeedbackKnown,
            Clear::Button,
            Clear::NextTick,
        ];
        for clear in all {
            assert_eq!(PackedClear::pack(clear).unpack(), clear);
        }
    }

    #[test]
    fn the_grant_is_the_smallest_answer() {
        let one = Answer::ALLOW.run(Millis(5)).dose(Dose(9));
        let two = Answer::ALLOW.run(Millis(7)).dose(Dose(3));
        let both = one.and(two);
        assert_eq!((both.most_run, both.most_dose), (Millis(5), Dose(3)));
        let refused = both.and(Answer::hold(Clear::Refill));
        assert!(refused.refuses);
        assert_eq!((refused.most_run, refused.most_dose), (Millis(0), Dose(0)));
    }
}
