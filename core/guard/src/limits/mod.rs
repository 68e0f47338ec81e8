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
    /// The caps of the reduced stage: their divisions are worked out once, not in every tick.
    reduced: [[Caps; B]; N],
}

/// Caps that apply in a stage.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
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
            Ok(()) => {
                let reduced = reduced(&spec.feeders);
                Ok(Self { spec, reduced })
            }
            Err(error) => Err(error),
        }
    }

    /// As memory that failed leaves them.
    #[cfg(test)]
    pub(crate) const fn bent(spec: LimitsSpec<N, B>) -> Self {
        let reduced = reduced(&spec.feeders);
        Self { spec, reduced }
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
        let caps = match stage {
            Stage::Full => self.body(feeder, body).map(Caps::full),
            Stage::Reduced => {
                let row = self.reduced.get(feeder);
                row.and_then(|bodies| bodies.get(body)).copied()
            }
        };
        caps.unwrap_or(Caps::NONE)
    }
}

impl Caps {
    const NONE: Self = Self {
        cycle: Dose(0),
        hour: Dose(0),
        day: Dose(0),
    };

    const fn full(limits: &BodyLimits) -> Self {
        Self {
            cycle: limits.cycle_cap,
            hour: limits.hour_cap,
            day: limits.day_cap,
        }
    }

    const fn reduced(limits: &BodyLimits) -> Self {
        let (full, share) = (Self::full(limits), limits.reduced_share);
        Self {
            cycle: full.cycle.share_floor(share),
            hour: full.hour.share_floor(share),
            day: full.day.share_floor(share),
        }
    }
}

/// `const`, so that limits fixed at build time are whole at build time.
const fn reduced<const N: usize, const B: usize>(feeders: &[FeederLimits<B>; N]) -> [[Caps; B]; N] {
    let mut all = [[Caps::NONE; B]; N];
    let mut rows: &mut [[Caps; B]] = &mut all;
    let mut feeders: &[FeederLimits<B>] = feeders;
    while let ([row, more_rows @ ..], [feeder, more @ ..]) = (rows, feeders) {
        if let FeederLimits::Enabled(spec) = feeder {
            let mut caps: &mut [Caps] = row;
            let mut bodies: &[BodyLimits] = &spec.bodies;
            while let ([one, more_caps @ ..], [limits, more @ ..]) = (caps, bodies) {
                *one = Caps::reduced(limits);
                (caps, bodies) = (more_caps, more);
            }
        }
        (rows, feeders) = (more_rows, more);
    }
    all
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
