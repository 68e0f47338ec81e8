//! A feeder's rate, from what it gave into a measuring cup.

use super::CommissionError;
use crate::guard::units::{Millis, Rate};

/// Shortest catch test. Our choice: a stopwatch in a hand errs by half a second.
pub const CATCH_MIN: Millis = Millis::from_secs(30);

/// How far a rate that was entered may be from one that was caught, in percent of the larger.
/// Farther apart, one of them is wrong: another tube, another roller, a worn tube, or a slip.
pub const APART_PERCENT: u32 = 20;

/// Largest rate, uL/h.
const RATE_MAX: u64 = 1_000_000_000;

/// What a feeder gave in a measured time, its suction line full.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct CatchTest {
    /// What was caught, uL.
    pub caught_ul: u32,
    /// How long it ran.
    pub time: Millis,
}

/// A rate that was entered beside one that was caught.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Compared {
    /// The smaller over the larger, in percent, rounded down.
    pub alike_percent: u32,
    /// The feeder gives more than was entered: doses would be too large.
    pub gives_more: bool,
}

impl Compared {
    /// Not farther apart than [`APART_PERCENT`].
    #[must_use]
    pub const fn agrees(&self) -> bool {
        self.alike_percent > 100_u32.saturating_sub(APART_PERCENT)
    }
}

impl CatchTest {
    /// The rate in uL/h, rounded up.
    ///
    /// # Errors
    /// [`CommissionError::TooShort`], [`CommissionError::Nothing`] if nothing was caught,
    /// [`CommissionError::TooFast`].
    pub fn rate_ceil(&self) -> Result<Rate, CommissionError> {
        if self.time < CATCH_MIN {
            return Err(CommissionError::TooShort);
        }
        if self.caught_ul == 0 {
            return Err(CommissionError::Nothing);
        }
        let product = u64::from(self.caught_ul).saturating_mul(3_600_000);
        let rate = product.div_ceil(u64::from(self.time.0));
        match u32::try_from(rate) {
            Ok(rate) if u64::from(rate) <= RATE_MAX => Ok(Rate(rate)),
            _ => Err(CommissionError::TooFast),
        }
    }

    /// Beside a rate that was entered.
    ///
    /// # Errors
    /// As [`CatchTest::rate_ceil`]; [`CommissionError::Nothing`] for a rate of 0.
    pub fn compare(&self, entered: Rate) -> Result<Compared, CommissionError> {
        let caught = self.rate_ceil()?;
        let (small, large) = (caught.min(entered), caught.max(entered));
        let percent = u64::from(small.0)
            .saturating_mul(100)
            .checked_div(u64::from(large.0))
            .filter(|_| small.0 > 0)
            .ok_or(CommissionError::Nothing)?;
        Ok(Compared {
            alike_percent: u32::try_from(percent).unwrap_or(0),
            gives_more: caught > entered,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn caught(ml: u32, secs: u32) -> CatchTest {
        CatchTest {
            caught_ul: ml * 1000,
            time: Millis::from_secs(secs),
        }
    }

    #[test]
    fn a_fifth_apart_is_too_far() {
        let entered = Rate::from_ml_per_min(100);
        let agrees = |ml| caught(ml, 60).compare(entered).unwrap().agrees();
        assert!(agrees(100) && agrees(81) && agrees(123));
        assert!(!agrees(80) && !agrees(125));
        assert!(caught(125, 60).compare(entered).unwrap().gives_more);
        assert!(!caught(80, 60).compare(entered).unwrap().gives_more);
    }

    #[test]
    fn another_tube_in_the_same_body() {
        // Common practice, no source: the same body gives 10 or 50 US gal a day, by the tube.
        let gal_a_day = |gal: u64| Rate(u32::try_from(gal * 3_785_412 / 24).unwrap());
        let ml = u32::try_from(50 * 3_785_412_u64 / 24 / 60 / 1000).unwrap();
        let seen = caught(ml, 60).compare(gal_a_day(10)).unwrap();
        assert!(!seen.agrees() && seen.gives_more && seen.alike_percent <= 20);
    }

    #[test]
    fn rates_round_up_and_tests_have_to_be_long() {
        assert_eq!(caught(1, 31).rate_ceil(), Ok(Rate(116_130)));
        assert_eq!(caught(1, 29).rate_ceil(), Err(CommissionError::TooShort));
        assert_eq!(caught(0, 60).rate_ceil(), Err(CommissionError::Nothing));
        assert_eq!(
            caught(4_000_000, 60).rate_ceil(),
            Err(CommissionError::TooFast)
        );
        assert_eq!(
            caught(1, 60).compare(Rate(0)),
            Err(CommissionError::Nothing)
        );
    }

    #[test]
    fn the_shortest_test_the_fastest_feeder_and_a_rate_that_is_met() {
        let of = |caught_ul, time| CatchTest {
            caught_ul,
            time: Millis(time),
        };
        assert!(of(1, 30_000).rate_ceil().is_ok());
        assert_eq!(of(1, 29_999).rate_ceil(), Err(CommissionError::TooShort));
        // In an hour, what is caught is the rate.
        let hour = |caught_ul| of(caught_ul, 3_600_000).rate_ceil();
        assert_eq!(hour(1_000_000_000), Ok(Rate(1_000_000_000)));
        assert_eq!(hour(1_000_000_001), Err(CommissionError::TooFast));
        let met = caught(100, 60).compare(Rate::from_ml_per_min(100)).unwrap();
        assert!(!met.gives_more && met.alike_percent == 100);
    }
}
