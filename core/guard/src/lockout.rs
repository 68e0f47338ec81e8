//! A lockout needs a person; a hold does not. The two are different types: a hold is a rule's
//! answer in one tick, a lockout is state that outlives the power.

/// Why a person is needed. A *lockout* here is the burner-control kind (manual reset), not
/// lockout/tagout.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[repr(u8)]
pub enum Lockout {
    /// The guard's state changed by itself.
    StateSeal = 0,
    /// The limits changed by themselves.
    LimitsSeal = 1,
    /// Flow was reported for too long while the pump was off.
    Witnesses = 2,
    /// More than the overrun, or two products, stood in the line without flow.
    Line = 3,
    /// No usable record was found at start.
    RecordLost = 4,
    /// The emergency stop was pressed.
    EmergencyStop = 5,
    /// Power was lost, and the site wants a person before feeding again.
    PowerLoss = 6,
    /// The governing probe failed for too long.
    Probe = 7,
    /// The drive ran past its longest run.
    RunTime = 8,
    /// Water answered the wrong way or far too strongly.
    Response = 9,
    /// The drive did not obey.
    Drive = 10,
}

impl Lockout {
    /// All, in the order of their numbers.
    pub const ALL: [Self; 11] = [
        Self::StateSeal,
        Self::LimitsSeal,
        Self::Witnesses,
        Self::Line,
        Self::RecordLost,
        Self::EmergencyStop,
        Self::PowerLoss,
        Self::Probe,
        Self::RunTime,
        Self::Response,
        Self::Drive,
    ];

    /// Whether it stops the whole site rather than one feeder.
    #[must_use]
    pub const fn is_of_site(self) -> bool {
        !matches!(
            self,
            Self::Probe | Self::RunTime | Self::Response | Self::Drive
        )
    }

    const fn bit(self) -> u16 {
        match self {
            Self::StateSeal => 1,
            Self::LimitsSeal => 1 << 1,
            Self::Witnesses => 1 << 2,
            Self::Line => 1 << 3,
            Self::RecordLost => 1 << 4,
            Self::EmergencyStop => 1 << 5,
            Self::PowerLoss => 1 << 6,
            Self::Probe => 1 << 7,
            Self::RunTime => 1 << 8,
            Self::Response => 1 << 9,
            Self::Drive => 1 << 10,
        }
    }
}

/// A set of lockouts.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct LockoutSet(u16);

impl LockoutSet {
    /// None.
    pub const NONE: Self = Self(0);
    const MASK: u16 = 0x07FF;

    /// Whether it stands.
    #[must_use]
    pub const fn has(self, lockout: Lockout) -> bool {
        self.0 & lockout.bit() != 0
    }

    /// Whether none stands.
    #[must_use]
    pub const fn is_empty(self) -> bool {
        self.0 == 0
    }

    /// With it.
    #[must_use]
    pub const fn with(self, lockout: Lockout) -> Self {
        Self(self.0 | lockout.bit())
    }

    /// Without it.
    #[must_use]
    pub const fn without(self, lockout: Lockout) -> Self {
        Self(self.0 & !lockout.bit())
    }

    /// Both together.
    #[must_use]
    pub const fn union(self, other: Self) -> Self {
        Self(self.0 | other.0)
    }

    /// As bits, by the numbers of [`Lockout`].
    #[must_use]
    pub const fn bits(self) -> u16 {
        self.0
    }

    /// From bits. Unknown bits make it `None`: a record with them is not understood.
    #[must_use]
    pub const fn from_bits(bits: u16) -> Option<Self> {
        if bits & !Self::MASK == 0 {
            Some(Self(bits))
        } else {
            None
        }
    }

    /// Those that stand, in the order of their numbers.
    pub fn iter(self) -> impl Iterator<Item = Lockout> {
        let mut left = self.0;
        core::iter::from_fn(move || {
            let lowest = usize::try_from(left.trailing_zeros()).ok()?;
            left &= left.wrapping_sub(1);
            Lockout::ALL.get(lowest).copied()
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_lockout_has_a_bit_of_its_own() {
        let mut all = LockoutSet::NONE;
        for (number, lockout) in Lockout::ALL.into_iter().enumerate() {
            assert!(!all.has(lockout));
            assert_eq!(LockoutSet::NONE.with(lockout).bits(), 1 << number);
            all = all.with(lockout);
        }
        assert_eq!(all.bits(), LockoutSet::MASK);
        assert_eq!(all.without(Lockout::Line).iter().count(), 10);
        assert_eq!(LockoutSet::from_bits(0x0800), None);
    }
}
