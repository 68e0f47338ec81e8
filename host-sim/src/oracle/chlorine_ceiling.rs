//! Free chlorine of no body is ever above 10 mg/L, and chlorine is never fed with the true ORP at the probe past its
//! cut-off for longer than the probe's lag, one tick and one drive stop.
//!
//! Past means by more than a healthy probe's error. A feed by hand waives the cut-off, and fallback has no probe.

use super::support::bounds::CHLORINE_MAX_MG_L;
use super::support::by_hand::ByHand;
use super::support::verdict::{Statements, Track};
use super::{Oracle, Seen};

/// The judge of chlorine overfeed.
#[derive(Clone, Debug, Default)]
pub struct ChlorineCeiling {
    past_ms: u64,
    by_hand: ByHand,
    track: Track,
    cutoff: Track,
}

impl ChlorineCeiling {
    fn observe_cutoff(&mut self, seen: &Seen<'_>, cutoff: f64) {
        let (truth, site) = (seen.truth, seen.site);
        let by_hand = self.by_hand.step(seen);
        let bound = cutoff + site.probe_error_mv;
        if truth.sample_orp_mv <= bound {
            self.past_ms = 0;
            return;
        }
        // Time past the cut-off when the step began: feed in the step is judged by that.
        let past_ms = self.past_ms;
        self.past_ms += seen.dt_ms();
        let is_early = || past_ms < site.probe_lag_ms + site.tick_and_stop_ms();
        if !seen.stirs || seen.told.fallback || is_early() {
            return;
        }
        let feeders = truth.feeders.iter().zip(by_hand);
        let fed = |f: &crate::plant::FeederTruth| f.product.is_chlorine() && f.fed > 0.0;
        if feeders.into_iter().any(|(f, hand)| fed(f) && !hand) {
            let pair = (truth.sample_orp_mv, bound);
            self.cutoff.at_most(truth.now_ms, pair, "mV", "chlorine");
        }
    }
}

impl Oracle for ChlorineCeiling {
    fn name(&self) -> &'static str {
        "chlorine_ceiling"
    }

    fn hazard(&self) -> &'static [&'static str] {
        &["H-04", "H-07", "H-11", "H-12"]
    }

    fn observe(&mut self, seen: &Seen<'_>) {
        for body in &seen.truth.bodies {
            let pair = (body.free_chlorine_mg_l, CHLORINE_MAX_MG_L);
            self.track.at_most(seen.truth.now_ms, pair, "mg/L", "water");
        }
        if let Some(cutoff) = seen.site.chlorine_cutoff_mv {
            self.observe_cutoff(seen, cutoff);
        }
    }

    fn statements(&self) -> Statements<'_> {
        Statements::of(
            [
                (&self.track, "more free chlorine than anybody may bathe in"),
                (
                    &self.cutoff,
                    "fed with the ORP at the probe past its cut-off",
                ),
            ],
            "no body of water",
        )
    }
}

#[cfg(test)]
mod tests {
    use super::super::support::testkit::{Bench, broken_at_s};
    use super::*;
    use crate::plant::BodyTruth;

    #[test]
    fn ten_holds_and_more_breaks() {
        let (mut bench, mut oracle) = (Bench::new(), ChlorineCeiling::default());
        bench.truth.bodies[0].free_chlorine_mg_l = 10.0;
        bench.pass(&mut oracle, 10);
        assert!(!oracle.verdict().is_broken());
        bench.truth.bodies[0].free_chlorine_mg_l = 10.01;
        bench.pass(&mut oracle, 1);
        assert_eq!(broken_at_s(&oracle), Some(11));
    }

    #[test]
    fn what_comes_as_its_button_is_let_go_is_the_hands_and_what_comes_later_is_not() {
        let (mut bench, mut oracle) = (Bench::new(), ChlorineCeiling::default());
        bench.truth.sample_orp_mv = 900.0;
        assert_eq!(bench.lets_go(&mut oracle, 1), [None, Some(104)]);
    }

    #[test]
    fn the_second_body_counts_too() {
        let (mut bench, mut oracle) = (Bench::new(), ChlorineCeiling::default());
        bench.truth.bodies.push(BodyTruth {
            free_chlorine_mg_l: 14.0,
            ..BodyTruth::default()
        });
        bench.pass(&mut oracle, 1);
        assert_eq!(broken_at_s(&oracle), Some(1));
    }

    /// Chlorine begins to be fed so long after the ORP at the probe has risen over the cut-off of 760 mV.
    fn late(seconds: u32, held: bool) -> ChlorineCeiling {
        let (mut bench, mut oracle) = (Bench::new(), ChlorineCeiling::default());
        bench.told.held[1] = held;
        bench.truth.sample_orp_mv = 766.0;
        bench.pass(&mut oracle, seconds);
        bench.feed(&mut oracle, 0, 1.0, 1);
        bench.feed(&mut oracle, 1, 1.0, 1);
        oracle
    }

    #[test]
    fn past_the_cutoff_for_longer_than_lag_and_tick_breaks() {
        // 10 s of lag, 2 s of tick, 50 ms of drive.
        assert!(!late(11, false).verdict().is_broken());
        assert_eq!(broken_at_s(&late(12, false)), Some(14));
        assert!(!late(100, true).verdict().is_broken());
    }
}
