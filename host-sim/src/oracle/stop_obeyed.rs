//! While a person has stopped the feed (emergency stop, pause, laid up), nothing is driven, but for one tick and one
//! drive stop; a power cut does not end it.

use super::support::verdict::{Statements, Track};
use super::{Oracle, Seen};
use crate::plant::MAX_FEEDERS;

/// The judge of stops.
#[derive(Clone, Debug, Default)]
pub struct StopObeyed {
    /// Drive-on time of each feeder since the stop, ms.
    late_ms: [u64; MAX_FEEDERS],
    track: Track,
}

impl Oracle for StopObeyed {
    fn name(&self) -> &'static str {
        "stop_obeyed"
    }

    fn hazard(&self) -> &'static [&'static str] {
        &["H-15"]
    }

    fn observe(&mut self, seen: &Seen<'_>) {
        if !seen.told.stopped {
            self.late_ms = [0; MAX_FEEDERS];
            return;
        }
        let feeders = seen.truth.feeders.iter().zip(&seen.site.feeders);
        for (late_ms, (feeder, bound)) in self.late_ms.iter_mut().zip(feeders) {
            *late_ms += u64::from(feeder.drive_on_ms);
            let most = u64::from(seen.site.tick_gap_max_ms) + u64::from(bound.drive_off_ms);
            let pair = (*late_ms as f64, most as f64);
            self.track
                .at_most(seen.truth.now_ms, pair, "ms", feeder.product.name());
        }
    }

    fn statements(&self) -> Statements<'_> {
        Statements::of(
            [(&self.track, "driven while a person had stopped it")],
            "nobody stopped the feed",
        )
    }
}

#[cfg(test)]
mod tests {
    use super::super::Verdict;
    use super::super::support::testkit::{Bench, broken_at_s};
    use super::*;

    fn stopped() -> (Bench, StopObeyed) {
        let (mut bench, mut oracle) = (Bench::new(), StopObeyed::default());
        bench.feed(&mut oracle, 0, 1.0, 30);
        assert!(matches!(oracle.verdict(), Verdict::NotApplicable { .. }));
        bench.told.stopped = true;
        (bench, oracle)
    }

    #[test]
    fn a_tick_and_a_stop_hold_and_more_breaks() {
        let (mut bench, mut oracle) = stopped();
        bench.feed(&mut oracle, 0, 1.0, 2);
        assert!(!oracle.verdict().is_broken());
        bench.pass(&mut oracle, 600);
        bench.feed(&mut oracle, 0, 1.0, 1);
        assert_eq!(broken_at_s(&oracle), Some(633));
    }

    #[test]
    fn once_it_is_over_feeding_goes_on() {
        let (mut bench, mut oracle) = stopped();
        bench.pass(&mut oracle, 600);
        bench.told.stopped = false;
        bench.feed(&mut oracle, 0, 1.0, 100);
        assert!(!oracle.verdict().is_broken());
    }
}
