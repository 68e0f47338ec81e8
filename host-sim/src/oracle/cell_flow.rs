//! A generator's cell is never on without flow: from flow lost to cell off at most `tick_gap_max`
//! + `drive_off_ms`, and no start without flow. Hydrogen collects otherwise.

use super::support::standing::Standing;
use super::support::verdict::{Statements, Track};
use super::{Oracle, Seen};
use crate::plant::Product;

/// The judge of cells without flow.
#[derive(Clone, Debug, Default)]
pub struct CellFlow {
    standing: Standing,
    track: Track,
}

impl Oracle for CellFlow {
    fn name(&self) -> &'static str {
        "cell_flow"
    }

    fn hazard(&self) -> &'static [&'static str] {
        &["H-08"]
    }

    fn observe(&mut self, seen: &Seen<'_>) {
        let truth = seen.truth;
        let stood_ms = self.standing.step(seen);
        if !seen.stirs && self.track.has_seen_any() {
            return;
        }
        for (feeder, bound) in truth.feeders.iter().zip(&seen.site.feeders) {
            if feeder.product != Product::GeneratorChlorine {
                continue;
            }
            let on_ms = if feeder.drive_on {
                truth.dt_ms
            } else {
                feeder.drive_on_ms
            };
            // A cell draws current and splits water even when it makes no chlorine.
            let late_ms = match stood_ms {
                Some(stood) if on_ms > 0 => stood + u64::from(on_ms),
                _ => 0,
            };
            let most = seen.site.tick_gap_max_ms + bound.drive_off_ms;
            let pair = (late_ms as f64, f64::from(most));
            self.track.at_most(truth.now_ms, pair, "ms", "cell");
        }
    }

    fn statements(&self) -> Statements<'_> {
        Statements::of(
            [(&self.track, "on without flow")],
            "there is no chlorine generator",
        )
    }
}

#[cfg(test)]
mod tests {
    use super::super::Verdict;
    use super::super::support::testkit::{Bench, broken_at_s};
    use super::*;

    fn stopped() -> (Bench, CellFlow) {
        let (mut bench, mut oracle) = (Bench::new(), CellFlow::default());
        bench.feed(&mut oracle, 2, 1.0, 10);
        bench.truth.water_moving = false;
        (bench, oracle)
    }

    #[test]
    fn one_tick_and_drop_out_holds_and_more_breaks() {
        let (mut bench, mut oracle) = stopped();
        bench.feed(&mut oracle, 2, 1.0, 2);
        bench.drive(2, 0.1);
        bench.truth.feeders[2].drive_on = false;
        bench.truth.feeders[2].drive_on_ms = 50;
        bench.pass(&mut oracle, 1);
        assert!(!oracle.verdict().is_broken());
        let (mut bench, mut oracle) = stopped();
        bench.feed(&mut oracle, 2, 1.0, 3);
        assert_eq!(broken_at_s(&oracle), Some(13));
    }

    #[test]
    fn a_start_without_flow_breaks_even_if_it_makes_nothing() {
        let (mut bench, mut oracle) = stopped();
        bench.pass(&mut oracle, 60);
        bench.feed(&mut oracle, 2, 0.0, 1);
        assert_eq!(broken_at_s(&oracle), Some(71));
    }

    #[test]
    fn a_cell_that_never_runs_is_one_that_held() {
        let (mut bench, mut oracle) = (Bench::new(), CellFlow::default());
        bench.pass(&mut oracle, 10);
        assert!(matches!(oracle.verdict(), Verdict::Held { .. }));
    }

    #[test]
    fn a_pump_is_no_cell() {
        let (mut bench, mut oracle) = stopped();
        bench.truth.feeders.truncate(2);
        let mut fresh = CellFlow::default();
        bench.feed(&mut fresh, 0, 1.0, 60);
        assert!(matches!(fresh.verdict(), Verdict::NotApplicable { .. }));
        bench.pass(&mut oracle, 1);
        assert!(!oracle.verdict().is_broken());
    }
}
