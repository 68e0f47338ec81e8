//! Nothing is fed into water that has just begun to move: flow is proven for `flow_prove` first, and where a probe
//! governs the feeder, water has moved past it for `probe_settle`.
//!
//! Judged is the moment at which a drive comes on. A feed by hand and fallback need no probe, only the flow. A controller counts from tick to tick, so the water may
//! see either short by one `tick_gap_max`. Feed into standing water is the business of `standing_water`.

use super::support::verdict::{Statements, Track};
use super::{Oracle, Seen};
use crate::plant::MAX_FEEDERS;

/// The judge of water at the probe.
#[derive(Clone, Debug, Default)]
pub struct WaterSettled {
    moved_ms: u64,
    was_on: [bool; MAX_FEEDERS],
    track: Track,
}

impl Oracle for WaterSettled {
    fn name(&self) -> &'static str {
        "water_settled"
    }

    fn hazard(&self) -> &'static [&'static str] {
        &["H-01", "H-12"]
    }

    fn observe(&mut self, seen: &Seen<'_>) {
        let (truth, site) = (seen.truth, seen.site);
        let was_on = self.was_on;
        for (was_on, feeder) in self.was_on.iter_mut().zip(&truth.feeders) {
            *was_on = feeder.drive_on;
        }
        if !truth.water_moving {
            self.moved_ms = 0;
            return;
        }
        // How long it had moved when the step began.
        let moved_ms = self.moved_ms;
        self.moved_ms += seen.dt_ms();
        if !seen.stirs {
            return;
        }
        for (at, (feeder, bound)) in truth.feeders.iter().zip(&site.feeders).enumerate() {
            if feeder.drive_on_ms == 0 || was_on[at] || bound.probe_settle_ms.is_none() {
                continue;
            }
            let waived = seen.told.held[at] || seen.told.fallback;
            let settle_ms = bound.probe_settle_ms.filter(|_| !waived).unwrap_or(0);
            let needed_ms = site.times.flow_prove_ms.max(settle_ms);
            let least = needed_ms.saturating_sub(u64::from(site.tick_gap_max_ms));
            let pair = (moved_ms as f64, least as f64);
            self.track
                .at_least(truth.now_ms, pair, "ms", feeder.product.name());
        }
    }

    fn statements(&self) -> Statements<'_> {
        Statements::of(
            [(&self.track, "fed into water that had only begun to move")],
            "nothing was fed into moving water",
        )
    }
}

#[cfg(test)]
mod tests {
    use super::super::Verdict;
    use super::super::support::testkit::{Bench, broken_at_s};
    use super::*;

    /// Flow has to be proven for 10 s and a probe to settle for 30 s, each seen short by 2 s at most. Feed comes so long
    /// after the water began to move.
    fn after(flowing: u32, feeder: usize, held: bool) -> WaterSettled {
        let (mut bench, mut oracle) = (Bench::new(), WaterSettled::default());
        bench.site.feeders[2].probe_settle_ms = Some(0);
        bench.told.held[feeder] = held;
        bench.pass(&mut oracle, 100);
        bench.truth.water_moving = false;
        bench.pass(&mut oracle, 5);
        bench.truth.water_moving = true;
        bench.pass(&mut oracle, flowing);
        bench.feed(&mut oracle, feeder, 1.0, 1);
        oracle
    }

    #[test]
    fn a_probe_must_settle() {
        assert!(!after(28, 0, false).verdict().is_broken());
        assert_eq!(broken_at_s(&after(27, 0, false)), Some(133));
    }

    #[test]
    fn by_hand_or_without_a_probe_flow_is_proven_all_the_same() {
        for (feeder, held) in [(0, true), (2, false)] {
            assert!(!after(8, feeder, held).verdict().is_broken());
            assert_eq!(broken_at_s(&after(7, feeder, held)), Some(113));
        }
    }

    #[test]
    fn a_feed_that_goes_on_after_the_button_is_not_judged_again() {
        let (mut bench, mut oracle) = (Bench::new(), WaterSettled::default());
        bench.pass(&mut oracle, 15);
        bench.told.held[0] = true;
        bench.feed(&mut oracle, 0, 1.0, 2);
        bench.drive(0, 1.0);
        bench.pass(&mut oracle, 2);
        bench.told.held[0] = false;
        bench.feed(&mut oracle, 0, 1.0, 1);
        assert!(!oracle.verdict().is_broken());
        bench.pass(&mut oracle, 2);
        bench.feed(&mut oracle, 0, 1.0, 1);
        assert_eq!(broken_at_s(&oracle), Some(23));
    }

    #[test]
    fn what_nobody_states_is_not_judged() {
        let (mut bench, mut oracle) = (Bench::new(), WaterSettled::default());
        bench.site.feeders[0].probe_settle_ms = None;
        bench.feed(&mut oracle, 0, 1.0, 5);
        assert!(matches!(oracle.verdict(), Verdict::NotApplicable { .. }));
    }
}
