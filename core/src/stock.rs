//! What is left in a drum: an estimate, from refills that persons enter and what the ledger booked.
//! It alarms and stops nothing, since a refill may go unentered; the level switch stops.
//!
//! A level that a person reads at a visit is reconciled with the ledger. The ratio of what really
//! left the drum to what was booked is the best catch of a wrong rate.

use crate::guard::units::Dose;
use crate::settings::DrumSettings;

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
}
