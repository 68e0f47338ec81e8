//! pH of no body is ever under 6.5, and acid is never fed with the true pH at the probe past its
//! cut-off for longer than the probe's lag, one tick and one drive stop.
//!
//! Past means by more than a healthy probe's error. A feed by hand waives the cut-off.

use super::support::bounds::PH_MIN;
use super::support::by_hand::ByHand;
use super::support::verdict::{Statements, Track};
use super::{Oracle, Seen};
use crate::plant::Product;

/// The judge of acid overfeed.
#[derive(Clone, Debug, Default)]
pub struct AcidFloor {
    past_ms: u64,
    by_hand: ByHand,
    floor: Track,
    cutoff: Track,
}

impl AcidFloor {
    fn observe_cutoff(&mut self, seen: &Seen<'_>, cutoff: f64) {
        let (truth, site) = (seen.truth, seen.site);
        let by_hand = self.by_hand.step(seen);
        let bound = cutoff - site.probe_error_ph;
        if truth.sample_ph >= bound {
            self.past_ms = 0;
            return;
        }
        // Time past the cut-off when the step began: feed in the step is judged by that.
        let past_ms = self.past_ms;
        self.past_ms += seen.dt_ms();
        if !seen.stirs {
            return;
        }
        let allowed_ms = site.probe_lag_ms + site.tick_and_stop_ms();
        let mut feeders = truth.feeders.iter().zip(by_hand);
        let acid = feeders.any(|(f, hand)| f.product == Product::Acid && f.fed > 0.0 && !hand);
        if past_ms >= allowed_ms && acid {
            let pair = (truth.sample_ph, bound);
            self.cutoff.at_least(truth.now_ms, pair, "pH", "acid");
        }
    }
}

impl Oracle for AcidFloor {
    fn name(&self) -> &'static str {
        "acid_floor"
    }

    fn hazard(&self) -> &'static [&'static str] {
        &["H-03", "H-07", "H-11", "H-12"]
    }

    fn observe(&mut self, seen: &Seen<'_>) {
        for body in &seen.truth.bodies {
            let pair = (body.ph, PH_MIN);
            self.floor.at_least(seen.truth.now_ms, pair, "pH", "water");
        }
        if let Some(cutoff) = seen.site.acid_cutoff_ph {
            self.observe_cutoff(seen, cutoff);
        }
    }

    fn statements(&self) -> Statements<'_> {
        Statements::of(
            [
                (&self.floor, "more acid than anybody may bathe in"),
                (
                    &self.cutoff,
                    "fed with the pH at the probe past its cut-off",
                ),
            ],
            "no body of water",
        )
    }
}

#[cfg(test)]
mod tests {
    use super::super::Verdict;
    use super::super::support::testkit::{Bench, broken_at_s};
    use super::*;

    #[test]
    fn six_and_a_half_holds_and_less_breaks() {
        let (mut bench, mut oracle) = (Bench::new(), AcidFloor::default());
        bench.truth.bodies[0].ph = 6.5;
        bench.pass(&mut oracle, 10);
        assert_eq!(
            oracle.verdict(),
            Verdict::Held {
                worst: 6.5,
                bound: 6.5,
                unit: "pH"
            }
        );
        bench.truth.bodies[0].ph = 6.499;
        bench.pass(&mut oracle, 1);
        assert_eq!(broken_at_s(&oracle), Some(11));
    }

    /// Acid begins to be fed so long after the pH at the probe has fallen to `ph`.
    fn late(ph: f64, seconds: u32, feeder: usize) -> AcidFloor {
        let (mut bench, mut oracle) = (Bench::new(), AcidFloor::default());
        bench.truth.sample_ph = ph;
        bench.pass(&mut oracle, seconds);
        bench.feed(&mut oracle, feeder, 1.0, 1);
        oracle
    }

    #[test]
    fn past_the_cutoff_for_longer_than_lag_and_tick_breaks() {
        // 10 s of lag, 2 s of tick, 50 ms of drive.
        assert!(!late(7.1, 12, 0).verdict().is_broken());
        assert_eq!(broken_at_s(&late(7.1, 13, 0)), Some(14));
    }

    #[test]
    fn within_the_probes_error_or_with_no_acid_holds() {
        assert!(!late(7.151, 100, 0).verdict().is_broken());
        assert!(!late(7.1, 100, 1).verdict().is_broken());
    }

    #[test]
    fn a_feed_by_hand_waives_it() {
        let (mut bench, mut oracle) = (Bench::new(), AcidFloor::default());
        bench.truth.sample_ph = 7.1;
        bench.told.held[0] = true;
        bench.pass(&mut oracle, 100);
        bench.feed(&mut oracle, 0, 1.0, 1);
        assert!(!oracle.verdict().is_broken());
    }

    #[test]
    fn what_comes_as_its_button_is_let_go_is_the_hands_and_what_comes_later_is_not() {
        let (mut bench, mut oracle) = (Bench::new(), AcidFloor::default());
        bench.truth.sample_ph = 7.1;
        assert_eq!(bench.lets_go(&mut oracle, 0), [None, Some(104)]);
    }

    #[test]
    fn above_again_starts_anew() {
        let (mut bench, mut oracle) = (Bench::new(), AcidFloor::default());
        for _ in 0..5 {
            bench.truth.sample_ph = 7.1;
            bench.feed(&mut oracle, 0, 1.0, 12);
            bench.truth.sample_ph = 7.2;
            bench.pass(&mut oracle, 1);
        }
        assert!(!oracle.verdict().is_broken());
    }
}
