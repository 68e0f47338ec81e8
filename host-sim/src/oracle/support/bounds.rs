//! What a site is held to.

use crate::plant::{Product, Truth};

/// pH under which water is an imminent hazard (US CDC Model Aquatic Health Code 6.6.3.1).
pub const PH_MIN: f64 = 6.5;
/// pH over which water is an imminent hazard (the same).
pub const PH_MAX: f64 = 8.0;
/// Most free chlorine, mg/L (California 22 CCR 65529(b)).
pub const CHLORINE_MAX_MG_L: f64 = 10.0;
/// How long water may be poor before somebody is told, ms (30 min; common practice, no source).
pub const POOR_WATER_MAX_MS: u64 = 30 * 60_000;

/// What one feeder is held to. Amounts are in the product's unit: microlitres, or milligrams of
/// Cl2 for a generator. Feeders of one product share caps and holds, so they carry the same ones.
#[derive(Clone, Debug, PartialEq)]
pub struct FeederBounds {
    /// Time from the drive's command to its standstill, ms.
    pub drive_off_ms: u32,
    /// Most that may leave into standing water at one stop, at the entered rate.
    pub overrun_max: f64,
    /// Most in one cycle; `None`: not judged (long runs that are charged in slices).
    pub cycle_cap: Option<f64>,
    /// Most drive-on time in one cycle, ms; `None`: not judged.
    pub run_ms_max: Option<u64>,
    /// Most in any 60 min; `None`: not judged.
    pub hour_cap: Option<f64>,
    /// Most in any 24 h; `None`: not judged.
    pub day_cap: Option<f64>,
    /// Flowing time that separates two cycles, ms; 0: not judged.
    pub spread_hold_ms: u64,
    /// Flowing time that separates this product from an incompatible one, ms.
    pub purge_ms: u64,
    /// True rate x true strength over what was entered; 1 when the entry is right.
    pub rate_ratio: f64,
    /// Time for which water moves past the probe that governs it before it feeds, ms; 0 where no probe does; `None`:
    /// not judged.
    pub probe_settle_ms: Option<u64>,
    /// Its drum has a level switch.
    pub level_switch: bool,
    /// Most in any 24 h of fallback; `None`: not judged.
    pub fallback_day_cap: Option<f64>,
}

impl FeederBounds {
    /// Held to nothing but what holds at every site: no overrun, never with an incompatible one.
    pub const UNJUDGED: Self = Self {
        drive_off_ms: 0,
        overrun_max: 0.0,
        cycle_cap: None,
        run_ms_max: None,
        hour_cap: None,
        day_cap: None,
        spread_hold_ms: 0,
        purge_ms: 0,
        rate_ratio: 1.0,
        probe_settle_ms: None,
        level_switch: false,
        fallback_day_cap: None,
    };
}

/// Times of the site that bound when something may be fed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TimeBounds {
    /// Flow is proven for so long before anything is fed, ms.
    pub flow_prove_ms: u64,
    /// Longest feed by hand, ms.
    pub manual_max_ms: u64,
    /// Longest time in fallback, ms.
    pub fallback_run_ms: u64,
    /// Operating hours, minutes of the day: the first in which feed is allowed, the first in which it is not any more;
    /// `None`: not judged.
    pub hours: Option<(u16, u16)>,
    /// Time of the day at which the run begins, ms.
    pub start_ms: u64,
}

impl TimeBounds {
    /// Held to none: no hours, no need to prove flow, feeds by hand and fallback as long as anybody likes.
    pub const UNJUDGED: Self = Self {
        flow_prove_ms: 0,
        manual_max_ms: u64::MAX / 2,
        fallback_run_ms: u64::MAX,
        hours: None,
        start_ms: 0,
    };
}

/// How near to its set point the water is to be kept, from the second day on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct KeptBounds {
    /// pH that is wanted.
    pub ph_set_point: f64,
    /// How far from it is near, pH, over 0.
    pub ph_within: f64,
    /// Least share of the time that pH is near, 0 to 1.
    pub ph_share_min: f64,
    /// Least share of the time that free chlorine is at or above [`SiteBounds::chlorine_min_mg_l`],
    /// 0 to 1.
    pub chlorine_share_min: f64,
}

/// What a site is held to.
#[derive(Clone, Debug, PartialEq)]
pub struct SiteBounds {
    /// Longest time between two judgements of the controller, ms.
    pub tick_gap_max_ms: u32,
    /// Nothing may be fed for this long after power returns, ms.
    pub power_on_delay_ms: u64,
    /// A cycle that was cut may resume within this; later it is over, ms.
    pub resume_within_ms: u64,
    /// Longest time from water at the probe to a settled reading, ms (three time constants).
    pub probe_lag_ms: u64,
    /// pH under which no acid may be fed; `None`: not judged.
    pub acid_cutoff_ph: Option<f64>,
    /// Largest error of a healthy pH probe, noise included, pH, 0 and up.
    pub probe_error_ph: f64,
    /// ORP over which no chlorine may be fed, mV; `None`: not judged.
    pub chlorine_cutoff_mv: Option<f64>,
    /// Largest error of a healthy ORP probe, noise included, mV, 0 and up.
    pub probe_error_mv: f64,
    /// Least free chlorine, mg/L.
    pub chlorine_min_mg_l: f64,
    /// Most chlorine gas that the line may release in the whole run, g.
    pub gas_max_g: f64,
    /// pH at the probe over which the water needs acid; `None`: not judged.
    pub acid_wanted_above_ph: Option<f64>,
    /// Free chlorine under which the water needs chlorine, mg/L; `None`: not judged.
    pub chlorine_wanted_below_mg_l: Option<f64>,
    /// All is well and the water needs it: fed, or a person told, within this powered time with
    /// the pump due, ms. At least the longest start + hold + purge + the other product's dose.
    pub fed_within_ms: u64,
    /// The same while some fault of the plant stands, ms; not less than `fed_within_ms`.
    pub told_within_ms: u64,
    /// How near the water is to be kept; `None`: not judged.
    pub kept: Option<KeptBounds>,
    /// When something may be fed.
    pub times: TimeBounds,
    /// One for each feeder, in the plant's order.
    pub feeders: Vec<FeederBounds>,
}

impl SiteBounds {
    /// The largest of a bound over the feeders that give `product`; `None` when none states one.
    pub(in crate::oracle) fn largest(
        &self,
        truth: &Truth,
        product: Product,
        bound: impl Fn(&FeederBounds) -> Option<f64>,
    ) -> Option<f64> {
        truth
            .feeders
            .iter()
            .zip(&self.feeders)
            .filter(|(f, _)| f.product == product)
            .filter_map(|(_, b)| bound(b))
            .reduce(f64::max)
    }

    /// The longest `drive_off_ms` of any feeder, ms.
    pub(in crate::oracle) fn drive_off_max_ms(&self) -> u64 {
        let longest = self.feeders.iter().map(|f| f.drive_off_ms).max();
        u64::from(longest.unwrap_or(0))
    }

    /// One judgement and one drive stop: what a hold seen from the water may be short by, since
    /// a controller counts from tick to tick, ms.
    pub(in crate::oracle) fn tick_and_stop_ms(&self) -> u64 {
        u64::from(self.tick_gap_max_ms) + self.drive_off_max_ms()
    }
}
