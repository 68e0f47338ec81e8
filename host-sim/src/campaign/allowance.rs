//! By how much a bound may be passed, and what that comes to for one trial.

use serde::Deserialize;

use super::trial::Broken;
use crate::fault::{Chosen, Part};
use crate::judge;
use crate::oracle::FeederBounds;
use crate::plant::{FeederKind, FeederSpec, Product};
use crate::scenario::Scenario;
use crate::water::units::CHLORINE_MG_PER_MMOL;

/// By how much a bound may be passed.
#[derive(Clone, Copy, Debug, PartialEq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Allowance {
    /// So many times it.
    Times(f64),
    /// As many times as the feeder gives more than it should, or as caps were raised; a time, as caps were raised.
    TimesSize,
    /// As many times as the unit's time is fast or slow; of no time at all, by one tick of it.
    TimesClock,
    /// By what the fault makes a stop late: in time by that, in an amount by the entered rate x that.
    Late,
    /// By what leaks in a day, or in an hour for the hour's total; a time, by anything.
    Leak,
    /// As far as what these faults together allow in a day: in an amount, that; in a time, as long as it takes to feed
    /// that; in mg/L, what it makes of water at the bound; as gas, all of its chlorine. Anything in pH and mV.
    Day,
    /// An amount: as far as so many times what these faults together allow in a day.
    Days(f64),
    /// A time: by as long as the fault stands.
    Lasts,
    /// By one cycle's cap: an amount by that, a time by the longest run.
    Cycle,
    /// By what a feeder gives until its feedback tells that it runs.
    Feedback,
    /// By what the other feeders' drives, on for as long as their own cap allows, give of this product.
    Swapped,
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
        day: Option<f64>,
        one: &Chosen,
        scenario: &Scenario,
        broken: &Broken,
    ) {
        let is_time = broken.unit == "ms";
        match allows {
            Allowance::Times(factor) => self.times *= factor,
            // How much a feeder gives changes nothing of how long it may run.
            Allowance::TimesSize if is_time => self.times *= one.times_caps(scenario),
            Allowance::TimesSize => self.times *= one.times(scenario),
            // By a slow clock holds are longer, but a dose that was cut short goes on after a longer pause.
            Allowance::TimesClock
                if broken.oracle == "holds_kept" && one.is_clock_slow(scenario) =>
            {
                self.further(f64::from(scenario.limits.spec().resume_within.0), broken);
            }
            // Of what may take no time at all: one tick more, as long as by that clock.
            Allowance::TimesClock if is_time && broken.bound == 0.0 => {
                let tick_ms = f64::from(judge::bounds(scenario).tick_gap_max_ms);
                self.plus += tick_ms * one.clock_times(scenario);
            }
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
            Allowance::Day => match day {
                Some(value) => self.further(value, broken),
                None => self.any = true,
            },
            Allowance::Days(days) => match day {
                Some(value) => self.further(days * value, broken),
                None => self.any = true,
            },
            Allowance::Lasts => match one.stands_ms(scenario) {
                Some(ms) => self.plus += ms as f64,
                None => self.any = true,
            },
            Allowance::Cycle if is_time => {
                let run_ms = |bound: &FeederBounds| bound.run_ms_max.map_or(0.0, |ms| ms as f64);
                self.plus += largest(broken, scenario, run_ms);
            }
            Allowance::Cycle => self.plus += cap_of(broken, scenario, |bound| bound.cycle_cap),
            Allowance::Feedback => self.plus += until_feedback(broken, scenario),
            Allowance::Swapped => self.plus += swapped(broken, scenario),
            Allowance::Plus(more) => self.plus += more,
            Allowance::To(value) => self.further(value, broken),
            Allowance::Any => self.any = true,
        }
    }

    fn further(&mut self, value: f64, broken: &Broken) {
        let further = |old: f64| {
            if broken.is_most() {
                old.max(value)
            } else {
                old.min(value)
            }
        };
        self.to = Some(self.to.map_or(value, further));
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

/// A site's feeders with what they are held to.
fn feeders(scenario: &Scenario) -> impl Iterator<Item = (FeederSpec, FeederBounds)> + '_ {
    let bounds = judge::bounds(scenario).feeders;
    scenario.plant.feeders.iter().cloned().zip(bounds)
}

/// The largest of a figure over the feeders that give the product whose bound was broken; 0 of none.
fn largest(broken: &Broken, scenario: &Scenario, of: impl Fn(&FeederBounds) -> f64) -> f64 {
    let own = feeders(scenario).filter(|(feeder, _)| feeder.kind.product().name() == broken.who());
    own.map(|(_, bound)| of(&bound)).fold(0.0, f64::max)
}

/// A cap of the product whose bound was broken, at the true rate.
fn cap_of(broken: &Broken, scenario: &Scenario, cap: impl Fn(&FeederBounds) -> Option<f64>) -> f64 {
    let at_true_rate = |bound: &FeederBounds| cap(bound).unwrap_or(0.0) * bound.rate_ratio;
    largest(broken, scenario, at_true_rate)
}

/// What a feeder really gives in a ms, in its product's unit.
fn true_rate(bound: &FeederBounds, tick_gap_max_ms: u32) -> f64 {
    let overrun_ms = f64::from(tick_gap_max_ms) + f64::from(bound.drive_off_ms);
    bound.overrun_max * bound.rate_ratio / overrun_ms
}

/// What the feeder that gives a product gives in a ms, in the product's unit; the largest of several, 0 of none.
fn rate_per_ms(broken: &Broken, scenario: &Scenario) -> f64 {
    let tick_gap_max_ms = judge::bounds(scenario).tick_gap_max_ms;
    largest(broken, scenario, |bound| true_rate(bound, tick_gap_max_ms))
}

/// What a feeder gives until its feedback tells: the unit waits for that, and then stops as late as at any stop.
fn until_feedback(broken: &Broken, scenario: &Scenario) -> f64 {
    let site = judge::bounds(scenario);
    let mut most = 0.0_f64;
    for (at, (feeder, bound)) in feeders(scenario).enumerate() {
        let limits = scenario.limits.feeder(at);
        let wait = limits.and_then(|limits| limits.feedback.get());
        if let (true, Some(wait)) = (feeder.kind.product().name() == broken.who(), wait) {
            let ms = wait.0 + site.tick_gap_max_ms + bound.drive_off_ms;
            most = most.max(true_rate(&bound, site.tick_gap_max_ms) * f64::from(ms));
        }
    }
    most
}

/// What the other feeders' drives give of this product, on for as long as their own cap allows.
fn swapped(broken: &Broken, scenario: &Scenario) -> f64 {
    let tick_gap_max_ms = judge::bounds(scenario).tick_gap_max_ms;
    let others =
        feeders(scenario).filter(|(feeder, _)| feeder.kind.product().name() != broken.who());
    let on_ms = others.filter_map(|(_, bound)| {
        let cap = match broken.oracle {
            "hour_total" => bound.hour_cap,
            _ => bound.day_cap,
        };
        Some(cap? * bound.rate_ratio / true_rate(&bound, tick_gap_max_ms))
    });
    on_ms.fold(0.0, f64::max) * rate_per_ms(broken, scenario)
}

/// A day's total of a product at its bound.
fn day_total(product: Product, broken: &Broken, scenario: &Scenario) -> Broken {
    let mut day = Broken {
        oracle: "day_total",
        worst: f64::INFINITY,
        bound: 0.0,
        unit: product.unit(),
        words: format!("{}: a day's total", product.name()),
        ..broken.clone()
    };
    day.bound = cap_of(&day, scenario, |bound| bound.day_cap);
    day
}

/// Grams of chlorine in an amount of what a feeder gives. A drum with the wrong product in it gives as many moles.
fn chlorine_g(kind: &FeederKind, is_wrong: bool) -> f64 {
    match kind {
        FeederKind::Acid { mol_per_l, .. } if is_wrong => mol_per_l * CHLORINE_MG_PER_MMOL / 1e6,
        FeederKind::Acid { .. } => 0.0,
        FeederKind::Hypochlorite { g_per_l, .. } => g_per_l / 1e6,
        FeederKind::Generator { .. } => 1e-3,
    }
}

/// What a day's totals come to in the unit of what was broken; `allowed` says how far each may go. `None`: no figure.
pub(super) fn of_a_day(
    broken: &Broken,
    chosen: &[Chosen],
    scenario: &Scenario,
    allowed: impl Fn(&Broken) -> Option<f64>,
) -> Option<f64> {
    let feeders = || scenario.plant.feeders.iter().map(|feeder| &feeder.kind);
    let all_chlorine_g = || {
        let mut grams = 0.0;
        for (at, kind) in feeders().enumerate() {
            let is_wrong = |one: &Chosen| one.fault.id == "C2" && one.part == Part::Feeder(at);
            let g_per_unit = chlorine_g(kind, chosen.iter().any(is_wrong));
            if g_per_unit > 0.0 {
                grams += g_per_unit * allowed(&day_total(kind.product(), broken, scenario))?;
            }
        }
        Some(grams)
    };
    match broken.unit {
        "pH" | "mV" => None,
        "g Cl2" => all_chlorine_g(),
        "mg/L" => {
            // All of it may go into the smallest body.
            let m3 = scenario.plant.bodies.iter().map(|body| body.volume_m3);
            let m3 = m3.min_by(f64::total_cmp)?;
            Some(broken.bound + all_chlorine_g()? / m3)
        }
        unit => {
            let mut products = feeders().map(|kind| kind.product());
            let product = products.find(|one| one.name() == broken.who())?;
            let day = allowed(&day_total(product, broken, scenario))?;
            let is_time = unit == "ms";
            Some(if is_time {
                day / rate_per_ms(broken, scenario)
            } else {
                day
            })
        }
    }
}

impl core::fmt::Display for Allowance {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            Self::Times(factor) => write!(f, "{factor} times"),
            Self::TimesSize => f.write_str("as much more as the feeder gives"),
            Self::TimesClock => f.write_str("as the unit's time is fast or slow"),
            Self::Late => f.write_str("by what a stop is late"),
            Self::Leak => f.write_str("by what leaks"),
            Self::Day => f.write_str("a day's total"),
            Self::Days(days) => write!(f, "{days} days' totals"),
            Self::Lasts => f.write_str("as long as the fault stands"),
            Self::Cycle => f.write_str("one more cycle"),
            Self::Feedback => f.write_str("what is given until feedback tells"),
            Self::Swapped => f.write_str("what the other drives give in their time"),
            Self::Plus(more) => write!(f, "{more} more"),
            Self::To(value) => write!(f, "to {value}"),
            Self::Any => f.write_str("any"),
        }
    }
}
