//! Exact sums over a sliding window of time.

use super::bounds::{FeederBounds, SiteBounds};
use super::verdict::{Statements, Track};
use crate::oracle::Seen;
use crate::plant::Product;
use std::collections::VecDeque;

/// Parts of an amount's unit in which sums are kept, so that what goes out equals what came in.
const PARTS: f64 = 1e9;

/// The sum of what happened in the last `length_ms`: after `now - length`, up to and with `now`.
#[derive(Clone, Debug)]
pub(in crate::oracle) struct SlidingSum {
    length_ms: u64,
    parts: u64,
    entries: VecDeque<(u64, u64)>,
}

impl SlidingSum {
    pub(in crate::oracle) fn new(length_ms: u64) -> Self {
        Self {
            length_ms,
            parts: 0,
            entries: VecDeque::new(),
        }
    }

    /// Adds an amount at `now_ms` and gives the sum with it. An amount that was spread over a step
    /// stands at the step's end, where the window over it has all of it.
    pub(in crate::oracle) fn add(&mut self, now_ms: u64, amount: f64) -> f64 {
        while let Some(&(at, parts)) = self.entries.front()
            && now_ms.saturating_sub(at) >= self.length_ms
        {
            self.parts -= parts;
            self.entries.pop_front();
        }
        let parts = (amount.max(0.0) * PARTS).round() as u64;
        self.entries.push_back((now_ms, parts));
        self.parts += parts;
        self.parts as f64 / PARTS
    }
}

/// Rolling totals by product and body against a cap.
#[derive(Clone, Debug)]
pub(in crate::oracle) struct RollingTotals {
    length_ms: u64,
    sums: Vec<(Product, usize, SlidingSum)>,
    track: Track,
    /// Feeders that have been judged at rest: nothing fed is never worse a second time.
    rested: Vec<bool>,
}

impl RollingTotals {
    pub(in crate::oracle) fn new(length_ms: u64) -> Self {
        Self {
            length_ms,
            sums: Vec::new(),
            track: Track::default(),
            rested: Vec::new(),
        }
    }

    pub(in crate::oracle) fn observe(
        &mut self,
        seen: &Seen<'_>,
        cap: impl Fn(&FeederBounds) -> Option<f64>,
    ) {
        if !seen.stirs && !self.rested.is_empty() && self.rested.iter().all(|rested| *rested) {
            return;
        }
        let (truth, site): (_, &SiteBounds) = (seen.truth, seen.site);
        self.rested.resize(truth.feeders.len(), false);
        for (index, feeder) in truth.feeders.iter().enumerate() {
            let rests = feeder.fed <= 0.0;
            if rests && std::mem::replace(&mut self.rested[index], true) {
                continue;
            }
            let product = feeder.product;
            let with_ratio = |b: &FeederBounds| cap(b).map(|c| c * b.rate_ratio);
            let Some(cap) = site.largest(truth, product, with_ratio) else {
                continue;
            };
            let sum = if rests {
                0.0
            } else {
                self.sum_of(product, truth.body)
                    .add(truth.now_ms, feeder.fed)
            };
            self.track
                .at_most(truth.now_ms, (sum, cap), product.unit(), product.name());
        }
    }

    fn sum_of(&mut self, product: Product, body: usize) -> &mut SlidingSum {
        let found = self.sums.iter().position(|s| s.0 == product && s.1 == body);
        let at = found.unwrap_or_else(|| {
            let sum = SlidingSum::new(self.length_ms);
            self.sums.push((product, body, sum));
            self.sums.len() - 1
        });
        &mut self.sums[at].2
    }

    pub(in crate::oracle) fn statements(&self, what: &'static str) -> Statements<'_> {
        Statements::of([(&self.track, what)], "no feeder has such a cap")
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn what_is_a_window_old_is_out() {
        let mut sum = SlidingSum::new(1000);
        assert_eq!(sum.add(0, 5.0), 5.0);
        assert_eq!(sum.add(999, 2.0), 7.0);
        assert_eq!(sum.add(1000, 1.0), 3.0);
        assert_eq!(sum.add(5000, 0.0), 0.0);
    }

    proptest! {
        #[test]
        fn the_same_as_adding_it_all_up(
            steps in proptest::collection::vec((1_u64..400, 0.0_f64..50.0), 1..100),
        ) {
            let mut sum = SlidingSum::new(1000);
            let mut all: Vec<(u64, f64)> = Vec::new();
            let mut now = 0;
            for (dt, amount) in steps {
                now += dt;
                all.push((now, amount));
                let plain: f64 = all.iter().filter(|e| now - e.0 < 1000).map(|e| e.1).sum();
                prop_assert!((sum.add(now, amount) - plain).abs() < 1e-3);
            }
        }
    }
}
