//! Water that needs a product is fed it, or a person is told, within a bounded time.
//!
//! The clock of a product runs while the water needs it, the controller has power and the pump is
//! due; it stands still while the pump is not due, and starts anew when the product is fed, when
//! anybody is told anything, when the need is gone, when the power goes, and while the pool is closed to bathers. The bound is
//! `fed_within_ms` while all is well, `told_within_ms` while some fault of the plant stands.

use super::support::verdict::{Statements, Track};
use super::{Oracle, Seen};

/// The judge of need without feed or word.
#[derive(Clone, Debug, Default)]
pub struct FedOrAsked {
    acid_ms: u64,
    chlorine_ms: u64,
    acid: Track,
    chlorine: Track,
}

impl FedOrAsked {
    /// Whether the water needs acid, and chlorine; never without a feeder for it.
    fn needs(seen: &Seen<'_>) -> (bool, bool) {
        let (truth, site) = (seen.truth, seen.site);
        let has = |chlorine| {
            let mut products = truth.feeders.iter().map(|f| f.product);
            products.any(|p| p.is_chlorine() == chlorine)
        };
        let acid = site
            .acid_wanted_above_ph
            .is_some_and(|ph| truth.sample_ph > ph);
        let body = truth.bodies.get(truth.body);
        let weak = site
            .chlorine_wanted_below_mg_l
            .zip(body)
            .is_some_and(|(least, body)| body.free_chlorine_mg_l < least);
        (acid && has(false), weak && has(true))
    }
}

impl Oracle for FedOrAsked {
    fn name(&self) -> &'static str {
        "fed_or_asked"
    }

    fn hazard(&self) -> &'static [&'static str] {
        &["H-05", "H-06", "H-15", "H-16"]
    }

    fn observe(&mut self, seen: &Seen<'_>) {
        let truth = seen.truth;
        let fed = |chlorine| {
            let mut products = truth.feeders.iter().filter(|f| f.fed > 0.0);
            products.any(|f| f.product.is_chlorine() == chlorine)
        };
        let (acid, chlorine) = Self::needs(seen);
        let bound = if truth.faulty {
            seen.site.told_within_ms
        } else {
            seen.site.fed_within_ms
        };
        let cases = [
            (acid, &mut self.acid_ms, &mut self.acid, "acid"),
            (
                chlorine,
                &mut self.chlorine_ms,
                &mut self.chlorine,
                "chlorine",
            ),
        ];
        for (needed, clock_ms, track, who) in cases {
            let is_well = !needed || truth.closed || seen.told.any() || !truth.powered;
            if is_well || fed(who == "chlorine") {
                *clock_ms = 0;
                if track.has_seen_any() {
                    continue;
                }
            } else if truth.pump_due && truth.mains {
                *clock_ms += seen.dt_ms();
            }
            let pair = (*clock_ms as f64, bound as f64);
            track.at_most(truth.now_ms, pair, "ms", who);
        }
    }

    fn statements(&self) -> Statements<'_> {
        let what = "needed, not fed, and nobody was told";
        Statements::of([(&self.acid, what), (&self.chlorine, what)], "no step")
    }
}

#[cfg(test)]
mod tests {
    use super::super::support::testkit::{Bench, broken_at_s};
    use super::*;

    fn needy() -> (Bench, FedOrAsked) {
        let (mut bench, oracle) = (Bench::new(), FedOrAsked::default());
        bench.truth.sample_ph = 7.9;
        (bench, oracle)
    }

    #[test]
    fn in_time_holds_and_a_second_more_breaks() {
        let (mut bench, mut oracle) = needy();
        for _ in 0..3 {
            bench.pass(&mut oracle, 600);
            bench.feed(&mut oracle, 0, 1.0, 1);
        }
        assert!(!oracle.verdict().is_broken());
        bench.pass(&mut oracle, 601);
        assert_eq!(broken_at_s(&oracle), Some(2404));
    }

    #[test]
    fn a_pool_that_is_closed_needs_nothing() {
        let (mut bench, mut oracle) = needy();
        bench.truth.closed = true;
        bench.pass(&mut oracle, 9000);
        bench.truth.closed = false;
        bench.pass(&mut oracle, 600);
        assert!(!oracle.verdict().is_broken());
        bench.pass(&mut oracle, 1);
        assert_eq!(broken_at_s(&oracle), Some(9601));
    }

    #[test]
    fn the_other_product_does_not_answer_and_no_feeder_is_no_need() {
        let (mut bench, mut oracle) = needy();
        bench.truth.bodies[0].free_chlorine_mg_l = 1.4;
        bench.feed(&mut oracle, 1, 1.0, 601);
        assert_eq!(broken_at_s(&oracle), Some(601));
        let (mut bench, mut oracle) = needy();
        bench.truth.feeders.remove(0);
        bench.pass(&mut oracle, 9000);
        assert!(!oracle.verdict().is_broken());
    }

    #[test]
    fn told_without_power_or_not_due_does_not_run_the_clock() {
        let (mut bench, mut oracle) = needy();
        bench.truth.pump_due = false;
        bench.pass(&mut oracle, 9000);
        bench.truth.pump_due = true;
        bench.told.person_asked = true;
        bench.pass(&mut oracle, 9000);
        bench.told.person_asked = false;
        bench.truth.powered = false;
        bench.pass(&mut oracle, 9000);
        bench.truth.powered = true;
        bench.pass(&mut oracle, 600);
        assert!(!oracle.verdict().is_broken());
    }

    #[test]
    fn a_fault_has_its_own_bound() {
        let (mut bench, mut oracle) = needy();
        bench.truth.faulty = true;
        bench.pass(&mut oracle, 1200);
        assert!(!oracle.verdict().is_broken());
        bench.pass(&mut oracle, 1);
        assert_eq!(broken_at_s(&oracle), Some(1201));
    }
}
