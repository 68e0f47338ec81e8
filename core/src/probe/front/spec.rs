//! What the front end of a probe is told about its parts.

use crate::guard::units::{Fitted, Millis};

/// Converter, amplifier, electrode and bias, as somebody writes them down. Potentials of the
/// electrode are against its reference; the bias pulls towards the positive.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct FrontSpec {
    /// Full scale of the converter, mV, 100 to 6144.
    pub full_scale_mv: i32,
    /// Potential at the converter when the electrode is at 0 mV, mV, -6144 to 6144. Not near 0: a
    /// converter that lost its power, or a data line that is stuck, reads as zero.
    pub offset_mv: i32,
    /// Gain of the amplifier, times 1000: 100 to 100,000.
    pub gain_milli: i32,
    /// Least potential that a healthy electrode has, mV, -2000 to 2000.
    pub low_mv: i32,
    /// Greatest potential that a healthy electrode has, mV, -2000 to 2000.
    pub high_mv: i32,
    /// With the bias on, an input at or above this has nothing connected, mV, -2000 to 2000. Below
    /// what a floating input reaches within `settle`.
    pub open_at_mv: i32,
    /// With the bias on, a whole electrode moves by at least this, mV, 1 to 1000. Not fitted: a short
    /// cannot be told, as with a metal electrode behind a high bias resistance.
    pub moves_min_mv: Fitted<i32>,
    /// With the bias on, a whole electrode moves by at most this, mV, 1 to 1000.
    pub moves_max_mv: i32,
    /// From the bias going on or off to the input standing still, 1 ms to 60 s.
    pub settle: Millis,
    /// Longest that a conversion takes, 1 ms to 10 s.
    pub convert_max: Millis,
    /// Longest time between two calls of [`Front::poll`](super::Front::poll), 1 ms to 10 s.
    pub poll_max: Millis,
    /// From one check of the lead to the next, 10 s to 1 h.
    pub check_every: Millis,
    /// Oldest value that the guard takes: `probe_age_max` of its limits.
    pub age_max: Millis,
}

/// What is wrong with a [`FrontSpec`]: field, value and what would be right.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum FrontError {
    /// Outside its range.
    Range {
        /// Field.
        field: &'static str,
        /// Its value.
        value: i32,
        /// Least that is right.
        min: i32,
        /// Most that is right.
        max: i32,
    },
    /// One is not above the other.
    Order {
        /// Field that has to be above.
        field: &'static str,
        /// Its value.
        value: i32,
        /// It has to be above this.
        above: i32,
    },
    /// The converter is at its stop where the electrode is still healthy, or not yet open.
    OffScale {
        /// Field.
        field: &'static str,
        /// Potential at the converter, mV.
        at_mv: i32,
        /// Full scale, mV.
        full_scale_mv: i32,
    },
    /// A converter without power, which reads as zero, would pass for a healthy electrode. Move
    /// `offset_mv`.
    ZeroIsAValue {
        /// What `low_mv` is at the converter, mV.
        low_at_mv: i32,
        /// What `high_mv` is at the converter, mV.
        high_at_mv: i32,
    },
    /// A check of the lead takes so long that each one makes the guard refuse.
    CheckTooLong {
        /// How old a value gets by a check, ms.
        blind_ms: u32,
        /// How old it may get, ms.
        age_max_ms: u32,
    },
    /// The converter is set to another full scale than the one stated.
    FullScale {
        /// As stated, mV.
        stated_mv: i32,
        /// As set, mV.
        set_mv: i32,
    },
}

impl core::fmt::Display for FrontError {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            Self::Range {
                field,
                value,
                min,
                max,
            } => write!(f, "{field} is {value}; right is {min} to {max}"),
            Self::Order {
                field,
                value,
                above,
            } => write!(f, "{field} is {value}; it has to be above {above}"),
            Self::OffScale {
                field,
                at_mv,
                full_scale_mv,
            } => write!(
                f,
                "{field} is {at_mv} mV at the converter, which ends at {full_scale_mv} mV"
            ),
            Self::ZeroIsAValue {
                low_at_mv,
                high_at_mv,
            } => write!(
                f,
                "0 mV at the converter passes for a value, which go from {low_at_mv} to \
                 {high_at_mv} mV: move offset_mv"
            ),
            Self::CheckTooLong {
                blind_ms,
                age_max_ms,
            } => write!(
                f,
                "a value gets {blind_ms} ms old by a check, and may be {age_max_ms} ms old: shorten \
                 settle, convert_max or poll_max"
            ),
            Self::FullScale { stated_mv, set_mv } => write!(
                f,
                "full_scale_mv is {stated_mv}, and the converter is set to {set_mv}"
            ),
        }
    }
}

impl core::error::Error for FrontError {}

/// How far from 0 mV at the converter a healthy electrode has to stay, mV. More than one count at
/// any full scale, and the converter's own error.
const ZERO_MARGIN_MV: i32 = 10;

/// A [`FrontSpec`] whose relations hold.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct FrontLimits(FrontSpec);

const fn range(field: &'static str, value: i32, min: i32, max: i32) -> Result<(), FrontError> {
    if value < min || value > max {
        return Err(FrontError::Range {
            field,
            value,
            min,
            max,
        });
    }
    Ok(())
}

/// A time, as [`range`]: one that does not fit is far out of range.
const fn time(field: &'static str, value: Millis, min: i32, max: i32) -> Result<(), FrontError> {
    let [a, b, c, d] = value.0.to_le_bytes();
    let ms = if d > 0x7F {
        i32::MAX
    } else {
        i32::from_le_bytes([a, b, c, d])
    };
    range(field, ms, min, max)
}

const fn above(field: &'static str, value: i32, above: i32) -> Result<(), FrontError> {
    if value <= above {
        return Err(FrontError::Order {
            field,
            value,
            above,
        });
    }
    Ok(())
}

/// `?`, which a `const fn` does not have.
macro_rules! check {
    ($result:expr) => {
        if let Err(error) = $result {
            return Err(error);
        }
    };
}

impl FrontSpec {
    /// The electrode's potential as the converter sees it, mV. In range it does not saturate.
    const fn at_converter(&self, mv: i32) -> i32 {
        (mv.saturating_mul(self.gain_milli) / 1000).saturating_add(self.offset_mv)
    }

    const fn ranges(&self) -> Result<(), FrontError> {
        check!(range("full_scale_mv", self.full_scale_mv, 100, 6144));
        check!(range("offset_mv", self.offset_mv, -6144, 6144));
        check!(range("gain_milli", self.gain_milli, 100, 100_000));
        check!(range("low_mv", self.low_mv, -2000, 2000));
        check!(range("high_mv", self.high_mv, -2000, 2000));
        check!(range("open_at_mv", self.open_at_mv, -2000, 2000));
        check!(range("moves_max_mv", self.moves_max_mv, 1, 1000));
        check!(time("settle", self.settle, 1, 60_000));
        check!(time("convert_max", self.convert_max, 1, 10_000));
        check!(time("poll_max", self.poll_max, 1, 10_000));
        check!(time("check_every", self.check_every, 10_000, 3_600_000));
        if let Fitted::Fitted(moves_min) = self.moves_min_mv {
            check!(range("moves_min_mv", moves_min, 1, 1000));
            check!(above("moves_max_mv", self.moves_max_mv, moves_min));
        }
        Ok(())
    }

    const fn on_scale(&self, field: &'static str, mv: i32) -> Result<(), FrontError> {
        let at_mv = self.at_converter(mv);
        if at_mv <= self.full_scale_mv.saturating_neg() || at_mv >= self.full_scale_mv {
            return Err(FrontError::OffScale {
                field,
                at_mv,
                full_scale_mv: self.full_scale_mv,
            });
        }
        Ok(())
    }

    /// How old a value gets by a check, at most: its own conversion, the one with the bias on, the
    /// one after it; two times of settling; and after each of these the next call comes late.
    const fn blind_ms(&self) -> u32 {
        let conversions = self.convert_max.0.saturating_add(self.poll_max.0);
        let settling = self.settle.0.saturating_add(self.poll_max.0);
        let both = conversions.saturating_mul(3);
        both.saturating_add(settling.saturating_mul(2))
    }
}

impl FrontLimits {
    /// Checks every relation.
    ///
    /// # Errors
    /// The first that is broken.
    pub const fn try_new(spec: FrontSpec) -> Result<Self, FrontError> {
        check!(spec.ranges());
        check!(above("high_mv", spec.high_mv, spec.low_mv));
        let whole_max = spec.high_mv.saturating_add(spec.moves_max_mv);
        check!(above("open_at_mv", spec.open_at_mv, whole_max));
        check!(spec.on_scale("low_mv", spec.low_mv));
        check!(spec.on_scale("high_mv", spec.high_mv));
        check!(spec.on_scale("open_at_mv", spec.open_at_mv));
        let low_at_mv = spec.at_converter(spec.low_mv);
        let high_at_mv = spec.at_converter(spec.high_mv);
        if low_at_mv < ZERO_MARGIN_MV && high_at_mv > ZERO_MARGIN_MV.saturating_neg() {
            return Err(FrontError::ZeroIsAValue {
                low_at_mv,
                high_at_mv,
            });
        }
        let blind_ms = spec.blind_ms();
        if blind_ms > spec.age_max.0 {
            return Err(FrontError::CheckTooLong {
                blind_ms,
                age_max_ms: spec.age_max.0,
            });
        }
        Ok(Self(spec))
    }

    /// What it was made from.
    #[must_use]
    pub const fn spec(&self) -> &FrontSpec {
        &self.0
    }
}

#[cfg(test)]
pub(super) mod tests;
