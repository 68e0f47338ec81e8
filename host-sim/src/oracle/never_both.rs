//! Two incompatible products are never fed at once, nor one within the pair's purge, counted in
//! flowing time, after the other.
//!
//! The pair's purge is the longer of the two. A controller counts from tick to tick, so the water
//! may see it short by one `tick_gap_max` and one drive stop.

use super::support::verdict::{Statements, Track};
use super::{Oracle, Seen};
use crate::plant::{FeederTruth, MAX_FEEDERS};

/// The judge of acid and chlorine in one line.
#[derive(Clone, Debug, Default)]
pub struct NeverBoth {
    /// Flowing time so far, ms.
    flowed_ms: u64,
    /// The flowing time at each feeder's last drop, ms; `None`: never fed.
    last_at_ms: [Option<u64>; MAX_FEEDERS],
    track: Track,
}

impl NeverBoth {
    fn judge_all(&mut self, seen: &Seen<'_>, feeders: &[FeederTruth]) {
        let judged = feeders.len().min(seen.site.feeders.len()).min(MAX_FEEDERS);
        for i in (0..judged).filter(|i| feeders[*i].fed > 0.0) {
            for j in 0..judged {
                let apart = feeders[i].product.incompatible_with(feeders[j].product);
                if apart {
                    self.judge(seen, i, j);
                }
            }
        }
    }

    fn judge(&mut self, seen: &Seen<'_>, feeding: usize, other: usize) {
        let (truth, site) = (seen.truth, seen.site);
        let (a, b) = (&site.feeders[feeding], &site.feeders[other]);
        let who = truth.feeders[feeding].product.name();
        let purge_ms = a.purge_ms.max(b.purge_ms);
        if truth.feeders[other].fed > 0.0 {
            let bound = (purge_ms as f64).max(1.0);
            self.track.at_least(truth.now_ms, (0.0, bound), "ms", who);
        } else if let Some(last_at) = self.last_at_ms[other] {
            let since = self.flowed_ms - last_at;
            let bound = purge_ms.saturating_sub(site.tick_and_stop_ms());
            let pair = (since as f64, bound as f64);
            self.track.at_least(truth.now_ms, pair, "ms", who);
        }
    }
}

impl Oracle for NeverBoth {
    fn name(&self) -> &'static str {
        "never_both"
    }

    fn hazard(&self) -> &'static [&'static str] {
        &["H-02", "H-13"]
    }

    fn observe(&mut self, seen: &Seen<'_>) {
        let feeders: &[FeederTruth] = &seen.truth.feeders;
        if seen.stirs {
            self.judge_all(seen, feeders);
        }
        if seen.truth.water_moving {
            self.flowed_ms += seen.dt_ms();
        }
        if seen.stirs {
            let fed = self.last_at_ms.iter_mut().zip(feeders);
            for (last_at, _) in fed.filter(|(_, feeder)| feeder.fed > 0.0) {
                *last_at = Some(self.flowed_ms);
            }
        }
    }

    fn statements(&self) -> Statements<'_> {
        Statements::of(
            [(
                &self.track,
                "fed with an incompatible product, or before its purge was over",
            )],
            "no two incompatible products were fed",
        )
    }
}

#[cfg(test)]
mod tests {
    use super::super::Verdict;
    use super::super::support::testkit::{Bench, broken_at_s};
    use super::*;

    /// Acid, then a flowing gap, then the feeder `second`; a purge of 20 s may look 2.05 s short.
    fn apart(flowing: u32, standing: u32, second: usize) -> NeverBoth {
        let (mut bench, mut oracle) = (Bench::new(), NeverBoth::default());
        bench.feed(&mut oracle, 0, 1.0, 10);
        bench.truth.water_moving = false;
        bench.pass(&mut oracle, standing);
        bench.truth.water_moving = true;
        bench.pass(&mut oracle, flowing);
        bench.feed(&mut oracle, second, 1.0, 10);
        oracle
    }

    #[test]
    fn after_the_purge_holds_and_within_it_breaks() {
        assert!(!apart(18, 0, 1).verdict().is_broken());
        assert_eq!(broken_at_s(&apart(17, 0, 1)), Some(28));
        assert_eq!(broken_at_s(&apart(5, 0, 2)), Some(16));
    }

    #[test]
    fn standing_time_does_not_purge() {
        assert_eq!(broken_at_s(&apart(10, 500, 1)), Some(521));
    }

    #[test]
    fn two_chlorines_are_no_pair_and_both_at_once_breaks() {
        let (mut bench, mut oracle) = (Bench::new(), NeverBoth::default());
        bench.feed(&mut oracle, 2, 1.0, 5);
        bench.feed(&mut oracle, 1, 1.0, 5);
        assert!(matches!(oracle.verdict(), Verdict::NotApplicable { .. }));
        bench.pass(&mut oracle, 100);
        bench.drive(0, 1.0);
        bench.feed(&mut oracle, 1, 1.0, 1);
        assert_eq!(broken_at_s(&oracle), Some(111));
    }
}
