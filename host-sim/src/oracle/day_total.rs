//! No window of 24 h, wherever it begins and whatever power cuts lie in it, holds more of a product
//! for a body than the day's cap x (true / entered rate).

use super::support::verdict::Statements;
use super::support::window::RollingTotals;
use super::{Oracle, Seen};

const LENGTH_MS: u64 = 86_400_000;

/// The judge of what any 24 h give.
#[derive(Clone, Debug)]
pub struct DayTotal {
    totals: RollingTotals,
}

impl Default for DayTotal {
    fn default() -> Self {
        Self {
            totals: RollingTotals::new(LENGTH_MS),
        }
    }
}

impl Oracle for DayTotal {
    fn name(&self) -> &'static str {
        "day_total"
    }

    fn hazard(&self) -> &'static [&'static str] {
        &[
            "H-03", "H-04", "H-07", "H-09", "H-10", "H-11", "H-13", "H-14", "H-15",
        ]
    }

    fn observe(&mut self, seen: &Seen<'_>) {
        self.totals.observe(seen, |bound| bound.day_cap);
    }

    fn statements(&self) -> Statements<'_> {
        self.totals.statements("more than the day's cap in 24 h")
    }
}

#[cfg(test)]
mod tests {
    use super::super::Verdict;
    use super::super::support::testkit::{Bench, broken_at_s};
    use super::*;

    #[test]
    fn the_cap_holds_until_the_first_feed_is_a_day_old() {
        // 300 in 30 s, then one more at second `at`, a cut in between.
        let run = |at: u32| {
            let (mut bench, mut oracle) = (Bench::new(), DayTotal::default());
            bench.feed(&mut oracle, 0, 10.0, 30);
            bench.truth.powered = false;
            bench.pass(&mut oracle, 1000);
            bench.truth.powered = true;
            bench.pass(&mut oracle, at - 1031);
            bench.feed(&mut oracle, 0, 10.0, 1);
            oracle
        };
        assert!(!run(86_401).verdict().is_broken());
        assert_eq!(broken_at_s(&run(86_400)), Some(86_400));
    }

    #[test]
    fn the_rate_entered_wrong_raises_the_bound_by_as_much() {
        let (mut bench, mut oracle) = (Bench::new(), DayTotal::default());
        bench.site.feeders[0].rate_ratio = 1.5;
        bench.feed(&mut oracle, 0, 10.0, 45);
        assert!(!oracle.verdict().is_broken());
        bench.feed(&mut oracle, 0, 10.0, 1);
        assert_eq!(broken_at_s(&oracle), Some(46));
    }

    #[test]
    fn each_body_has_its_own_total_and_no_cap_is_not_judged() {
        let (mut bench, mut oracle) = (Bench::new(), DayTotal::default());
        bench.feed(&mut oracle, 0, 10.0, 30);
        bench.truth.body = 1;
        bench.feed(&mut oracle, 0, 10.0, 30);
        assert!(!oracle.verdict().is_broken());
        let (mut bench, mut oracle) = (Bench::new(), DayTotal::default());
        for feeder in &mut bench.site.feeders {
            feeder.day_cap = None;
        }
        bench.feed(&mut oracle, 0, 10.0, 300);
        assert!(matches!(oracle.verdict(), Verdict::NotApplicable { .. }));
    }
}
