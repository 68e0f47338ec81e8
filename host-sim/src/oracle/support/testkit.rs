//! Hand-made traces for the oracles' tests.

use super::bounds::{FeederBounds, SiteBounds, TimeBounds};
use super::feeds::Feeds;
use super::verdict::Verdict;
use crate::oracle::{Annunciation, Oracle, Seen};
use crate::plant::{BodyTruth, FeederTruth, LineTruth, Product, Truth};

/// One second, the step of all traces.
pub(in crate::oracle) const DT_MS: u32 = 1000;

/// Flow is proven in 10 s, a feed by hand lasts 2 min; no operating hours.
const TIMES: TimeBounds = TimeBounds {
    flow_prove_ms: 10_000,
    manual_max_ms: 120_000,
    fallback_run_ms: 10_000_000,
    hours: None,
    start_ms: 0,
};

/// A truth, a site and what is told, which a test changes as it goes.
pub(in crate::oracle) struct Bench {
    pub(in crate::oracle) truth: Truth,
    pub(in crate::oracle) site: SiteBounds,
    pub(in crate::oracle) told: Annunciation,
    feeds: Feeds,
}

impl Bench {
    /// A healthy pool in flow: acid, hypochlorite, and a generator. Caps of 100, 200 and 300 a
    /// cycle, hour and day; hold 60 s, purge 20 s; tick gap 2 s, drive off 50 ms.
    pub(in crate::oracle) fn new() -> Self {
        let feeder = FeederBounds {
            drive_off_ms: 50,
            overrun_max: 20.0,
            cycle_cap: Some(100.0),
            run_ms_max: Some(100_000),
            hour_cap: Some(200.0),
            day_cap: Some(300.0),
            spread_hold_ms: 60_000,
            purge_ms: 20_000,
            rate_ratio: 1.0,
            probe_settle_ms: Some(30_000),
            level_switch: true,
            fallback_day_cap: Some(50.0),
        };
        let products = [
            Product::Acid,
            Product::Hypochlorite,
            Product::GeneratorChlorine,
        ];
        Self {
            truth: Truth {
                now_ms: 0,
                dt_ms: DT_MS,
                powered: true,
                mains: true,
                pump_due: true,
                closed: false,
                pump_running: true,
                flow_l_min: 250.0,
                water_moving: true,
                body: 0,
                sample_ph: 7.5,
                sample_orp_mv: 720.0,
                dead_man_tripped: false,
                master_closed: true,
                faulty: false,
                line: LineTruth::default(),
                bodies: vec![BodyTruth {
                    ph: 7.5,
                    free_chlorine_mg_l: 2.0,
                    ..BodyTruth::default()
                }],
                feeders: products.map(|p| FeederTruth::new(p, 1e9)).to_vec(),
            },
            site: SiteBounds {
                tick_gap_max_ms: 2_000,
                power_on_delay_ms: 30_000,
                resume_within_ms: 40_000,
                probe_lag_ms: 10_000,
                acid_cutoff_ph: Some(7.2),
                probe_error_ph: 0.05,
                chlorine_cutoff_mv: Some(760.0),
                probe_error_mv: 5.0,
                chlorine_min_mg_l: 1.0,
                gas_max_g: 0.05,
                acid_wanted_above_ph: Some(7.8),
                chlorine_wanted_below_mg_l: Some(1.5),
                fed_within_ms: 600_000,
                told_within_ms: 1_200_000,
                kept: None,
                times: TIMES,
                feeders: vec![feeder; 3],
            },
            told: Annunciation::default(),
            feeds: Feeds::default(),
        }
    }

    /// So many seconds as things stand.
    pub(in crate::oracle) fn pass(&mut self, oracle: &mut dyn Oracle, seconds: u32) {
        for _ in 0..seconds {
            self.truth.now_ms += u64::from(DT_MS);
            let fed = self.feeds.step(&self.truth);
            oracle.observe(&Seen::of(&self.truth, &self.site, &self.told, fed));
        }
    }

    /// So many seconds in which a feeder gives an amount a second, then its drive off.
    pub(in crate::oracle) fn feed(
        &mut self,
        oracle: &mut dyn Oracle,
        feeder: usize,
        amount: f64,
        seconds: u32,
    ) {
        self.drive(feeder, amount);
        self.pass(oracle, seconds);
        let f = &mut self.truth.feeders[feeder];
        (f.fed, f.fed_standing, f.drive_on_ms, f.drive_on) = (0.0, 0.0, 0, false);
    }

    /// From now on a feeder gives an amount a second.
    pub(in crate::oracle) fn drive(&mut self, feeder: usize, amount: f64) {
        let moving = self.truth.water_moving;
        let f = &mut self.truth.feeders[feeder];
        (f.fed, f.drive_on_ms, f.drive_on) = (amount, DT_MS, true);
        f.fed_standing = if moving { 0.0 } else { amount };
    }

    /// A button is held for 100 s and let go, and its feeder gives an amount for 3 s after that, and then for one more: when the
    /// oracle was first broken after each, s.
    pub(in crate::oracle) fn lets_go(
        &mut self,
        oracle: &mut dyn Oracle,
        feeder: usize,
    ) -> [Option<u64>; 2] {
        self.told.held[feeder] = true;
        self.pass(oracle, 100);
        self.told.held[feeder] = false;
        [3, 1].map(|seconds| {
            self.feed(oracle, feeder, 1.0, seconds);
            broken_at_s(oracle)
        })
    }

    /// The run is over.
    pub(in crate::oracle) fn finish(&self, oracle: &mut dyn Oracle) {
        oracle.finish(&Seen::of(&self.truth, &self.site, &self.told, &[]));
    }
}

/// When the oracle was first broken, s.
pub(in crate::oracle) fn broken_at_s(oracle: &dyn Oracle) -> Option<u64> {
    match oracle.verdict() {
        Verdict::Broken { first_at_ms, .. } => Some(first_at_ms / 1000),
        _ => None,
    }
}
