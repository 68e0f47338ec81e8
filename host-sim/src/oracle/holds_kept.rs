//! Between two cycles of a product in a body lies the spread hold, in flowing time, across
//! restarts too.
//!
//! The water cannot see every end of a cycle. It can see two: the controller lost its power, or
//! nothing was fed for longer than a cut cycle may wait to resume. A feed after either must have
//! the whole hold of flowing water before it, counted from the last drop. (A hold that is left out
//! anywhere else shows as one long cycle, in `cycle_total`.) It may look short by one
//! `tick_gap_max` and one drive stop, since a controller counts from tick to tick.

use super::support::feeds::Feed;
use super::support::verdict::{Statements, Track};
use super::{Oracle, Seen};

/// The judge of holds.
#[derive(Clone, Debug, Default)]
pub struct HoldsKept {
    track: Track,
}

impl HoldsKept {
    fn judge(&mut self, seen: &Seen<'_>, feed: Feed) {
        let site = seen.site;
        let hold = site.largest(seen.truth, feed.product, |b| {
            (b.spread_hold_ms > 0).then_some(b.spread_hold_ms as f64)
        });
        // What leaves without power is the business of `power_on_delay`.
        let (Some(hold), Some(gap), true) = (hold, feed.after, seen.truth.powered) else {
            return;
        };
        let waited = gap.ms > site.resume_within_ms + site.tick_and_stop_ms();
        if gap.cut || waited {
            let bound = (hold - site.tick_and_stop_ms() as f64).max(0.0);
            let pair = (gap.flowing_ms as f64, bound);
            self.track
                .at_least(seen.truth.now_ms, pair, "ms", feed.product.name());
        }
    }
}

impl Oracle for HoldsKept {
    fn name(&self) -> &'static str {
        "holds_kept"
    }

    fn hazard(&self) -> &'static [&'static str] {
        &["H-03", "H-04", "H-07", "H-09"]
    }

    fn observe(&mut self, seen: &Seen<'_>) {
        for feed in seen.fed {
            self.judge(seen, *feed);
        }
    }

    fn statements(&self) -> Statements<'_> {
        Statements::of(
            [(&self.track, "fed again before the hold was over")],
            "no product with a hold was fed twice",
        )
    }
}

#[cfg(test)]
mod tests {
    use super::super::Verdict;
    use super::super::support::testkit::{Bench, broken_at_s};
    use super::*;

    /// A feed, `off` seconds without power, `standing` and `flowing` seconds, and a feed. A hold
    /// of 60 s may look 2.05 s short; a cut cycle may resume within 40 s.
    fn after(off: u32, standing: u32, flowing: u32) -> HoldsKept {
        let (mut bench, mut oracle) = (Bench::new(), HoldsKept::default());
        bench.feed(&mut oracle, 0, 1.0, 10);
        bench.truth.powered = false;
        bench.pass(&mut oracle, off);
        bench.truth.powered = true;
        bench.truth.water_moving = false;
        bench.pass(&mut oracle, standing);
        bench.truth.water_moving = true;
        bench.pass(&mut oracle, flowing);
        bench.feed(&mut oracle, 0, 1.0, 10);
        oracle
    }

    #[test]
    fn after_a_restart_the_whole_hold_must_flow() {
        assert!(!after(5, 0, 53).verdict().is_broken());
        assert_eq!(broken_at_s(&after(5, 0, 52)), Some(68));
        assert_eq!(broken_at_s(&after(5, 600, 30)), Some(646));
    }

    #[test]
    fn a_pause_within_a_cycle_is_no_hold() {
        assert!(matches!(
            after(0, 0, 42).verdict(),
            Verdict::NotApplicable { .. }
        ));
    }

    #[test]
    fn a_pause_too_long_to_resume_ends_the_cycle() {
        assert_eq!(broken_at_s(&after(0, 0, 43)), Some(54));
        assert!(!after(0, 0, 58).verdict().is_broken());
        assert!(after(0, 100, 57).verdict().is_broken());
    }

    #[test]
    fn a_cut_as_short_as_the_step_of_the_last_drop_is_seen() {
        let (mut bench, mut oracle) = (Bench::new(), HoldsKept::default());
        bench.truth.powered = false;
        bench.feed(&mut oracle, 0, 0.05, 1);
        bench.truth.powered = true;
        bench.pass(&mut oracle, 10);
        bench.feed(&mut oracle, 0, 1.0, 1);
        assert_eq!(broken_at_s(&oracle), Some(12));
    }
}
