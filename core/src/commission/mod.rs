//! Commissioning: from measurements to settings, as far as a device can work them out by itself.
//!
//! All of it is advice to whoever sets the limits; [`Limits::try_new`](crate::guard::Limits::try_new)
//! still checks them. Figures are rounded against feeding: a volume down, a rate and a time up.
//!
//! ```
//! use dosewarden::commission::{CatchTest, Shape, purge, spread_hold};
//! use dosewarden::guard::units::{FlowMlPerS, Millis, Rate};
//!
//! let deep_end = Shape::Rectangle { length_mm: 10_000, width_mm: 5_000, shallow_mm: 1_200, deep_mm: 2_000 };
//! assert_eq!(deep_end.volume_l_floor(), Ok(80_000));
//!
//! let caught = CatchTest { caught_ul: 61_000, time: Millis::from_secs(60) };
//! let rate = caught.rate_ceil()?;
//! assert_eq!(rate, Rate(3_660_000)); // uL/h
//! assert!(caught.compare(Rate::from_ml_per_min(60))?.agrees());
//! assert!(!caught.compare(Rate::from_ml_per_min(10))?.agrees()); // another tube
//!
//! let transit = Millis::from_secs(10);
//! assert_eq!(purge(30_000, FlowMlPerS(2_500)), Some(Millis(36_000)));
//! assert_eq!(spread_hold(transit, Millis::from_secs(15), Millis::from_mins(5)), Millis(955_000));
//! # Ok::<(), dosewarden::commission::CommissionError>(())
//! ```

mod basin;
#[cfg(feature = "water")]
mod doses;
mod rate;
mod times;

use core::fmt;

pub use basin::{Shape, volume_by_salt_l_floor};
#[cfg(feature = "water")]
pub use doses::{AcidPlan, AcidPlanError, AcidWants, acid_plan};
pub use rate::{APART_PERCENT, CATCH_MIN, CatchTest, Compared};
pub use times::{purge, spread_hold};

/// Why a measurement gives no setting.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub enum CommissionError {
    /// A length, area, amount or time is 0.
    Nothing,
    /// A notch is not smaller than what it is cut out of, or the shallow end is the deeper one.
    Shape,
    /// The basin is over 10,000 m3.
    TooLarge,
    /// The catch test was shorter than [`CATCH_MIN`].
    TooShort,
    /// The rate is over 1,000 L/h.
    TooFast,
    /// The water has no more acid to take between the two values of pH, or its pH cannot be had.
    NoRoom,
}

impl fmt::Display for CommissionError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Nothing => "a length, an area, an amount or a time is 0",
            Self::Shape => "a notch is not smaller than its basin, or the ends are swapped",
            Self::TooLarge => "the basin is over 10,000 m3",
            Self::TooShort => "the catch test took under 30 s",
            Self::TooFast => "the feeder gives over 1,000 L/h",
            Self::NoRoom => "no acid fits between the two values of pH",
        })
    }
}

impl core::error::Error for CommissionError {}
