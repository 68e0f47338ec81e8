//! How long ago a person did something: hours that saturate, never a date.

use crate::guard::units::{HOUR_MS, Millis};

/// Age in hours, up to 7 years. Time with power counts by the tick; time without has to be told.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Age {
    hours: u16,
    part_ms: u32,
}

impl Age {
    /// Now.
    pub const NEW: Self = Self::from_hours(0);
    /// So long ago that everything is overdue.
    pub const UNKNOWN: Self = Self::from_hours(u16::MAX);

    /// That many hours.
    #[must_use]
    pub const fn from_hours(hours: u16) -> Self {
        Self { hours, part_ms: 0 }
    }

    /// That many days; saturates.
    #[must_use]
    pub const fn from_days(days: u16) -> Self {
        Self::from_hours(days.saturating_mul(24))
    }

    /// More time passes with power on.
    pub const fn pass(&mut self, elapsed: Millis) {
        self.part_ms = self.part_ms.saturating_add(elapsed.0);
        if self.part_ms >= HOUR_MS {
            // Once an hour, and by a constant.
            let [low, high, ..] = (self.part_ms / HOUR_MS).to_le_bytes();
            self.hours = self.hours.saturating_add(u16::from_le_bytes([low, high]));
            self.part_ms %= HOUR_MS;
        }
    }

    /// The power was off for this many hours; `None`: nobody knows, and it counts as a day. So a
    /// controller that has power for some hours a day ages too fast, never too slowly; one that
    /// stood off for a winter without a clock has to be told by a person.
    pub const fn pass_off(&mut self, hours: Option<u16>) {
        let hours = match hours {
            Some(hours) => hours,
            None => 24,
        };
        self.hours = self.hours.saturating_add(hours);
    }

    /// Whole hours.
    #[must_use]
    pub const fn hours(&self) -> u16 {
        self.hours
    }

    /// Time into the day of which it is the age.
    pub(crate) const fn part_of_day(&self) -> Millis {
        let [low, high] = (self.hours % 24).to_le_bytes();
        let hours = u32::from_le_bytes([low, high, 0, 0]);
        Millis(hours.saturating_mul(HOUR_MS).saturating_add(self.part_ms))
    }

    /// Whole days.
    #[must_use]
    pub const fn days(&self) -> u16 {
        self.hours / 24
    }

    /// Whether it is more than this many days.
    #[must_use]
    pub const fn is_over_days(&self, days: u16) -> bool {
        let limit = days.saturating_mul(24);
        self.hours > limit || (self.hours == limit && self.part_ms > 0) || self.hours == u16::MAX
    }

    /// Whole days, rounded up.
    #[must_use]
    pub const fn days_ceil(&self) -> u16 {
        let rest = if !self.hours.is_multiple_of(24) || self.part_ms > 0 {
            1
        } else {
            0
        };
        self.days().saturating_add(rest)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::guard::units::DAY_MS;

    #[test]
    fn ticks_make_hours_and_nothing_is_lost() {
        let mut age = Age::NEW;
        for _ in 0..7200 {
            age.pass(Millis(700)); // 84 minutes
        }
        assert_eq!((age.hours(), age.days_ceil()), (1, 1));
        age.pass(Millis(DAY_MS * 40));
        assert_eq!((age.days(), age.hours()), (40, 961));
        age.pass(Millis(36 * 60_000));
        assert_eq!(age.hours(), 962);
    }

    #[test]
    fn over_is_past_the_limit_not_at_it() {
        let mut age = Age::from_days(30);
        assert!(!age.is_over_days(30));
        age.pass(Millis(1));
        assert!(age.is_over_days(30));
        assert!(Age::UNKNOWN.is_over_days(u16::MAX));
    }

    #[test]
    fn unknown_time_without_power_ages_and_saturates() {
        let mut age = Age::NEW;
        age.pass_off(None);
        age.pass_off(Some(5));
        assert_eq!(age.hours(), 29);
        age.pass_off(Some(u16::MAX));
        age.pass(Millis(u32::MAX));
        assert_eq!(age.hours(), u16::MAX);
    }
}
