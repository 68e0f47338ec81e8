//! What can be wrong with a regulator's figures.

/// A figure that makes no sense. Names the field, the value and what would be right.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum RegulatorError {
    /// Outside its range.
    Range {
        /// Field.
        field: &'static str,
        /// Its value.
        value: i64,
        /// Least that is right.
        min: i64,
        /// Most that is right.
        max: i64,
    },
    /// The value at which feed ends is not past the one at which it starts, in the direction in
    /// which the product works.
    BandReversed {
        /// Start.
        start: i32,
        /// Stop.
        stop: i32,
    },
    /// A minimum on and a minimum off time do not fit into one period.
    PeriodTooShort {
        /// Period in ms.
        period_ms: u32,
        /// It has to be at least this.
        at_least_ms: u32,
    },
}

impl core::fmt::Display for RegulatorError {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            Self::Range {
                field,
                value,
                min,
                max,
            } => write!(f, "{field} is {value}; right is {min} to {max}"),
            Self::BandReversed { start, stop } => write!(
                f,
                "feed starts at {start} and would end at {stop}, on the wrong side of it"
            ),
            Self::PeriodTooShort {
                period_ms,
                at_least_ms,
            } => write!(
                f,
                "period is {period_ms} ms; on_min and off_min need at least {at_least_ms} ms"
            ),
        }
    }
}

impl core::error::Error for RegulatorError {}

pub(super) fn ranged(
    field: &'static str,
    value: i64,
    min: i64,
    max: i64,
) -> Result<(), RegulatorError> {
    if (min..=max).contains(&value) {
        Ok(())
    } else {
        Err(RegulatorError::Range {
            field,
            value,
            min,
            max,
        })
    }
}
