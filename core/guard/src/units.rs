//! Units as types, so that a dose cannot be passed for a time. All are whole numbers; what was used
//! is rounded up (`_ceil`), what is left is rounded down (`_floor`).

use core::hash::{Hash, Hasher};

macro_rules! unit {
    ($(#[$doc:meta])* $name:ident($inner:ty)) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
        #[cfg_attr(feature = "defmt", derive(defmt::Format))]
        #[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
        #[cfg_attr(feature = "serde", serde(transparent))]
        pub struct $name(pub $inner);
    };
}

unit!(
    /// A duration in milliseconds, 0 to 49 days. Never a point in time.
    Millis(u32)
);
unit!(
    /// An amount of product: microlitres for a pump, milligrams of chlorine for a generator.
    Dose(u32)
);
unit!(
    /// Output per hour: microlitres per hour for a pump, milligrams of chlorine per hour for a
    /// generator.
    #[derive(Hash)]
    Rate(u32)
);
unit!(
    /// pH times 1000: 7250 is pH 7.25.
    #[derive(Hash)]
    MilliPh(i32)
);
unit!(
    /// Potential in millivolts.
    #[derive(Hash)]
    Millivolts(i32)
);
unit!(
    /// Water flow in millilitres per second.
    #[derive(Hash)]
    FlowMlPerS(u32)
);
unit!(
    /// Minute of the local day, 0 to 1439.
    #[derive(Hash)]
    MinuteOfDay(u16)
);
unit!(
    /// Seconds of a trusted real-time clock, from any epoch that does not change.
    #[derive(Hash)]
    ClockSeconds(u32)
);
unit!(
    /// Percent, whole.
    #[derive(Hash)]
    Percent(u32)
);
unit!(
    /// Index of a body of water, from 0.
    #[derive(Hash)]
    Body(u8)
);

/// Hashed like the number that it is; of many, four at once: the sum over the guard's state is taken
/// in every tick, and half of the state are these.
macro_rules! hash_by_fours {
    ($name:ident) => {
        impl Hash for $name {
            #[inline]
            fn hash<S: Hasher>(&self, state: &mut S) {
                state.write_u32(self.0);
            }

            #[inline]
            fn hash_slice<S: Hasher>(data: &[Self], state: &mut S) {
                hash_words(data, |one| one.0, state);
            }
        }
    };
}

hash_by_fours!(Millis);
hash_by_fours!(Dose);

#[inline]
fn hash_words<T, S: Hasher>(data: &[T], word: impl Fn(&T) -> u32, state: &mut S) {
    let (fours, rest) = data.as_chunks::<4>();
    for [a, b, c, d] in fours {
        state.write_u128(four_words([word(a), word(b), word(c), word(d)]));
    }
    for one in rest {
        state.write_u32(word(one));
    }
}

/// Four words as one number, the first one lowest.
#[inline]
fn four_words([a, b, c, d]: [u32; 4]) -> u128 {
    let high = u128::from(d) << 96 | u128::from(c) << 64;
    high | u128::from(b) << 32 | u128::from(a)
}

/// Milliseconds in an hour.
pub const HOUR_MS: u32 = 3_600_000;
/// Milliseconds in a day.
pub const DAY_MS: u32 = 86_400_000;

impl Millis {
    /// No time at all.
    pub const ZERO: Self = Self(0);

    /// From whole seconds; saturates.
    #[must_use]
    pub const fn from_secs(secs: u32) -> Self {
        Self(secs.saturating_mul(1000))
    }

    /// From whole minutes; saturates.
    #[must_use]
    pub const fn from_mins(mins: u32) -> Self {
        Self(mins.saturating_mul(60_000))
    }

    /// From whole hours; saturates.
    #[must_use]
    pub const fn from_hours(hours: u32) -> Self {
        Self(hours.saturating_mul(HOUR_MS))
    }
}

impl Dose {
    /// From whole millilitres; saturates.
    #[must_use]
    pub const fn from_ml(ml: u32) -> Self {
        Self(ml.saturating_mul(1000))
    }

    /// This share of the dose, rounded down; saturates.
    #[must_use]
    pub const fn share_floor(self, share: Percent) -> Self {
        let (whole, rest) = hundredths(self.0, share.0);
        Self(whole.saturating_add(rest / 100))
    }
}

/// `value` times `share`, as whole hundredths and what is left over in units. Each tick works out
/// shares, and a 64-bit division is a call of hundreds of instructions on a small core.
const fn hundredths(value: u32, share: u32) -> (u32, u32) {
    let rest = (value % 100).saturating_mul(share);
    ((value / 100).saturating_mul(share), rest)
}

/// Exact: every `u32` is a `u64`. (`u64::from` cannot be called in a `const fn`.)
const fn widen(value: u32) -> u64 {
    let [a, b, c, d] = value.to_be_bytes();
    u64::from_be_bytes([0, 0, 0, 0, a, b, c, d])
}

/// Exact: the figure as it was given, for messages.
pub(crate) const fn exact(value: u32) -> i64 {
    widen(value).cast_signed()
}

/// Exact, with its sign.
pub(crate) const fn exact_signed(value: i32) -> i64 {
    let size = exact(value.unsigned_abs());
    if value < 0 {
        0_i64.saturating_sub(size)
    } else {
        size
    }
}

/// Saturates.
const fn narrow(value: u64) -> u32 {
    let [0, 0, 0, 0, a, b, c, d] = value.to_be_bytes() else {
        return u32::MAX;
    };
    u32::from_be_bytes([a, b, c, d])
}

impl Rate {
    /// From millilitres per minute; saturates.
    #[must_use]
    pub const fn from_ml_per_min(ml_per_min: u32) -> Self {
        Self(ml_per_min.saturating_mul(60_000))
    }

    /// What this rate gives in `on`, rounded up: what was used is never understated.
    ///
    /// ```
    /// use dosewarden_guard::units::{Dose, Millis, Rate};
    /// assert_eq!(Rate::from_ml_per_min(30).dose_ceil(Millis(1)), Dose(1)); // 0.5 uL
    /// ```
    #[must_use]
    pub const fn dose_ceil(self, on: Millis) -> Dose {
        let product = widen(self.0).saturating_mul(widen(on.0));
        Dose(narrow(product.div_ceil(widen(HOUR_MS))))
    }

    /// The longest run that stays within `dose`, rounded down; 0 at rate 0, so that an unset rate
    /// feeds nothing. Divides by a variable: used when a cycle opens, never in every tick.
    #[must_use]
    pub const fn run_floor(self, dose: Dose) -> Millis {
        let product = widen(dose.0).saturating_mul(widen(HOUR_MS));
        match product.checked_div(widen(self.0)) {
            Some(run) => Millis(narrow(run)),
            None => Millis(0),
        }
    }

    /// The rate raised by `tolerance`, rounded up; saturates.
    #[must_use]
    pub const fn raised_ceil(self, tolerance: Percent) -> Self {
        let (whole, rest) = hundredths(self.0, tolerance.0);
        let more = whole.saturating_add(rest.div_ceil(100));
        Self(self.0.saturating_add(more))
    }
}

/// What a site has, or says that it does not have. Never confused with "did not answer".
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
pub enum Fitted<T> {
    /// The site has it, with these settings.
    Fitted(T),
    /// The site does not have it: a decision of whoever configured the site.
    NotFitted,
}

impl Fitted<()> {
    /// Fitted, with nothing to set.
    pub const YES: Self = Self::Fitted(());
}

impl<T: Copy> Fitted<T> {
    /// Whether the site has it.
    #[must_use]
    pub const fn is_fitted(&self) -> bool {
        matches!(self, Self::Fitted(_))
    }

    /// Its settings, if the site has it.
    #[must_use]
    pub const fn get(&self) -> Option<T> {
        match self {
            Self::Fitted(value) => Some(*value),
            Self::NotFitted => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn used_rounds_up_and_left_rounds_down() {
        let rate = Rate::from_ml_per_min(30); // 0.5 uL a millisecond
        assert_eq!(rate.dose_ceil(Millis(0)), Dose(0));
        assert_eq!(rate.dose_ceil(Millis(3)), Dose(2));
        assert_eq!(rate.run_floor(Dose(2)), Millis(4));
        assert_eq!(Rate(7).run_floor(Dose(1)), Millis(514_285));
    }

    #[test]
    fn a_rate_of_nothing_runs_for_no_time() {
        assert_eq!(Rate(0).run_floor(Dose(1000)), Millis(0));
    }

    #[test]
    fn raised_rates_round_up_and_saturate() {
        assert_eq!(Rate(101).raised_ceil(Percent(10)), Rate(112));
        assert_eq!(Rate(u32::MAX).raised_ceil(Percent(10)), Rate(u32::MAX));
    }

    #[test]
    fn shares_are_those_of_a_division_in_64_bits() {
        let most = u64::from(u32::MAX);
        for value in [0, 1, 99, 100, 101, 6699, 45_000, 4_294_967_295_u32] {
            for share in [0, 1, 33, 50, 99, 100, 150, 255] {
                let exact = u64::from(value) * u64::from(share);
                let Dose(floor) = Dose(value).share_floor(Percent(share));
                assert_eq!(u64::from(floor), (exact / 100).min(most));
                let Rate(raised) = Rate(value).raised_ceil(Percent(share));
                let exact = u64::from(value) + exact.div_ceil(100);
                assert_eq!(u64::from(raised), exact.min(most));
            }
        }
    }

    #[test]
    fn run_then_dose_never_exceeds_what_was_given() {
        for rate in [1, 7, 999, 1_800_000, 60_000_000] {
            for dose in [1, 2, 3, 999, 45_000, 4_000_000] {
                assert!(Rate(rate).dose_ceil(Rate(rate).run_floor(Dose(dose))) <= Dose(dose));
            }
        }
    }

    #[test]
    fn a_message_gives_the_figure_as_it_was_given() {
        for value in [0, 1, 77, u32::MAX] {
            assert_eq!(exact(value), i64::from(value));
        }
        for value in [i32::MIN, -2, -1, 0, 1, 77, i32::MAX] {
            assert_eq!(exact_signed(value), i64::from(value));
        }
    }
}
