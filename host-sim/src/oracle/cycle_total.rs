//! A cycle gives at most its cap x (true / entered rate), in at most its cap in drive-on time.
//!
//! A cycle as the water sees it: feeds of one product into one body that are not separated by the
//! spread hold of flowing time. That is never less than a controller's cycle, and never two of
//! them, since its hold runs from the last drop or later. A controller counts from tick to tick,
//! so the hold may look short by one `tick_gap_max` and one drive stop.

use super::support::feeds::Feed;
use super::support::verdict::{Statements, Track};
use super::{Oracle, Seen};
use crate::plant::Truth;

#[derive(Clone, Copy, Debug, Default)]
struct Cycle {
    amount: f64,
    drive_on_ms: u64,
}

/// The judge of what one cycle gives.
#[derive(Clone, Debug, Default)]
pub struct CycleTotal {
    cycles: Vec<Cycle>,
    amount: Track,
    time: Track,
}

impl CycleTotal {
    fn judge(&mut self, seen: &Seen<'_>, feed: Feed) {
        let (truth, site): (&Truth, _) = (seen.truth, seen.site);
        let most = |bound: fn(&super::FeederBounds) -> Option<f64>| {
            site.largest(truth, feed.product, bound)
        };
        let hold = most(|b| Some(b.spread_hold_ms as f64)).unwrap_or(0.0);
        let parted = (hold - site.tick_and_stop_ms() as f64).max(1.0);
        if self.cycles.len() <= feed.pair {
            self.cycles.resize(feed.pair + 1, Cycle::default());
        }
        let cycle = &mut self.cycles[feed.pair];
        if feed.after.is_none_or(|gap| gap.flowing_ms as f64 >= parted) {
            *cycle = Cycle::default();
        }
        cycle.amount += feed.amount;
        cycle.drive_on_ms += feed.drive_on_ms;
        let (at, who) = (truth.now_ms, feed.product.name());
        if let Some(cap) = most(|b| b.cycle_cap.map(|cap| cap * b.rate_ratio)) {
            let pair = (cycle.amount, cap);
            self.amount.at_most(at, pair, feed.product.unit(), who);
        }
        if let Some(cap) = most(|b| b.run_ms_max.map(|ms| ms as f64)) {
            let pair = (cycle.drive_on_ms as f64, cap);
            self.time.at_most(at, pair, "ms", who);
        }
    }
}

impl Oracle for CycleTotal {
    fn name(&self) -> &'static str {
        "cycle_total"
    }

    fn hazard(&self) -> &'static [&'static str] {
        &[
            "H-03", "H-04", "H-07", "H-09", "H-10", "H-11", "H-13", "H-14",
        ]
    }

    fn observe(&mut self, seen: &Seen<'_>) {
        for feed in seen.fed {
            self.judge(seen, *feed);
        }
    }

    fn statements(&self) -> Statements<'_> {
        Statements::of(
            [
                (
                    &self.amount,
                    "more than a cycle's cap without the hold between",
                ),
                (&self.time, "drive on for longer than a cycle may run"),
            ],
            "no feeder with a cycle's cap fed",
        )
    }
}

#[cfg(test)]
mod tests {
    use super::super::support::testkit::{Bench, broken_at_s};
    use super::*;

    /// A whole cycle, a gap, and 1 more.
    fn after(flowing: u32, standing: u32) -> CycleTotal {
        let (mut bench, mut oracle) = (Bench::new(), CycleTotal::default());
        bench.feed(&mut oracle, 0, 10.0, 10);
        bench.truth.water_moving = false;
        bench.pass(&mut oracle, standing);
        bench.truth.water_moving = true;
        bench.pass(&mut oracle, flowing);
        bench.feed(&mut oracle, 0, 1.0, 1);
        oracle
    }

    #[test]
    fn the_cap_holds_with_the_hold_between() {
        assert!(!after(58, 0).verdict().is_broken());
        assert_eq!(broken_at_s(&after(57, 0)), Some(68));
        assert!(after(20, 600).verdict().is_broken());
    }

    #[test]
    fn the_rate_entered_wrong_raises_the_bound_by_as_much() {
        let (mut bench, mut oracle) = (Bench::new(), CycleTotal::default());
        bench.site.feeders[0].rate_ratio = 2.0;
        bench.feed(&mut oracle, 0, 10.0, 20);
        assert!(!oracle.verdict().is_broken());
        bench.feed(&mut oracle, 0, 10.0, 1);
        assert_eq!(broken_at_s(&oracle), Some(21));
    }

    #[test]
    fn drive_on_time_is_a_bound_of_its_own() {
        let (mut bench, mut oracle) = (Bench::new(), CycleTotal::default());
        bench.feed(&mut oracle, 1, 0.1, 100);
        assert!(!oracle.verdict().is_broken());
        bench.feed(&mut oracle, 1, 0.1, 1);
        assert_eq!(broken_at_s(&oracle), Some(101));
    }
}
