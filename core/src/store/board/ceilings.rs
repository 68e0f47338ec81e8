//! What a board's firmware allows at most, whatever an image says.

use crate::guard::units::{Dose, Millis, Rate};
use crate::guard::{Limits, Product};

/// The most that a board allows one feeder.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct FeederCeiling {
    /// What is wired there.
    pub product: Product,
    /// Of one cycle.
    pub cycle_cap: Dose,
    /// Of an hour.
    pub hour_cap: Dose,
    /// Of a day.
    pub day_cap: Dose,
    /// Drive-on time of one cycle.
    pub run_max: Millis,
    /// Least rate that has to be reckoned with, of the largest tube that fits.
    pub rate_any_tube_min: Rate,
}

/// The most that a board's firmware was built to allow. Nobody raises it on site.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Ceilings<const N: usize> {
    /// Of each feeder; `None`: the board has none there.
    pub feeders: [Option<FeederCeiling>; N],
    /// Longest feed by hand.
    pub manual_max: Millis,
    /// Shortest proof of flow.
    pub flow_prove_min: Millis,
    /// Longest time between ticks.
    pub tick_gap_max: Millis,
    /// Most time without power that may count.
    pub off_credit_max: Millis,
}

/// A limit that is looser than its ceiling.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Over {
    /// Feeder; `None`: of the site.
    pub feeder: Option<u8>,
    /// Which limit.
    pub field: &'static str,
    /// What the image says; 0 where it is no figure.
    pub value: u32,
    /// What the board allows; 0 where it is no figure.
    pub allowed: u32,
}

impl core::fmt::Display for Over {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        if let Some(feeder) = self.feeder {
            write!(f, "feeder {feeder}: ")?;
        }
        let Self {
            field,
            value,
            allowed,
            ..
        } = self;
        if (*value, *allowed) == (0, 0) {
            write!(f, "{field} is not what this board has there")
        } else {
            write!(f, "{field} is {value}; this board allows {allowed}")
        }
    }
}

type Checked = Result<(), Over>;

fn at_most(feeder: Option<u8>, field: &'static str, value: u32, allowed: u32) -> Checked {
    if value <= allowed {
        return Ok(());
    }
    Err(Over {
        feeder,
        field,
        value,
        allowed,
    })
}

fn at_least(feeder: Option<u8>, field: &'static str, value: u32, allowed: u32) -> Checked {
    if value >= allowed {
        return Ok(());
    }
    Err(Over {
        feeder,
        field,
        value,
        allowed,
    })
}

impl<const N: usize> Ceilings<N> {
    /// Just what these limits are: for a board that is built for one site.
    #[must_use]
    pub fn of<const B: usize>(limits: &Limits<N, B>) -> Self {
        let feeder = |feeder| {
            let spec = limits.feeder(feeder)?;
            let most = |of: fn(&crate::guard::BodyLimits) -> Dose| {
                spec.bodies.iter().map(of).max().unwrap_or(Dose(0))
            };
            Some(FeederCeiling {
                product: spec.product,
                cycle_cap: most(|body| body.cycle_cap),
                hour_cap: most(|body| body.hour_cap),
                day_cap: most(|body| body.day_cap),
                run_max: spec.run_max,
                rate_any_tube_min: spec.rate_any_tube,
            })
        };
        let site = limits.spec();
        Self {
            feeders: core::array::from_fn(feeder),
            manual_max: site.manual_max,
            flow_prove_min: site.flow_prove,
            tick_gap_max: site.tick_gap_max,
            off_credit_max: site.off_credit_max,
        }
    }

    /// Whether limits keep to them.
    ///
    /// # Errors
    /// The first that does not.
    pub fn hold<const B: usize>(&self, limits: &Limits<N, B>) -> Result<(), Over> {
        let site = limits.spec();
        at_most(None, "manual_max", site.manual_max.0, self.manual_max.0)?;
        at_least(None, "flow_prove", site.flow_prove.0, self.flow_prove_min.0)?;
        at_most(
            None,
            "tick_gap_max",
            site.tick_gap_max.0,
            self.tick_gap_max.0,
        )?;
        let (credit, most) = (site.off_credit_max.0, self.off_credit_max.0);
        at_most(None, "off_credit_max", credit, most)?;
        for (feeder, ceiling) in (0..N).zip(&self.feeders) {
            let Some(spec) = limits.feeder(feeder) else {
                continue;
            };
            let feeder = u8::try_from(feeder).ok();
            let other = Over {
                feeder,
                field: "product",
                value: 0,
                allowed: 0,
            };
            let ceiling = ceiling
                .filter(|one| one.product == spec.product)
                .ok_or(other)?;
            at_most(feeder, "run_max", spec.run_max.0, ceiling.run_max.0)?;
            let (tube, least) = (spec.rate_any_tube.0, ceiling.rate_any_tube_min.0);
            at_least(feeder, "rate_any_tube", tube, least)?;
            for body in &spec.bodies {
                at_most(feeder, "cycle_cap", body.cycle_cap.0, ceiling.cycle_cap.0)?;
                at_most(feeder, "hour_cap", body.hour_cap.0, ceiling.hour_cap.0)?;
                at_most(feeder, "day_cap", body.day_cap.0, ceiling.day_cap.0)?;
            }
        }
        Ok(())
    }
}
