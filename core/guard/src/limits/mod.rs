//! Limits that have been checked. There is one way in, [`Limits::try_new`], and it is `const`: a
//! site fixed at build time fails to build with a broken relation.
//!
//! A limit never means "unlimited", and there is no default.

mod check;
mod check_feeder;
mod error;
#[cfg(feature = "serde")]
mod serial;
mod spec;
mod tighter;

pub use error::LimitsError;
pub use spec::{
    BodyLimits, Cutoff, FallbackCaps, FallbackLimits, FeederLimits, FeederSpec, Governor, Hours,
    LimitsSpec, ResponseLimits, Restart,
};

use crate::product::Product;
use crate::request::Stage;
use crate::units::{Dose, Rate};

/// Checked limits of a site with `N` feeders and `B` bodies of water.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Limits<const N: usize, const B: usize> {
    spec: LimitsSpec<N, B>,
}

/// Caps that apply in a stage.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Caps {
    /// Largest dose of one cycle.
    pub cycle: Dose,
    /// Largest total of a rolling hour.
    pub hour: Dose,
    /// Largest total of a rolling day.
    pub day: Dose,
}

impl<const N: usize, const B: usize> Limits<N, B> {
    /// Checks every relation.
    ///
    /// # Errors
    /// The first relation that does not hold, with field, value and what would be right.
    pub const fn try_new(spec: LimitsSpec<N, B>) -> Result<Self, LimitsError> {
        match check::check(&spec) {
            Ok(()) => Ok(Self { spec }),
            Err(error) => Err(error),
        }
    }

    /// As memory that failed leaves them.
    #[cfg(test)]
    pub(crate) const fn bent(spec: LimitsSpec<N, B>) -> Self {
        Self { spec }
    }

    /// The limits as written down.
    #[must_use]
    pub const fn spec(&self) -> &LimitsSpec<N, B> {
        &self.spec
    }

    /// A feeder in use.
    #[must_use]
    pub fn feeder(&self, feeder: usize) -> Option<&FeederSpec<B>> {
        match self.spec.feeders.get(feeder) {
            Some(FeederLimits::Enabled(spec)) => Some(spec),
            _ => None,
        }
    }

    /// What a feeder gives.
    #[must_use]
    pub fn product(&self, feeder: usize) -> Option<Product> {
        self.feeder(feeder).map(|spec| spec.product)
    }

    /// The account that a feeder's product is booked on: the index of the first feeder in use that
    /// gives the same product.
    #[must_use]
    pub fn account(&self, feeder: usize) -> usize {
        let product = self.product(feeder);
        (0..feeder)
            .find(|other| product.is_some() && self.product(*other) == product)
            .unwrap_or(feeder)
    }

    /// A feeder's limits in a body.
    #[must_use]
    pub fn body(&self, feeder: usize, body: usize) -> Option<&BodyLimits> {
        self.feeder(feeder).and_then(|spec| spec.bodies.get(body))
    }

    /// The caps of a feeder in a body and a stage. 0 for what does not exist.
    #[must_use]
    pub fn caps(&self, feeder: usize, body: usize, stage: Stage) -> Caps {
        let Some(limits) = self.body(feeder, body) else {
            return Caps {
                cycle: Dose(0),
                hour: Dose(0),
                day: Dose(0),
            };
        };
        let full = Caps {
            cycle: limits.cycle_cap,
            hour: limits.hour_cap,
            day: limits.day_cap,
        };
        match stage {
            Stage::Full => full,
            Stage::Reduced => Caps {
                cycle: full.cycle.share_floor(limits.reduced_share),
                hour: full.hour.share_floor(limits.reduced_share),
                day: full.day.share_floor(limits.reduced_share),
            },
        }
    }
}

impl<const B: usize> FeederSpec<B> {
    /// The rate at which caps hold: with its tolerance once a catch test is on record, before that
    /// the largest that the feeder can have with any tube.
    #[must_use]
    pub const fn rate_for_caps(&self) -> Rate {
        if self.catch_test_on_record {
            self.rate.raised_ceil(self.rate_tolerance)
        } else {
            self.rate_any_tube
        }
    }
}
