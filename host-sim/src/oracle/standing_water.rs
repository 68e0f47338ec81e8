//! Nothing is fed into standing water beyond one overrun: from flow lost to drive off at most
//! `tick_gap_max` + `drive_off_ms`, and at each stop at most `overrun_max` x (true / entered rate).
//!
//! Water that stands when the run begins has been standing; flow that is lost within a step is
//! lost at its start, and all that was fed in that step counts.

use super::support::standing::Standing;
use super::support::verdict::{Statements, Track};
use super::{Oracle, Seen};
use crate::plant::MAX_FEEDERS;

/// The judge of feed into standing water.
#[derive(Clone, Debug, Default)]
pub struct StandingWater {
    standing: Standing,
    at_this_stop: [f64; MAX_FEEDERS],
    /// A step at rest was judged: another at rest is no worse.
    rested: bool,
    time: Track,
    amount: Track,
}

impl Oracle for StandingWater {
    fn name(&self) -> &'static str {
        "standing_water"
    }

    fn hazard(&self) -> &'static [&'static str] {
        &["H-01", "H-13", "H-14", "H-15"]
    }

    fn observe(&mut self, seen: &Seen<'_>) {
        let truth = seen.truth;
        let Some(stood_ms) = self.standing.step(seen) else {
            self.at_this_stop = [0.0; MAX_FEEDERS];
            return;
        };
        if !seen.stirs && std::mem::replace(&mut self.rested, true) {
            return;
        }
        let bounds = seen.site.feeders.iter().zip(&mut self.at_this_stop);
        for (feeder, (bound, total)) in truth.feeders.iter().zip(bounds) {
            *total += feeder.fed_standing;
            let who = feeder.product.name();
            let most = bound.overrun_max * bound.rate_ratio;
            self.amount
                .at_most(truth.now_ms, (*total, most), feeder.product.unit(), who);
            if feeder.fed_standing > 0.0 {
                let in_step = if feeder.drive_on {
                    truth.dt_ms
                } else {
                    feeder.drive_on_ms
                };
                let late_ms = stood_ms + u64::from(in_step);
                let most = seen.site.tick_gap_max_ms + bound.drive_off_ms;
                let pair = (late_ms as f64, f64::from(most));
                self.time.at_most(truth.now_ms, pair, "ms", who);
            }
        }
    }

    fn statements(&self) -> Statements<'_> {
        Statements::of(
            [
                (&self.amount, "more than one overrun into standing water"),
                (&self.time, "still fed too long after the flow was lost"),
            ],
            "the water never stood, or there is no feeder",
        )
    }
}

#[cfg(test)]
mod tests {
    use super::super::support::testkit::{Bench, broken_at_s};
    use super::*;

    fn stopped() -> (Bench, StandingWater) {
        let (mut bench, mut oracle) = (Bench::new(), StandingWater::default());
        bench.pass(&mut oracle, 10);
        bench.feed(&mut oracle, 0, 10.0, 5);
        bench.truth.water_moving = false;
        (bench, oracle)
    }

    #[test]
    fn exactly_one_overrun_holds() {
        let (mut bench, mut oracle) = stopped();
        bench.feed(&mut oracle, 0, 10.0, 2);
        bench.pass(&mut oracle, 100);
        assert!(!oracle.verdict().is_broken());
        // The drop-out ends 50 ms into the third second.
        let (mut bench, mut oracle) = stopped();
        bench.feed(&mut oracle, 0, 9.0, 2);
        bench.drive(0, 0.5);
        bench.truth.feeders[0].drive_on = false;
        bench.truth.feeders[0].drive_on_ms = 50;
        bench.pass(&mut oracle, 1);
        assert!(!oracle.verdict().is_broken());
    }

    #[test]
    fn more_than_one_overrun_breaks() {
        let (mut bench, mut oracle) = stopped();
        bench.feed(&mut oracle, 0, 10.1, 2);
        assert_eq!(broken_at_s(&oracle), Some(17));
    }

    #[test]
    fn a_trickle_that_goes_on_too_long_breaks() {
        let (mut bench, mut oracle) = stopped();
        bench.feed(&mut oracle, 0, 0.1, 3);
        assert_eq!(broken_at_s(&oracle), Some(18));
    }

    #[test]
    fn a_leak_with_the_drive_off_breaks() {
        let (mut bench, mut oracle) = stopped();
        bench.truth.feeders[1].fed_standing = 0.001;
        bench.pass(&mut oracle, 10);
        assert!(oracle.verdict().is_broken());
    }

    #[test]
    fn each_stop_has_its_own_overrun_and_a_start_without_flow_has_none() {
        let (mut bench, mut oracle) = stopped();
        for _ in 0..3 {
            bench.truth.water_moving = false;
            bench.feed(&mut oracle, 0, 10.0, 2);
            bench.truth.water_moving = true;
            bench.pass(&mut oracle, 1);
        }
        assert!(!oracle.verdict().is_broken());
        let (mut bench, mut oracle) = (Bench::new(), StandingWater::default());
        bench.truth.water_moving = false;
        bench.feed(&mut oracle, 0, 0.1, 1);
        assert_eq!(broken_at_s(&oracle), Some(1));
    }
}
