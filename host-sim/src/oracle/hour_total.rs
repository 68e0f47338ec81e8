//! No window of 60 min, wherever it begins and whatever power cuts lie in it, holds more of a product
//! for a body than the hour's cap x (true / entered rate).

use super::support::verdict::Statements;
use super::support::window::RollingTotals;
use super::{Oracle, Seen};

const LENGTH_MS: u64 = 3_600_000;

/// The judge of what any 60 min give.
#[derive(Clone, Debug)]
pub struct HourTotal {
    totals: RollingTotals,
}

impl Default for HourTotal {
    fn default() -> Self {
        Self {
            totals: RollingTotals::new(LENGTH_MS),
        }
    }
}

impl Oracle for HourTotal {
    fn name(&self) -> &'static str {
        "hour_total"
    }

    fn hazard(&self) -> &'static [&'static str] {
        &["H-03", "H-04", "H-07", "H-09", "H-10", "H-11"]
    }

    fn observe(&mut self, seen: &Seen<'_>) {
        self.totals.observe(seen, |bound| bound.hour_cap);
    }

    fn statements(&self) -> Statements<'_> {
        self.totals.statements("more than the hour's cap in 60 min")
    }
}

#[cfg(test)]
mod tests {
    use super::super::support::testkit::{Bench, broken_at_s};
    use super::*;

    #[test]
    fn the_cap_holds_until_the_first_feed_is_an_hour_old() {
        // 100 in seconds 1 to 10 and 11 to 20, then one more at second `at`.
        let run = |at: u32| {
            let (mut bench, mut oracle) = (Bench::new(), HourTotal::default());
            bench.feed(&mut oracle, 0, 10.0, 20);
            bench.pass(&mut oracle, at - 21);
            bench.feed(&mut oracle, 0, 10.0, 1);
            oracle
        };
        assert!(!run(3601).verdict().is_broken());
        assert_eq!(broken_at_s(&run(3600)), Some(3600));
    }

    #[test]
    fn a_power_cut_frees_nothing() {
        let (mut bench, mut oracle) = (Bench::new(), HourTotal::default());
        bench.feed(&mut oracle, 1, 10.0, 20);
        bench.truth.powered = false;
        bench.pass(&mut oracle, 600);
        bench.truth.powered = true;
        bench.feed(&mut oracle, 1, 0.1, 1);
        assert_eq!(broken_at_s(&oracle), Some(621));
    }

    #[test]
    fn products_are_counted_apart_and_feeders_of_one_together() {
        let (mut bench, mut oracle) = (Bench::new(), HourTotal::default());
        bench.feed(&mut oracle, 0, 10.0, 20);
        bench.feed(&mut oracle, 1, 10.0, 20);
        assert!(!oracle.verdict().is_broken());
        bench.truth.feeders[2].product = bench.truth.feeders[1].product;
        bench.feed(&mut oracle, 2, 1.0, 1);
        assert_eq!(broken_at_s(&oracle), Some(41));
    }
}
