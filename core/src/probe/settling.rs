//! Whether a reading in a solution stands still. Only a reading that does can be calibrated with.

use super::raw::Microvolts;
use crate::guard::units::Millis;

/// How long a reading has to stand still. Our choice.
pub const STILL_FOR: Millis = Millis::from_secs(60);
/// All values of that time lie within this of each other. With [`STILL_FOR`], an electrode that
/// creeps towards its end with a time constant of `T` seconds is at most `T / 120` mV from it: a
/// healthy one 0.1 mV, one with a lag of 450 s 4 mV, 0.06 pH. Our choice.
pub const STILL_WITHIN: Microvolts = Microvolts(500);
/// The same for ORP: platinum is noisier by some times, and a check is to 20 mV. An electrode that
/// creeps with a time constant of `T` seconds is at most `T / 20` mV from its end. Our choice.
pub const STILL_WITHIN_ORP: Microvolts = Microvolts(3000);

/// Watches a probe that stands in a solution. Starts anew whenever the reading leaves the band.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Settling {
    low: i32,
    high: i32,
    held: Millis,
    is_started: bool,
    within: Microvolts,
}

/// A reading that stood still. Made only by [`Settling::stable`].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Stable {
    pub(super) uv: Microvolts,
}

impl Stable {
    /// The middle of the band.
    #[must_use]
    pub const fn value(&self) -> Microvolts {
        self.uv
    }
}

impl Settling {
    /// Nothing seen yet of a pH probe.
    pub const NEW: Self = Self {
        low: 0,
        high: 0,
        held: Millis(0),
        is_started: false,
        within: STILL_WITHIN,
    };

    /// Nothing seen yet of an ORP probe.
    pub const NEW_ORP: Self = Self {
        within: STILL_WITHIN_ORP,
        ..Self::NEW
    };

    /// A new value, and the time since the one before: the filtered one
    /// ([`Conditioner::value`](super::Conditioner::value)), or a healthy probe's noise alone leaves
    /// the band.
    pub fn push(&mut self, value: Microvolts, since_last: Millis) {
        let low = self.low.min(value.0);
        let high = self.high.max(value.0);
        if self.is_started && high.saturating_sub(low) <= self.within.0 {
            (self.low, self.high) = (low, high);
            self.held.0 = self.held.0.saturating_add(since_last.0);
        } else {
            (self.low, self.high) = (value.0, value.0);
            self.held = Millis(0);
            self.is_started = true;
        }
    }

    /// The reading, once it has stood still for [`STILL_FOR`].
    ///
    /// # Errors
    /// How much longer it has to stand still.
    pub fn stable(&self) -> Result<Stable, NotStill> {
        let left = STILL_FOR.0.saturating_sub(self.held.0);
        if left > 0 || !self.is_started {
            return Err(NotStill {
                left: Millis(left.max(1)),
                within: self.within,
            });
        }
        let half = self.high.saturating_sub(self.low) / 2;
        Ok(Stable {
            uv: Microvolts(self.low.saturating_add(half)),
        })
    }
}

/// The reading does not stand still yet.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct NotStill {
    /// How much longer at least.
    pub left: Millis,
    /// Within this.
    pub within: Microvolts,
}

impl core::fmt::Display for NotStill {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        write!(
            f,
            "the reading does not stand still yet: {} s more within {} uV",
            self.left.0.div_ceil(1000),
            self.within.0
        )
    }
}

impl core::error::Error for NotStill {}

#[cfg(test)]
mod tests {
    use super::*;

    fn after(samples: impl Iterator<Item = i32>) -> Result<i32, u32> {
        let mut settling = Settling::NEW;
        for sample in samples {
            settling.push(Microvolts(sample), Millis(1000));
        }
        let stable = settling.stable();
        stable.map(|s| s.value().0).map_err(|e| e.left.0)
    }

    #[test]
    fn still_for_long_enough_and_not_a_second_less() {
        assert_eq!(after([0; 0].into_iter()), Err(60_000));
        assert_eq!(after((0..60).map(|_| 500)), Err(1000));
        assert_eq!(after((0..61).map(|i| 500 + i % 2 * 500)), Ok(750));
        assert_eq!(after((0..61).map(|i| 500 + i % 2 * 501)), Err(60_000));
    }

    #[test]
    fn orp_has_a_wider_band_of_its_own() {
        let still = |swing: i32| {
            let mut settling = Settling::NEW_ORP;
            for i in 0..61 {
                settling.push(Microvolts(200_000 + i % 2 * swing), Millis(1000));
            }
            settling.stable().is_ok()
        };
        assert_eq!([still(3000), still(3001)], [true, false]);
    }

    #[test]
    fn a_drift_of_over_half_a_millivolt_a_minute_is_seen_and_less_is_not() {
        assert!(after((0..600).map(|i| i * 9)).is_err());
        assert!(after((0..61).map(|i| i * 8)).is_ok());
    }
}
