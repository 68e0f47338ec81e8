//! A dose is in both copies of the store before its first drop, and all of it that the water has had.
//!
//! Read from the bytes that a boot would find, by the record's documented layout. A cycle as the water sees it, as in
//! `cycle_total`. What a feeder gives beyond what was entered is not known to anybody, so the amount is divided by true
//! over entered rate. Long runs are charged in slices: something has to stand open. The drop-out of a drive after its
//! cycle was closed is no more than one overrun.

use super::support::feeds::Feed;
use super::support::verdict::{Statements, Track};
use super::{Oracle, Seen};

/// The judge of charges.
#[derive(Clone, Debug, Default)]
pub struct ChargeStored {
    /// What was fed since a charge last stood open, by pair.
    uncovered: Vec<f64>,
    /// What the cycle gave, by pair.
    given: Vec<f64>,
    /// The first drop of a cycle that no charge stands open for.
    first: Track,
    /// What comes later while none does.
    without: Track,
    /// What a cycle gives while one does.
    beyond: Track,
}

impl ChargeStored {
    fn judge(&mut self, seen: &Seen<'_>, feed: Feed) {
        let Some(stored) = seen.told.stored_charge else {
            return;
        };
        let (truth, site) = (seen.truth, seen.site);
        let own = truth.feeders.iter().zip(&site.feeders).zip(stored);
        let own = own.filter(|((feeder, _), _)| feeder.product == feed.product);
        let (mut charge, mut ratio, mut overrun, mut sliced) = (0.0, 1.0_f64, 0.0_f64, false);
        for ((_, bound), stored) in own {
            charge += stored;
            ratio = ratio.max(bound.rate_ratio);
            overrun = overrun.max(bound.overrun_max);
            sliced |= bound.cycle_cap.is_none();
        }
        self.uncovered
            .resize(self.uncovered.len().max(feed.pair + 1), 0.0);
        self.given.resize(self.given.len().max(feed.pair + 1), 0.0);
        let (uncovered, given) = (&mut self.uncovered[feed.pair], &mut self.given[feed.pair]);
        let hold = site
            .largest(truth, feed.product, |b| Some(b.spread_hold_ms as f64))
            .unwrap_or(0.0);
        let parted = (hold - site.tick_and_stop_ms() as f64).max(1.0);
        if feed.after.is_none_or(|gap| gap.flowing_ms as f64 >= parted) {
            (*uncovered, *given) = (0.0, 0.0);
        }
        let amount = feed.amount / ratio;
        *given += amount;
        if charge <= 0.0 {
            *uncovered += amount;
        }
        // Before the first drop nothing excuses: a drop-out comes after a charge.
        let spare = if *given <= amount { 0.0 } else { overrun };
        // A first drop has nothing to compare with, and a charge is larger than an overrun: each has its own worst.
        let (track, pair) = match charge <= 0.0 {
            true if spare <= 0.0 => (&mut self.first, (*uncovered, 0.0)),
            true => (&mut self.without, (*uncovered, spare)),
            false => {
                let given = if sliced { 0.0 } else { *given };
                (&mut self.beyond, (given, charge + spare))
            }
        };
        track.at_most(truth.now_ms, pair, feed.product.unit(), feed.product.name());
    }
}

impl Oracle for ChargeStored {
    fn name(&self) -> &'static str {
        "charge_stored"
    }

    fn hazard(&self) -> &'static [&'static str] {
        &["H-09", "H-10"]
    }

    fn observe(&mut self, seen: &Seen<'_>) {
        for feed in seen.fed {
            self.judge(seen, *feed);
        }
    }

    fn statements(&self) -> Statements<'_> {
        Statements::of(
            [
                (&self.beyond, "fed more than both copies of the store hold"),
                (
                    &self.without,
                    "fed without a charge for it in both copies of the store",
                ),
                (
                    &self.first,
                    "begun without a charge for it in both copies of the store",
                ),
            ],
            "nothing was fed, or what the store holds cannot be read",
        )
    }
}

#[cfg(test)]
mod tests {
    use super::super::Verdict;
    use super::super::support::testkit::{Bench, broken_at_s};
    use super::*;

    fn charged(charge: f64) -> (Bench, ChargeStored) {
        let (mut bench, oracle) = (Bench::new(), ChargeStored::default());
        bench.told.stored_charge = Some([charge; 4]);
        (bench, oracle)
    }

    #[test]
    fn the_first_drop_needs_its_charge() {
        let (mut bench, mut oracle) = charged(0.0);
        bench.pass(&mut oracle, 5);
        bench.feed(&mut oracle, 0, 0.1, 1);
        assert_eq!(broken_at_s(&oracle), Some(6));
        let (mut bench, mut oracle) = charged(50.0);
        bench.feed(&mut oracle, 0, 5.0, 10);
        assert!(!oracle.verdict().is_broken());
    }

    /// A first drop, then a drop-out too long, then more than the charge: each is told.
    #[test]
    fn a_first_drop_hides_nothing_that_comes_after_it() {
        let (mut bench, mut oracle) = charged(0.0);
        bench.feed(&mut oracle, 0, 0.1, 1);
        bench.feed(&mut oracle, 0, 30.0, 1);
        bench.told.stored_charge = Some([50.0; 4]);
        bench.feed(&mut oracle, 0, 70.0, 1);
        let each = oracle.statements().each();
        let worst: Vec<f64> = each
            .iter()
            .filter_map(|one| match one {
                Verdict::Broken { worst, .. } => Some(*worst),
                _ => None,
            })
            .collect();
        assert_eq!(worst, [100.1, 30.1, 0.1]);
    }

    #[test]
    fn a_drop_out_after_the_cycle_is_excused_up_to_one_overrun() {
        let (mut bench, mut oracle) = charged(50.0);
        bench.feed(&mut oracle, 0, 5.0, 10);
        bench.told.stored_charge = Some([0.0; 4]);
        bench.feed(&mut oracle, 0, 20.0, 1);
        assert!(!oracle.verdict().is_broken());
        bench.feed(&mut oracle, 0, 1.0, 1);
        assert_eq!(broken_at_s(&oracle), Some(12));
    }

    #[test]
    fn a_charge_that_is_too_small_breaks_and_a_slice_does_not() {
        let (mut bench, mut oracle) = charged(30.0);
        bench.feed(&mut oracle, 0, 5.0, 10);
        assert!(!oracle.verdict().is_broken());
        bench.feed(&mut oracle, 0, 5.0, 1);
        assert_eq!(broken_at_s(&oracle), Some(11));
        let (mut bench, mut oracle) = charged(30.0);
        bench.site.feeders[2].cycle_cap = None;
        bench.feed(&mut oracle, 2, 5.0, 100);
        assert!(!oracle.verdict().is_broken());
    }

    #[test]
    fn the_next_cycle_needs_its_own_and_a_store_that_cannot_be_read_is_not_judged() {
        let (mut bench, mut oracle) = charged(50.0);
        bench.feed(&mut oracle, 0, 5.0, 10);
        bench.told.stored_charge = Some([0.0; 4]);
        bench.pass(&mut oracle, 60);
        bench.feed(&mut oracle, 0, 0.1, 1);
        assert_eq!(broken_at_s(&oracle), Some(71));
        let (mut bench, mut oracle) = charged(0.0);
        bench.told.stored_charge = None;
        bench.feed(&mut oracle, 0, 5.0, 10);
        assert!(matches!(oracle.verdict(), Verdict::NotApplicable { .. }));
    }
}
