//! Filter and checks on one electrode's potential, before anyone calls it pH or ORP.
//!
//! # Invariants
//! - A sample counts once: only one that is younger than the last makes the value young, moves the
//!   filter, or speaks for or against noise and standing still.
//! - A spike moves nothing: a sample far from the filtered value is kept out until it has stayed.
//! - After a failure the filter starts from the first good sample, never from before.

mod spec;
#[cfg(test)]
mod tests;

pub use spec::{ConditionError, ConditionLimits, ConditionSpec, FlatCheck};

use super::finding::Finding;
use super::numbers::narrow;
use super::raw::{FrontFault, FrontReading, Lead, Microvolts};
use crate::guard::Health;
use crate::guard::units::{Fitted, Millis};

/// Noise is a running mean over 64 samples, kept times 64.
const NOISE_LOG2: u32 = 6;

/// Filter and checks of one electrode: state.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Conditioner {
    /// Filtered potential, uV x 256.
    filtered: i32,
    /// The last sample, uV.
    last: i32,
    /// Mean change from sample to sample, uV x 64.
    noise: u32,
    /// Since when samples stood still, and between what.
    low: i32,
    high: i32,
    flat: Millis,
    /// Age of the last sample, and of the last that counted.
    sample_age: Millis,
    value_age: Millis,
    /// The potential before a jump.
    before_jump: i32,
    /// How long samples have been far from the filtered value, ms; 0: they are not.
    away_ms: u16,
    /// Share of the filter, x 65536, and the time between samples for which it holds, ms.
    share: u16,
    share_for_ms: u16,
    is_started: bool,
    has_jumped: bool,
    is_noisy: bool,
}

impl Default for Conditioner {
    fn default() -> Self {
        Self::NEW
    }
}

impl Conditioner {
    /// Nothing seen yet.
    pub const NEW: Self = Self {
        filtered: 0,
        last: 0,
        noise: 0,
        low: 0,
        high: 0,
        flat: Millis(0),
        sample_age: Millis(u32::MAX),
        value_age: Millis(u32::MAX),
        before_jump: 0,
        away_ms: 0,
        share: 0,
        share_for_ms: 0,
        is_started: false,
        has_jumped: false,
        is_noisy: false,
    };

    /// One tick. `elapsed` since the last; `is_steady`: water has moved past the probe for a while
    /// and from the same body, so that what jumps is not the water.
    pub fn tick(
        &mut self,
        limits: &ConditionLimits,
        elapsed: Millis,
        seen: &FrontReading,
        is_steady: bool,
    ) -> Finding {
        let spec = limits.spec();
        let since_last = grown(self.sample_age, elapsed);
        self.value_age = grown(self.value_age, elapsed);
        let is_new = seen.reading.age < since_last;
        self.sample_age = since_last.min(seen.reading.age);
        let electrical = electrical(spec, seen);
        let failure = electrical.filter(|finding| finding.health() == Health::Failure);
        let not_young = (seen.reading.age > spec.age_max).then(|| not_young(seen));
        if let Some(failure) = failure.or(not_young) {
            self.is_started = false;
            return failure;
        }
        if is_new {
            // From conversion to conversion, whenever the ticks were.
            let between = Millis(since_last.0.saturating_sub(seen.reading.age.0));
            self.take(spec, seen, between, is_steady);
        }
        self.found(spec)
            .gravest(electrical.unwrap_or(Finding::Fine))
    }

    /// A new sample.
    fn take(
        &mut self,
        spec: &ConditionSpec,
        seen: &FrontReading,
        between: Millis,
        is_steady: bool,
    ) {
        let uv = seen.reading.value.0;
        if !self.is_started {
            self.start(uv);
            self.value_age = seen.reading.age;
            return;
        }
        self.watch_noise(spec, uv);
        self.watch_flat(spec, uv, between);
        self.last = uv;
        let jump = spec.jump.0.saturating_mul(1000);
        let off = uv.saturating_sub(self.filtered >> 8);
        if is_steady && off.saturating_abs() > jump {
            // From the first sample that is away: one alone is never a jump.
            self.away_ms = match self.away_ms {
                0 => 1,
                away_ms => away_ms.saturating_add(short(between)),
            };
            if u32::from(self.away_ms) < spec.jump_after.0 {
                return; // A spike until it has stayed; the value gets old.
            }
            if !self.has_jumped {
                self.before_jump = self.filtered >> 8;
                self.has_jumped = true;
            }
            self.filtered = uv.saturating_mul(256);
        } else {
            self.filter(spec, uv, between);
        }
        self.away_ms = 0;
        self.value_age = seen.reading.age;
        let back = (self.filtered >> 8).saturating_sub(self.before_jump);
        if self.has_jumped && back.saturating_abs() <= jump / 2 {
            self.has_jumped = false;
        }
    }

    fn start(&mut self, uv: i32) {
        self.is_started = true;
        self.filtered = uv.saturating_mul(256);
        (self.last, self.low, self.high) = (uv, uv, uv);
        (self.flat, self.away_ms) = (Millis(0), 0);
        self.noise = 0;
        self.is_noisy = false;
    }

    /// First order: moves by `between / (filter + between)` of the way; `between` within an eighth.
    fn filter(&mut self, spec: &ConditionSpec, uv: i32, between: Millis) {
        let between_ms = short(between);
        if between_ms.abs_diff(self.share_for_ms) > self.share_for_ms / 8 {
            // Only where the time between samples has changed: no division by it in every tick.
            let of = spec.filter.0.saturating_add(u32::from(between_ms));
            let share = u32::from(between_ms).saturating_mul(65_536).checked_div(of);
            self.share = share.map_or(u16::MAX, |s| u16::try_from(s).unwrap_or(u16::MAX));
            self.share_for_ms = between_ms;
        }
        let way = uv.saturating_mul(256).saturating_sub(self.filtered);
        let step = i64::from(way).saturating_mul(i64::from(self.share));
        let step = step.saturating_add(32_768) >> 16;
        self.filtered = self.filtered.saturating_add(narrow(step));
    }

    fn watch_noise(&mut self, spec: &ConditionSpec, uv: i32) {
        let limit = spec.noise.0.unsigned_abs();
        // So that one spike is not taken for noise.
        let change = uv.abs_diff(self.last).min(limit.saturating_mul(4));
        let mean = self.noise >> NOISE_LOG2;
        self.noise = self.noise.saturating_sub(mean).saturating_add(change);
        let mean = self.noise >> NOISE_LOG2;
        self.is_noisy = if self.is_noisy {
            mean > limit / 2
        } else {
            mean > limit
        };
    }

    fn watch_flat(&mut self, spec: &ConditionSpec, uv: i32, between: Millis) {
        let Fitted::Fitted(check) = spec.flat else {
            return;
        };
        let (low, high) = (self.low.min(uv), self.high.max(uv));
        if high.saturating_sub(low) <= check.within.0 {
            (self.low, self.high) = (low, high);
            self.flat = grown(self.flat, between);
        } else {
            (self.low, self.high) = (uv, uv);
            self.flat = Millis(0);
        }
    }

    fn found(&self, spec: &ConditionSpec) -> Finding {
        if let Fitted::Fitted(check) = spec.flat {
            let near_zero = self.last.saturating_abs() <= check.short_within.0;
            if near_zero && self.flat >= check.short_after {
                return Finding::Short;
            }
            if self.flat >= check.after {
                return Finding::Flat;
            }
        }
        if self.has_jumped {
            Finding::Jumped
        } else if self.is_noisy {
            Finding::Noisy
        } else {
            Finding::Fine
        }
    }

    /// What was seen before does not count any more: the probe was elsewhere, as in a buffer.
    pub const fn restart(&mut self) {
        self.is_started = false;
        self.has_jumped = false;
        self.sample_age = Millis(u32::MAX);
    }

    /// A person has looked at a probe that jumped, and the value is right.
    pub const fn confirm(&mut self) {
        self.has_jumped = false;
    }

    /// Filtered potential.
    #[must_use]
    pub const fn value(&self) -> Microvolts {
        Microvolts(self.filtered >> 8)
    }

    /// Age of the last sample that is in it.
    #[must_use]
    pub const fn age(&self) -> Millis {
        self.value_age
    }

    /// Mean change from sample to sample.
    #[must_use]
    pub fn noise(&self) -> Microvolts {
        Microvolts(i32::try_from(self.noise >> NOISE_LOG2).unwrap_or(i32::MAX))
    }
}

/// Milliseconds in 16 bits: a minute and more are the same here.
fn short(time: Millis) -> u16 {
    u16::try_from(time.0).unwrap_or(u16::MAX)
}

fn grown(age: Millis, by: Millis) -> Millis {
    Millis(age.0.saturating_add(by.0))
}

/// What the circuit says, and what needs no value before.
fn electrical(spec: &ConditionSpec, seen: &FrontReading) -> Option<Finding> {
    let uv = seen.reading.value.0;
    let low = spec.low.0.saturating_mul(1000);
    let high = spec.high.0.saturating_mul(1000);
    match (seen.fault, seen.lead) {
        (Some(FrontFault::Saturated), _) => Some(Finding::Saturated),
        (Some(FrontFault::OutOfRange), _) => Some(Finding::NotThisElectrode),
        (Some(FrontFault::Bias), _) => Some(Finding::Bias),
        (Some(FrontFault::Future), _) => Some(Finding::FromTheFuture),
        (_, Lead::Open) => Some(Finding::Open),
        (_, Lead::Short) => Some(Finding::Short),
        _ if seen.reading.age.0 == u32::MAX => Some(not_young(seen)),
        _ if uv < low || uv > high => Some(Finding::NotThisElectrode),
        (_, Lead::HighResistance) => Some(Finding::HighResistance),
        (_, Lead::NotChecked) if spec.lead.is_fitted() => Some(Finding::LeadNotChecked),
        _ => None,
    }
}

fn not_young(seen: &FrontReading) -> Finding {
    match seen.fault {
        Some(FrontFault::Bus | FrontFault::Late) => Finding::Bus,
        _ if seen.reading.age.0 == u32::MAX => Finding::NeverRead,
        _ => Finding::Stale,
    }
}
