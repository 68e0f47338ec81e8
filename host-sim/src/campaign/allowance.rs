//! By how much a bound may be passed, and what that comes to for one trial.

use serde::Deserialize;

use super::trial::Broken;
use crate::fault::Chosen;
use crate::judge;
use crate::scenario::Scenario;

/// By how much a bound may be passed.
#[derive(Clone, Copy, Debug, PartialEq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Allowance {
    /// So many times it.
    Times(f64),
    /// As many times as the feeder gives more than it should.
    TimesSize,
    /// As many times as the unit's time is fast or slow.
    TimesClock,
    /// By what the fault makes a stop late: in time by that, in an amount by the entered rate x that.
    Late,
    /// By what leaks in a day, or in an hour for the hour's total; a time, by anything.
    Leak,
    /// So much more, in the oracle's unit, to its bad side.
    Plus(f64),
    /// No further than this value, in the oracle's unit.
    To(f64),
    /// By anything: only what is there, such as a drum, ends it.
    Any,
}

/// What several allowances come to together.
#[derive(Clone, Copy, Debug)]
pub(super) struct Together {
    times: f64,
    late: f64,
    plus: f64,
    to: Option<f64>,
    any: bool,
}

impl Together {
    pub(super) const NONE: Self = Self {
        times: 1.0,
        late: 0.0,
        plus: 0.0,
        to: None,
        any: false,
    };

    /// Adds what an entry allows for a fault: factors multiply, sums add, of values the further.
    pub(super) fn add(
        &mut self,
        allows: Allowance,
        one: &Chosen,
        scenario: &Scenario,
        broken: &Broken,
    ) {
        let is_time = broken.unit == "ms";
        match allows {
            Allowance::Times(factor) => self.times *= factor,
            Allowance::TimesSize => self.times *= one.times(scenario),
            Allowance::TimesClock => self.times *= one.clock_times(scenario),
            Allowance::Late if is_time => self.late += one.late_ms(scenario),
            Allowance::Late => self.late += one.late_ms(scenario) * rate_per_ms(broken, scenario),
            Allowance::Leak if is_time => self.any = true,
            Allowance::Leak => {
                let hours = if broken.oracle == "hour_total" {
                    1.0
                } else {
                    24.0
                };
                // Of a generator mg leak, of a liquid mL, which oracles tell in uL.
                let unit = if broken.unit == "mg" { 1.0 } else { 1000.0 };
                self.plus += one.leak_ml_h(scenario) * hours * unit;
            }
            Allowance::Plus(more) => self.plus += more,
            Allowance::To(value) => {
                let further = |old: f64| {
                    if broken.is_most() {
                        old.max(value)
                    } else {
                        old.min(value)
                    }
                };
                self.to = Some(self.to.map_or(value, further));
            }
            Allowance::Any => self.any = true,
        }
    }

    /// The value that is allowed; `None`: any.
    pub(super) fn value(self, broken: &Broken) -> Option<f64> {
        if self.any {
            return None;
        }
        let shifted = if broken.is_most() {
            (broken.bound + self.late) * self.times + self.plus
        } else {
            (broken.bound - self.late) / self.times - self.plus
        };
        Some(match self.to {
            Some(to) if broken.is_most() => shifted.max(to),
            Some(to) => shifted.min(to),
            None => shifted,
        })
    }
}

/// What the feeder that gives a product gives in a ms, in the product's unit; the largest of several, 0 of none.
fn rate_per_ms(broken: &Broken, scenario: &Scenario) -> f64 {
    let site = judge::bounds(scenario);
    let feeders = scenario.plant.feeders.iter().zip(&site.feeders);
    let own = feeders.filter(|(feeder, _)| feeder.kind.product().name() == broken.who());
    let rate = own.map(|(_, bound)| {
        let overrun_ms = f64::from(site.tick_gap_max_ms) + f64::from(bound.drive_off_ms);
        bound.overrun_max * bound.rate_ratio / overrun_ms
    });
    rate.fold(0.0, f64::max)
}

impl core::fmt::Display for Allowance {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            Self::Times(factor) => write!(f, "{factor} times"),
            Self::TimesSize => f.write_str("as much more as the feeder gives"),
            Self::TimesClock => f.write_str("as the unit's time is fast or slow"),
            Self::Late => f.write_str("by what a stop is late"),
            Self::Leak => f.write_str("by what leaks"),
            Self::Plus(more) => write!(f, "{more} more"),
            Self::To(value) => write!(f, "to {value}"),
            Self::Any => f.write_str("any"),
        }
    }
}
