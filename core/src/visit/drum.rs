//! A drum from visit to visit, beside what the ledger booked.

use super::Doubt;
use crate::guard::units::{Dose, Rate};
use crate::settings::DrumSettings;
use crate::stock::{Reconciled, Stock};

/// A drum as persons read and fill it. It is kept by whoever keeps the log of visits; the
/// controller's own [`Stock`] goes on beside it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct DrumBook {
    stock: Stock,
}

impl DrumBook {
    /// Nobody has read a level.
    pub const NEW: Self = Self {
        stock: Stock::UNKNOWN,
    };

    /// The ledger has booked so much more.
    pub fn feed(&mut self, booked: Dose) {
        self.stock.feed(booked);
    }

    /// A person has read the level, before anything is filled in. `None`: there was none before.
    ///
    /// # Errors
    /// [`Doubt::DrumRose`]: more is in it than was. The new level stands.
    pub fn read(&mut self, level: Dose) -> Result<Option<Reconciled>, Doubt> {
        let was_known = self.stock.left().is_some();
        match self.stock.read(level) {
            None if was_known => Err(Doubt::DrumRose),
            found => Ok(found),
        }
    }

    /// A person has filled it up to this level, right after it was read. Without a reading before,
    /// what was fed until now is compared with nothing.
    pub fn filled(&mut self, level: Dose) {
        self.stock.read(level);
    }

    /// What should be in it now.
    #[must_use]
    pub fn left(&self) -> Option<Dose> {
        self.stock.left()
    }

    /// Whole days until it is empty at this much a day.
    #[must_use]
    pub fn days_left(&self, a_day: Dose) -> Option<u32> {
        self.stock.days_left(a_day)
    }

    /// Whether it is low, by amount or by days.
    #[must_use]
    pub fn is_low(&self, drum: &DrumSettings, a_day: Dose) -> bool {
        self.stock.is_low(drum, a_day)
    }
}

/// What the ledger booked between two readings of its total, uL or mg.
///
/// # Errors
/// [`Doubt::LedgerFell`].
pub fn booked_between(before_ul: u64, now_ul: u64) -> Result<Dose, Doubt> {
    let more = now_ul.checked_sub(before_ul).ok_or(Doubt::LedgerFell)?;
    Ok(Dose(u32::try_from(more).unwrap_or(u32::MAX)))
}

/// A question about a drum that was read, for readings that are each off by `level_error` at most: it
/// fell though nothing was booked, or stood while four times that error and more was booked.
#[must_use]
pub fn drum_doubt(found: &Reconciled, level_error: Dose) -> Option<Doubt> {
    let both = level_error.0.saturating_mul(2);
    if found.booked.0 == 0 && found.real.0 > both {
        Some(Doubt::DrumFellUnfed)
    } else if found.real.0 <= level_error.0 && found.booked.0 >= both.saturating_mul(2) {
        Some(Doubt::DrumStoodFed)
    } else {
        None
    }
}

/// What the feeder really gives, by a drum that was read: the configured rate times what left the
/// drum over what was booked, rounded up. `None` if nothing was booked, or over 1,000 L/h.
#[must_use]
pub fn real_rate(found: &Reconciled, configured: Rate) -> Option<Rate> {
    let product = u64::from(configured.0).saturating_mul(u64::from(found.real.0));
    let booked = u64::from(found.booked.0);
    let up = booked.checked_sub(1)?;
    let rate = product.saturating_add(up).checked_div(booked)?;
    u32::try_from(rate)
        .ok()
        .filter(|rate| *rate <= 1_000_000_000)
        .map(Rate)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_drum_is_compared_from_filling_to_reading_and_asks_when_it_rose() {
        let mut drum = DrumBook::NEW;
        assert_eq!(drum.read(Dose::from_ml(9_000)), Ok(None), "the first");
        drum.filled(Dose::from_ml(20_000));
        drum.feed(Dose::from_ml(3_000));
        let found = drum.read(Dose::from_ml(17_500)).unwrap().unwrap();
        assert_eq!(found.real, Dose::from_ml(2_500));
        assert_eq!(found.booked, Dose::from_ml(3_000));
        drum.feed(Dose::from_ml(1_000));
        assert_eq!(drum.left(), Some(Dose::from_ml(16_500)));
        assert_eq!(drum.days_left(Dose::from_ml(500)), Some(33));
        assert_eq!(drum.read(Dose::from_ml(17_501)), Err(Doubt::DrumRose));
        let after = drum.read(Dose::from_ml(17_001)).unwrap().unwrap();
        assert_eq!((after.real, after.booked.0), (Dose::from_ml(500), 0));
    }

    #[test]
    fn a_drum_that_falls_unfed_or_stands_while_fed_is_asked_about() {
        let doubt = |real, booked| {
            let found = Reconciled {
                real: Dose(real),
                booked: Dose(booked),
                ratio_percent: None,
            };
            drum_doubt(&found, Dose(300))
        };
        assert_eq!(doubt(600, 0), None);
        assert_eq!(doubt(601, 0), Some(Doubt::DrumFellUnfed));
        assert_eq!(doubt(601, 1), None);
        assert_eq!(doubt(300, 1200), Some(Doubt::DrumStoodFed));
        assert_eq!(doubt(301, 1200), None);
        assert_eq!(doubt(300, 1199), None);
        assert_eq!(booked_between(5, 7), Ok(Dose(2)));
        assert_eq!(booked_between(7, 5), Err(Doubt::LedgerFell));
    }

    #[test]
    fn the_real_rate_rounds_up_and_needs_something_booked() {
        let found = |real, booked| Reconciled {
            real: Dose(real),
            booked: Dose(booked),
            ratio_percent: None,
        };
        assert_eq!(real_rate(&found(3, 2), Rate(1001)), Some(Rate(1502)));
        assert_eq!(real_rate(&found(0, 2), Rate(1001)), Some(Rate(0)));
        assert_eq!(real_rate(&found(3, 0), Rate(1001)), None);
        assert_eq!(real_rate(&found(u32::MAX, 1), Rate(1001)), None);
    }
}
