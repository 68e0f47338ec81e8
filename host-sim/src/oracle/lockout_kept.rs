//! A feeder that is shown as locked out, against what it is asked for, is not fed from before a person has
//! released it: acknowledging, or any other act, cures nothing, whatever the power did meanwhile. A feed by hand is
//! another thing to be asked for, which a failed probe does not lock out. One lockout ends by itself: a record that
//! was lost, after 24 h.
//!
//! What leaks through a stopped feeder, and what leaves while a contact drops out, is not held against it: drives
//! are judged, after twice the longest time that a drive may take to stop.

use super::support::verdict::{Statements, Track};
use super::{Oracle, Seen};
use crate::plant::MAX_FEEDERS;

/// A lockout may end by itself after this, ms.
const BY_ITSELF_MS: u64 = 24 * 3_600_000;

/// The judge of lockouts.
#[derive(Clone, Debug, Default)]
pub struct LockoutKept {
    /// Since when each feeder is locked out, ms.
    locked_at_ms: [Option<u64>; MAX_FEEDERS],
    /// Some of them stand.
    any: bool,
    track: Track,
}

impl Oracle for LockoutKept {
    fn name(&self) -> &'static str {
        "lockout_kept"
    }

    fn hazard(&self) -> &'static [&'static str] {
        &["H-09", "H-15"]
    }

    fn observe(&mut self, seen: &Seen<'_>) {
        let (truth, told) = (seen.truth, &seen.told);
        if !self.any && !told.locked.contains(&true) {
            return;
        }
        let stop_ms = || u64::from(seen.site.tick_gap_max_ms) + 2 * seen.site.drive_off_max_ms();
        let feeders = truth.feeders.iter().zip(told.locked);
        for (locked_at, (feeder, locked)) in self.locked_at_ms.iter_mut().zip(feeders) {
            if told.released {
                *locked_at = None;
            }
            if truth.powered && locked {
                locked_at.get_or_insert(truth.now_ms);
            }
            let Some(at) = *locked_at else {
                continue;
            };
            let since = truth.now_ms - at;
            if since >= BY_ITSELF_MS && !locked {
                *locked_at = None;
            } else if since > stop_ms() {
                let on = f64::from(feeder.drive_on_ms);
                self.track
                    .at_most(truth.now_ms, (on, 0.0), "ms", feeder.product.name());
            }
        }
        self.any = self.locked_at_ms.iter().any(Option::is_some);
    }

    fn statements(&self) -> Statements<'_> {
        Statements::of(
            [(
                &self.track,
                "driven while it was locked out and nobody had released it",
            )],
            "nothing was locked out",
        )
    }
}

#[cfg(test)]
mod tests {
    use super::super::support::testkit::{Bench, broken_at_s};
    use super::*;

    fn locked() -> (Bench, LockoutKept) {
        let (mut bench, mut oracle) = (Bench::new(), LockoutKept::default());
        bench.told.locked[0] = true;
        bench.pass(&mut oracle, 10);
        (bench, oracle)
    }

    #[test]
    fn a_drive_that_stops_in_time_holds_and_one_that_runs_later_breaks() {
        let (mut bench, mut oracle) = (Bench::new(), LockoutKept::default());
        bench.told.locked[0] = true;
        bench.truth.feeders[0].drive_on_ms = 1000;
        bench.pass(&mut oracle, 3);
        bench.truth.feeders[0].drive_on_ms = 0;
        bench.pass(&mut oracle, 10);
        assert!(!oracle.verdict().is_broken());
        bench.truth.feeders[0].drive_on_ms = 1;
        bench.pass(&mut oracle, 1);
        assert_eq!(broken_at_s(&oracle), Some(14));
    }

    #[test]
    fn power_clears_nothing_and_a_person_does() {
        let (mut bench, mut oracle) = locked();
        bench.truth.powered = false;
        bench.told.locked[0] = false;
        bench.pass(&mut oracle, 10);
        bench.truth.powered = true;
        bench.pass(&mut oracle, 10);
        bench.truth.feeders[0].drive_on_ms = 500;
        let mut other = oracle.clone();
        bench.pass(&mut oracle, 1);
        assert!(oracle.verdict().is_broken());
        bench.told.released = true;
        bench.pass(&mut other, 1);
        assert!(!other.verdict().is_broken());
    }

    #[test]
    fn another_feeder_may_go_on() {
        let (mut bench, mut oracle) = locked();
        bench.truth.feeders[1].drive_on_ms = 1000;
        bench.pass(&mut oracle, 10);
        assert!(!oracle.verdict().is_broken());
    }

    #[test]
    fn one_that_ends_by_itself_after_a_day_is_over() {
        let (mut bench, mut oracle) = locked();
        bench.pass(&mut oracle, 24 * 3600);
        bench.told.locked[0] = false;
        bench.pass(&mut oracle, 1);
        bench.truth.feeders[0].drive_on_ms = 1000;
        bench.pass(&mut oracle, 10);
        assert!(!oracle.verdict().is_broken());
        let (mut bench, mut oracle) = locked();
        bench.pass(&mut oracle, 23 * 3600);
        bench.told.locked[0] = false;
        bench.truth.feeders[0].drive_on_ms = 1000;
        bench.pass(&mut oracle, 1);
        assert!(oracle.verdict().is_broken());
    }
}
