//! What reaches the checks: the electrode's potential, its age, and what its circuit says of it.

use crate::guard::units::{Millis, Millivolts};
use crate::guard::{Health, Reading};

/// Potential in microvolts: 59 are 0.001 pH.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(transparent))]
pub struct Microvolts(pub i32);

impl Microvolts {
    /// In whole millivolts, rounded to the nearest, a half away from zero.
    #[must_use]
    pub fn to_millivolts(self) -> Millivolts {
        let half = if self.0 < 0 { -500 } else { 500 };
        Millivolts(self.0.saturating_add(half) / 1000)
    }
}

/// What the last check found out about the electrode and its lead.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Lead {
    /// Not checked, or too long ago, or the check could not tell. Health: check function.
    NotChecked,
    /// Whole.
    Intact,
    /// Off or broken. Health: failure.
    Open,
    /// Shorted, as by a wet connector or broken glass; or the bias does not come. Health: failure.
    Short,
    /// Its resistance is higher than stated: dry, cold or aged glass. Health: out of specification.
    HighResistance,
}

/// What is wrong with the last conversion or with the bias.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum FrontFault {
    /// The converter did not answer.
    Bus,
    /// The conversion was not done within `convert_max`, or an earlier one is still under way.
    Late,
    /// The converter is at its stop.
    Saturated,
    /// No electrode is there: below `low_mv` or above `high_mv`. So reads, also, a converter that
    /// lost its power on the way, or a bus whose data line is stuck.
    OutOfRange,
    /// The pin of the bias failed: the bias may be on.
    Bias,
    /// A conversion says that it was made in the future.
    Future,
}

/// What a probe says.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct FrontReading {
    /// Potential of the electrode, with age and health.
    pub reading: Reading<Microvolts>,
    /// What the last check found.
    pub lead: Lead,
    /// What is wrong now, if anything is.
    pub fault: Option<FrontFault>,
}

/// How far a stamp may be ahead of now and still count as now: two clocks that read one counter a
/// moment apart. Our choice.
pub const STAMP_AHEAD_MAX: Millis = Millis(100);

impl FrontReading {
    /// Nothing was ever read.
    pub const NEVER: Self = Self {
        reading: Reading::unknown(Microvolts(0)),
        lead: Lead::NotChecked,
        fault: None,
    };

    /// From a converter or a probe that stamps its samples with the counter that `now_ms` comes
    /// from (it may wrap). The same sample given twice keeps its age, and one from the future has
    /// no age: it is not young. Stamps older than 24 days look like the future.
    ///
    /// ```
    /// use dosewarden::guard::units::Millis;
    /// use dosewarden::probe::{FrontFault, FrontReading, Lead, Microvolts};
    /// let uv = Microvolts(-29_580);
    /// let seen = FrontReading::stamped(10_000, 9_400, uv, Lead::Intact);
    /// assert_eq!((seen.reading.age, seen.fault), (Millis(600), None));
    /// let ahead = FrontReading::stamped(10_000, 10_101, uv, Lead::Intact);
    /// assert_eq!((ahead.reading.age, ahead.fault), (Millis(u32::MAX), Some(FrontFault::Future)));
    /// ```
    #[must_use]
    pub fn stamped(now_ms: u32, stamp_ms: u32, value: Microvolts, lead: Lead) -> Self {
        let ahead = stamp_ms.wrapping_sub(now_ms);
        let (age, fault) = if ahead <= STAMP_AHEAD_MAX.0 {
            (Millis(0), None)
        } else if ahead <= u32::MAX / 2 {
            (Millis(u32::MAX), Some(FrontFault::Future))
        } else {
            (Millis(now_ms.wrapping_sub(stamp_ms)), None)
        };
        let health = if fault.is_some() {
            Health::Failure
        } else {
            Health::Normal
        };
        let reading = Reading { value, age, health };
        Self {
            reading,
            lead,
            fault,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stamps_across_the_wrap_and_at_both_sides_of_what_counts_as_now() {
        let age = |now_ms, stamp_ms| {
            let seen = FrontReading::stamped(now_ms, stamp_ms, Microvolts(1), Lead::Intact);
            (seen.reading.age.0, seen.fault)
        };
        assert_eq!(age(5, u32::MAX - 4), (10, None));
        assert_eq!(age(1000, 1100), (0, None));
        assert_eq!(age(1000, 1101), (u32::MAX, Some(FrontFault::Future)));
        assert_eq!(age(u32::MAX, 1000), (u32::MAX, Some(FrontFault::Future)));
    }
}
