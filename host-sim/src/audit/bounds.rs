//! What a log is judged by.

use crate::plant::Product;

/// Which probe governs a feeder.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Probe {
    /// pH.
    Ph,
    /// ORP.
    Orp,
}

/// Past which reading a product may not be fed; `None`: no such bound.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct CutoffBounds {
    /// Not at or below this pH.
    pub ph_above: Option<f64>,
    /// Not below this pH.
    pub ph_floor: Option<f64>,
    /// Not at or above this ORP, mV.
    pub orp_below_mv: Option<f64>,
    /// A pH, and by how many mV that ORP is lower for each pH above it.
    pub orp_falls: Option<(f64, f64)>,
}

/// What one feeder is held to. Amounts are in microlitres, or in milligrams of chlorine for a generator.
#[derive(Clone, Debug, PartialEq)]
pub struct FeederBounds {
    /// Its name at the site.
    pub name: String,
    /// What it gives. Feeders of one product share caps and holds.
    pub product: Product,
    /// Longest time from the command to the drive being off, ms.
    pub drive_off_ms: f64,
    /// Within which a drive has to follow a command to run, ms; `None`: no feedback is fitted.
    pub feedback_ms: Option<f64>,
    /// Rate as entered, in amount an ms.
    pub rate_per_ms: f64,
    /// The most that it can give with any tube, in amount an ms.
    pub rate_max_per_ms: f64,
    /// Most in one cycle; `None`: not judged, as of a generator, whose long runs are charged in slices.
    pub cycle_cap: Option<f64>,
    /// Most drive-on time in one cycle, ms.
    pub run_max_ms: f64,
    /// Most in any hour.
    pub hour_cap: f64,
    /// Most in any day.
    pub day_cap: f64,
    /// Flowing time between two cycles, ms.
    pub spread_hold_ms: f64,
    /// The probe that governs it; `None`: a share of time.
    pub governor: Option<Probe>,
    /// Past which reading it may not be fed.
    pub cutoff: CutoffBounds,
    /// Its drum has a level switch.
    pub level_switch: bool,
}

/// What a site is held to.
#[derive(Clone, Debug, PartialEq)]
pub struct Bounds {
    /// Its name.
    pub site: String,
    /// Longest time between two judgements of a controller that is well, ms.
    pub tick_gap_max_ms: f64,
    /// From power-on to the first feed, ms.
    pub power_on_delay_ms: f64,
    /// For how long flow has stood before a feed, ms.
    pub flow_prove_ms: f64,
    /// For how long water has moved past a governing probe before a feed, ms.
    pub probe_settle_ms: f64,
    /// Oldest reading that counts, ms.
    pub probe_age_max_ms: f64,
    /// Flowing time that clears the line, ms.
    pub purge_ms: f64,
    /// Longest cut after which a cycle may go on, ms.
    pub resume_within_ms: f64,
    /// Operating hours: the first minute of the day in which feed is allowed, the first in which it is not.
    pub hours: Option<(u16, u16)>,
    /// Feeders, in the order in which a log has them.
    pub feeders: Vec<FeederBounds>,
}

impl Bounds {
    /// From the moment at which feed has to end to the moment at which its drive is off, at most, ms.
    pub(super) fn late_ms(&self, feeder: usize) -> f64 {
        self.tick_gap_max_ms + self.feeders[feeder].drive_off_ms
    }

    /// The feeders that share caps and holds with the first of them, for each product.
    pub(super) fn products(&self) -> Vec<Vec<usize>> {
        let mut all: Vec<Vec<usize>> = Vec::new();
        for (index, feeder) in self.feeders.iter().enumerate() {
            let same = |group: &&mut Vec<usize>| self.feeders[group[0]].product == feeder.product;
            match all.iter_mut().find(same) {
                Some(group) => group.push(index),
                None => all.push(vec![index]),
            }
        }
        all
    }
}
