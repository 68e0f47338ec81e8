//! A feeder whose drum has a level switch does not run on an empty drum, but for one tick and one drive stop.
//!
//! A pump that draws air gives nothing, and loses its prime for the drum that comes.

use super::support::verdict::{Statements, Track};
use super::{Oracle, Seen};
use crate::plant::MAX_FEEDERS;

/// The judge of empty drums.
#[derive(Clone, Debug, Default)]
pub struct NeverDry {
    /// Drive-on time since each drum ran out, ms.
    dry_ms: [u64; MAX_FEEDERS],
    /// All were judged at rest: at rest again, none is worse.
    rested: bool,
    track: Track,
}

impl Oracle for NeverDry {
    fn name(&self) -> &'static str {
        "never_dry"
    }

    fn hazard(&self) -> &'static [&'static str] {
        &["H-05", "H-16"]
    }

    fn observe(&mut self, seen: &Seen<'_>) {
        if !seen.stirs && std::mem::replace(&mut self.rested, true) {
            for (dry_ms, feeder) in self.dry_ms.iter_mut().zip(&seen.truth.feeders) {
                if feeder.drum > 0.0 {
                    *dry_ms = 0;
                }
            }
            return;
        }
        let feeders = seen.truth.feeders.iter().zip(&seen.site.feeders);
        for (dry_ms, (feeder, bound)) in self.dry_ms.iter_mut().zip(feeders) {
            if !bound.level_switch {
                continue;
            }
            *dry_ms = if feeder.drum > 0.0 {
                0
            } else {
                *dry_ms + u64::from(feeder.drive_on_ms)
            };
            let most = u64::from(seen.site.tick_gap_max_ms) + u64::from(bound.drive_off_ms);
            let pair = (*dry_ms as f64, most as f64);
            self.track
                .at_most(seen.truth.now_ms, pair, "ms", feeder.product.name());
        }
    }

    fn statements(&self) -> Statements<'_> {
        Statements::of(
            [(&self.track, "driven on an empty drum")],
            "no drum has a level switch",
        )
    }
}

#[cfg(test)]
mod tests {
    use super::super::Verdict;
    use super::super::support::testkit::{Bench, broken_at_s};
    use super::*;

    fn empty() -> (Bench, NeverDry) {
        let (mut bench, mut oracle) = (Bench::new(), NeverDry::default());
        bench.feed(&mut oracle, 0, 1.0, 30);
        bench.truth.feeders[0].drum = 0.0;
        (bench, oracle)
    }

    #[test]
    fn a_tick_and_a_stop_hold_and_more_breaks() {
        let (mut bench, mut oracle) = empty();
        bench.feed(&mut oracle, 0, 0.0, 2);
        assert!(!oracle.verdict().is_broken());
        bench.feed(&mut oracle, 0, 0.0, 1);
        assert_eq!(broken_at_s(&oracle), Some(33));
    }

    #[test]
    fn runs_on_one_empty_drum_add_up_and_a_full_one_ends_them() {
        let (mut bench, mut oracle) = empty();
        bench.pass(&mut oracle, 2);
        bench.feed(&mut oracle, 0, 0.0, 2);
        bench.truth.feeders[0].drum = 1.0;
        bench.pass(&mut oracle, 1);
        bench.truth.feeders[0].drum = 0.0;
        bench.feed(&mut oracle, 0, 0.0, 2);
        assert!(!oracle.verdict().is_broken());
        bench.pass(&mut oracle, 600);
        bench.feed(&mut oracle, 0, 0.0, 1);
        assert!(oracle.verdict().is_broken());
    }

    #[test]
    fn without_a_switch_it_is_not_judged() {
        let (mut bench, mut oracle) = (Bench::new(), NeverDry::default());
        for feeder in &mut bench.site.feeders {
            feeder.level_switch = false;
        }
        bench.truth.feeders[0].drum = 0.0;
        bench.feed(&mut oracle, 0, 0.0, 100);
        assert!(matches!(oracle.verdict(), Verdict::NotApplicable { .. }));
    }
}
