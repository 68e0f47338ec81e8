//! What is left in a drum: an estimate, from refills that persons enter and what the ledger booked.
//! It alarms and stops nothing, since a refill may go unentered; the level switch stops.
//!
//! A level that a person reads at a visit is reconciled with the ledger. The ratio of what really
//! left the drum to what was booked is the best catch of a wrong rate, and the only one for
//! chlorine: ORP steps cannot judge it, since an hour's feed can be 4 mV. Where the settings say how
//! far a reading may be off, a rate that is wrong by half or more is named
//! ([`Reconciled::verdict`]). Read the level before the drum is filled, and again after.

use crate::guard::units::Dose;
use crate::settings::DrumSettings;

/// What a level reading says of a feeder's rate.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
pub enum DrumVerdict {
    /// Too little was fed for the reading's error, or nothing was compared.
    #[default]
    Unclear,
    /// Nearer to what is configured than to half or double.
    AsConfigured,
    /// Half of what was booked left the drum, or less.
    Low,
    /// Double left the drum, or more.
    High,
}

impl DrumVerdict {
    /// Whether the real rate is named as wrong by half or more.
    #[must_use]
    pub const fn is_wrong(self) -> bool {
        matches!(self, Self::Low | Self::High)
    }
}

/// What a level reading showed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Reconciled {
    /// What left the drum since the last known level.
    pub real: Dose,
    /// What was booked as fed in that time.
    pub booked: Dose,
    /// Real over booked, in percent, rounded to the nearest. `None` if nothing was booked.
    pub ratio_percent: Option<u32>,
}

impl Reconciled {
    /// How far the ratio may be off for readings that are each off by `level_error`, in percent,
    /// rounded up. `None` if nothing was booked.
    #[must_use]
    pub fn error_percent(&self, level_error: Dose) -> Option<u32> {
        let both = u64::from(level_error.0).saturating_mul(200);
        let booked = u64::from(self.booked.0);
        let error = both
            .saturating_add(booked.saturating_sub(1))
            .checked_div(booked)?;
        Some(u32::try_from(error).unwrap_or(u32::MAX))
    }

    /// What it says of the rate, for readings that are each off by `level_error` at most: a bound,
    /// so a verdict holds for the worst of both readings together. It is named beyond 17/12 and
    /// 12/17, half way by ratio to double and half.
    #[must_use]
    pub fn verdict(&self, level_error: Dose) -> DrumVerdict {
        let both = u64::from(level_error.0).saturating_mul(2);
        let (real, booked) = (u64::from(self.real.0), u64::from(self.booked.0));
        let least = real.saturating_sub(both);
        let most = real.saturating_add(both);
        let over = |real: u64| real.saturating_mul(12) > booked.saturating_mul(17);
        let under = |real: u64| real.saturating_mul(17) < booked.saturating_mul(12);
        if over(least) {
            DrumVerdict::High
        } else if under(most) {
            DrumVerdict::Low
        } else if over(most) || under(least) {
            DrumVerdict::Unclear
        } else {
            DrumVerdict::AsConfigured
        }
    }
}

/// One drum.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Stock {
    /// Level that a person has last read or made, refills since included; `None`: never.
    known: Option<Dose>,
    /// Booked as fed since.
    booked: Dose,
}

impl Stock {
    /// Nobody has entered a level.
    pub const UNKNOWN: Self = Self {
        known: None,
        booked: Dose(0),
    };

    /// Books what was fed.
    pub(crate) fn feed(&mut self, fed: Dose) {
        self.booked.0 = self.booked.0.saturating_add(fed.0);
    }

    /// With what was booked meanwhile on another.
    pub(crate) fn and_booked(mut self, meanwhile: &Self) -> Self {
        self.feed(meanwhile.booked);
        self
    }

    /// A person has filled in this much. The first refill of a drum of unknown level makes nothing
    /// known: enter its level for that.
    pub(crate) fn refill(&mut self, amount: Dose, drum: &DrumSettings) {
        if let Some(known) = &mut self.known {
            // No drum holds more than its size: then less was left than was thought.
            let most = drum.size.0.saturating_add(self.booked.0);
            known.0 = known.0.saturating_add(amount.0).min(most);
        }
    }

    /// A person has read the level. `None` if there was none before to compare with, or the level
    /// is above what could be there (a refill that nobody entered).
    pub(crate) fn read(&mut self, level: Dose) -> Option<Reconciled> {
        let before = self.known.replace(level);
        let booked = core::mem::take(&mut self.booked);
        let real = Dose(before?.0.checked_sub(level.0)?);
        let whole = u64::from(real.0).saturating_mul(100);
        let half = u64::from(booked.0 >> 1);
        let ratio = whole.saturating_add(half).checked_div(u64::from(booked.0));
        Some(Reconciled {
            real,
            booked,
            ratio_percent: ratio.map(|ratio| u32::try_from(ratio).unwrap_or(u32::MAX)),
        })
    }

    /// What is left. `None` if nobody has entered a level.
    #[must_use]
    pub fn left(&self) -> Option<Dose> {
        self.known
            .map(|known| Dose(known.0.saturating_sub(self.booked.0)))
    }

    /// Whole days until it is empty, at this much a day, rounded down. `None` if the level is not
    /// known or nothing is fed.
    #[must_use]
    pub fn days_left(&self, a_day: Dose) -> Option<u32> {
        self.left()?.0.checked_div(a_day.0)
    }

    /// Whether it is low, by amount or by days.
    pub(crate) fn is_low(&self, drum: &DrumSettings, a_day: Dose) -> bool {
        // Days are compared without a division: this runs every tick.
        self.left().is_some_and(|left| {
            let needed = u64::from(a_day.0).saturating_mul(u64::from(drum.low_days));
            left < drum.low || u64::from(left.0) < needed
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const DRUM: DrumSettings = DrumSettings {
        size: Dose::from_ml(20_000),
        low: Dose::from_ml(2000),
        low_days: 3,
    };

    #[test]
    fn what_is_left_is_what_was_entered_less_what_was_fed() {
        let mut stock = Stock::UNKNOWN;
        stock.refill(Dose::from_ml(5000), &DRUM);
        assert_eq!(stock.left(), None, "five litres into an unknown rest");
        assert_eq!(stock.read(Dose::from_ml(12_000)), None);
        stock.feed(Dose::from_ml(1500));
        assert_eq!(stock.left(), Some(Dose::from_ml(10_500)));
        stock.refill(Dose::from_ml(5000), &DRUM);
        assert_eq!(stock.left(), Some(Dose::from_ml(15_500)));
        stock.refill(Dose::from_ml(9000), &DRUM);
        assert_eq!(stock.left(), Some(DRUM.size), "not more than it holds");
        stock.feed(Dose(u32::MAX));
        assert_eq!(stock.left(), Some(Dose(0)));
    }

    #[test]
    fn days_round_down_and_need_a_feed() {
        let mut stock = Stock::UNKNOWN;
        stock.read(Dose::from_ml(1000));
        assert_eq!(stock.days_left(Dose::from_ml(300)), Some(3));
        assert_eq!(stock.days_left(Dose(0)), None);
        assert_eq!(Stock::UNKNOWN.days_left(Dose(1)), None);
    }

    #[test]
    fn low_by_amount_or_by_days_at_both_sides_of_the_bound() {
        let at = |left, a_day| {
            let mut stock = Stock::UNKNOWN;
            stock.read(Dose(left));
            stock.is_low(&DRUM, Dose(a_day))
        };
        assert!(at(1_999_999, 0) && !at(2_000_000, 0));
        assert!(at(2_999_999, 1_000_000) && !at(3_000_000, 1_000_000));
        assert!(
            !Stock::UNKNOWN.is_low(&DRUM, Dose(1)),
            "unknown is no alarm"
        );
    }

    #[test]
    fn a_reading_shows_a_wrong_rate() {
        let mut stock = Stock::UNKNOWN;
        stock.read(Dose::from_ml(10_000));
        stock.feed(Dose::from_ml(1000));
        let found = stock.read(Dose::from_ml(8500)).unwrap();
        assert_eq!(found.real, Dose::from_ml(1500));
        assert_eq!(found.booked, Dose::from_ml(1000));
        assert_eq!(
            found.ratio_percent,
            Some(150),
            "the true rate is half as much again"
        );
        let next = stock.read(Dose::from_ml(8400)).unwrap();
        assert_eq!((next.booked, next.ratio_percent), (Dose(0), None));
        stock.feed(Dose(1));
        assert_eq!(
            stock.read(Dose::from_ml(9000)),
            None,
            "a refill went unentered"
        );
    }

    #[test]
    fn a_drum_names_a_rate_that_is_half_or_double_and_nothing_within_the_readings_error() {
        let says = |real_ml, booked_ml| {
            let found = Reconciled {
                real: Dose::from_ml(real_ml),
                booked: Dose::from_ml(booked_ml),
                ratio_percent: None,
            };
            found.verdict(Dose::from_ml(200))
        };
        // 2 x 200 mL of error: double is sure from 400 / (2 - 17/12) = 686 mL on.
        assert_eq!(says(1360, 680), DrumVerdict::Unclear);
        assert_eq!(says(1380, 690), DrumVerdict::High);
        // Half from 400 / (12/17 - 1/2) = 1943 mL on.
        assert_eq!(says(970, 1940), DrumVerdict::Unclear);
        assert_eq!(says(973, 1946), DrumVerdict::Low);
        assert_eq!(says(0, 567), DrumVerdict::Low, "nothing came");
        assert_eq!(says(0, 566), DrumVerdict::Unclear);
        for real_ml in 8_000..=12_000 {
            assert_eq!(says(real_ml, 10_000), DrumVerdict::AsConfigured);
        }
        assert_eq!(says(0, 0), DrumVerdict::Unclear);
    }

    #[test]
    fn the_error_of_a_ratio_is_that_of_both_readings() {
        let found = Reconciled {
            real: Dose::from_ml(5000),
            booked: Dose::from_ml(3000),
            ratio_percent: Some(167),
        };
        // 400 / 3000 is 13.3 %.
        assert_eq!(found.error_percent(Dose::from_ml(200)), Some(14));
        let none = Reconciled {
            booked: Dose(0),
            ..found
        };
        assert_eq!(none.error_percent(Dose::from_ml(200)), None);
    }

    #[test]
    fn just_half_way_to_half_or_double_is_as_configured() {
        let says = |real, booked| {
            let found = Reconciled {
                real: Dose(real),
                booked: Dose(booked),
                ratio_percent: None,
            };
            found.verdict(Dose(0))
        };
        assert_eq!(says(17, 12), DrumVerdict::AsConfigured);
        assert_eq!(says(12, 17), DrumVerdict::AsConfigured);
        assert!(says(18, 12).is_wrong() && says(11, 17).is_wrong());
        assert!(!DrumVerdict::AsConfigured.is_wrong() && !DrumVerdict::Unclear.is_wrong());
    }
}
