//! While fallback stands, which a person entered and which ends by itself, no 24 h hold more of a product than its
//! day's cap in fallback x (true / entered rate).
//!
//! Judged is what is fed from the moment it was entered to the longest time that it may last. A site without fallback
//! is not judged.

use super::support::verdict::Statements;
use super::support::window::RollingTotals;
use super::{Oracle, Seen};

const LENGTH_MS: u64 = 86_400_000;

/// The judge of fallback.
#[derive(Clone, Debug)]
pub struct FallbackCapped {
    entered_ms: Option<u64>,
    totals: RollingTotals,
}

impl Default for FallbackCapped {
    fn default() -> Self {
        Self {
            entered_ms: None,
            totals: RollingTotals::new(LENGTH_MS),
        }
    }
}

impl Oracle for FallbackCapped {
    fn name(&self) -> &'static str {
        "fallback_capped"
    }

    fn hazard(&self) -> &'static [&'static str] {
        &["H-04", "H-12"]
    }

    fn observe(&mut self, seen: &Seen<'_>) {
        if !seen.told.fallback {
            self.entered_ms = None;
            return;
        }
        let entered = *self.entered_ms.get_or_insert(seen.start_ms());
        let stood_ms = seen.start_ms() - entered;
        // A cycle that ran when it was entered may end first.
        if (seen.site.tick_and_stop_ms()..seen.site.times.fallback_run_ms).contains(&stood_ms) {
            self.totals.observe(seen, |bound| bound.fallback_day_cap);
        }
    }

    fn statements(&self) -> Statements<'_> {
        self.totals
            .statements("more than the day's cap of fallback in 24 h")
    }
}

#[cfg(test)]
mod tests {
    use super::super::Verdict;
    use super::super::support::testkit::{Bench, broken_at_s};
    use super::*;

    /// 50 a day, for 10,000 s.
    fn entered() -> (Bench, FallbackCapped) {
        let (mut bench, mut oracle) = (Bench::new(), FallbackCapped::default());
        bench.feed(&mut oracle, 1, 10.0, 20);
        bench.told.fallback = true;
        bench.pass(&mut oracle, 5);
        (bench, oracle)
    }

    #[test]
    fn its_own_cap_holds_and_more_breaks() {
        let (mut bench, mut oracle) = entered();
        bench.feed(&mut oracle, 1, 10.0, 5);
        assert!(!oracle.verdict().is_broken());
        bench.pass(&mut oracle, 5_000);
        bench.feed(&mut oracle, 1, 10.0, 1);
        assert_eq!(broken_at_s(&oracle), Some(5_031));
    }

    #[test]
    fn once_it_is_left_or_over_other_caps_count() {
        let (mut bench, mut oracle) = entered();
        bench.told.fallback = false;
        bench.feed(&mut oracle, 1, 10.0, 20);
        assert!(!oracle.verdict().is_broken());
        let (mut bench, mut oracle) = entered();
        bench.pass(&mut oracle, 10_000);
        bench.feed(&mut oracle, 1, 10.0, 20);
        assert!(!oracle.verdict().is_broken());
    }

    #[test]
    fn a_site_without_it_is_not_judged() {
        let (mut bench, mut oracle) = (Bench::new(), FallbackCapped::default());
        bench.feed(&mut oracle, 1, 10.0, 20);
        assert!(matches!(oracle.verdict(), Verdict::NotApplicable { .. }));
    }
}
