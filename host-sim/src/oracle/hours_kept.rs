//! Outside the operating hours, by the true time of the day, nothing is driven, but for one tick and one drive stop.
//!
//! A site without operating hours is not judged.

use super::support::verdict::{Statements, Track};
use super::{Oracle, Seen};
use crate::plant::MAX_FEEDERS;

const DAY_MS: u64 = 86_400_000;
const MINUTE_MS: u64 = 60_000;

/// The judge of operating hours.
#[derive(Clone, Debug, Default)]
pub struct HoursKept {
    /// Drive-on time of each feeder since the hours ended, ms.
    late_ms: [u64; MAX_FEEDERS],
    track: Track,
}

/// Whether a time of the day is in the hours; from after to spans midnight.
fn is_open((from, to): (u16, u16), clock_ms: u64) -> bool {
    let minute = clock_ms % DAY_MS / MINUTE_MS;
    let (from, to) = (u64::from(from), u64::from(to));
    if from < to {
        (from..to).contains(&minute)
    } else {
        minute >= from || minute < to
    }
}

impl Oracle for HoursKept {
    fn name(&self) -> &'static str {
        "hours_kept"
    }

    fn hazard(&self) -> &'static [&'static str] {
        &["H-15"]
    }

    fn observe(&mut self, seen: &Seen<'_>) {
        let (truth, times) = (seen.truth, &seen.site.times);
        let Some(hours) = times.hours else {
            return;
        };
        let open = is_open(hours, times.start_ms + seen.start_ms());
        let feeders = truth.feeders.iter().zip(&seen.site.feeders);
        for (late_ms, (feeder, bound)) in self.late_ms.iter_mut().zip(feeders) {
            *late_ms = if open {
                0
            } else {
                *late_ms + u64::from(feeder.drive_on_ms)
            };
            let most = u64::from(seen.site.tick_gap_max_ms) + u64::from(bound.drive_off_ms);
            let pair = (*late_ms as f64, most as f64);
            self.track
                .at_most(truth.now_ms, pair, "ms", feeder.product.name());
        }
    }

    fn statements(&self) -> Statements<'_> {
        Statements::of(
            [(&self.track, "driven outside the operating hours")],
            "the site has no operating hours",
        )
    }
}

#[cfg(test)]
mod tests {
    use super::super::Verdict;
    use super::super::support::testkit::{Bench, broken_at_s};
    use super::*;

    /// The run begins half a minute before a minute of the day; hours from 8:00 to 20:00, or the other way round.
    fn from(minute: u64, hours: (u16, u16)) -> (Bench, HoursKept) {
        let (mut bench, oracle) = (Bench::new(), HoursKept::default());
        bench.site.times.hours = Some(hours);
        bench.site.times.start_ms = minute * MINUTE_MS - 30_000;
        (bench, oracle)
    }

    #[test]
    fn a_tick_and_a_stop_after_the_end_hold_and_more_breaks() {
        let (mut bench, mut oracle) = from(1200, (480, 1200));
        bench.feed(&mut oracle, 0, 1.0, 32);
        assert!(!oracle.verdict().is_broken());
        bench.feed(&mut oracle, 0, 1.0, 1);
        assert_eq!(broken_at_s(&oracle), Some(33));
    }

    #[test]
    fn before_the_hours_it_breaks_and_over_midnight_they_hold() {
        let (mut bench, mut oracle) = from(480, (480, 1200));
        bench.feed(&mut oracle, 0, 1.0, 3);
        assert_eq!(broken_at_s(&oracle), Some(3));
        let (mut bench, mut oracle) = from(1440, (1200, 480));
        bench.feed(&mut oracle, 0, 1.0, 60);
        assert!(!oracle.verdict().is_broken());
    }

    #[test]
    fn without_hours_it_is_not_judged() {
        let (mut bench, mut oracle) = (Bench::new(), HoursKept::default());
        bench.feed(&mut oracle, 0, 1.0, 60);
        assert!(matches!(oracle.verdict(), Verdict::NotApplicable { .. }));
    }
}
