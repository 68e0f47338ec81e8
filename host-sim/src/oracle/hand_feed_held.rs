//! A feed by hand lasts for `manual_max` at most, ends when its button is let go, within one tick and one drive stop,
//! and nothing of the kind follows within a minute of that: the product's own hold comes first.
//!
//! The feed is the first that begins while a person holds the button.

use super::support::verdict::{Statements, Track};
use super::{Oracle, Seen};
use crate::plant::MAX_FEEDERS;

/// A feed by hand that has paused for so long is over, ms.
const OVER_MS: u64 = 60_000;

/// A feed by hand.
#[derive(Clone, Copy, Debug, Default)]
struct ByHand {
    /// Drive-on time, ms.
    ran_ms: u64,
    /// Since the drive last ran, ms.
    rests_ms: u64,
    /// Since the button was let go, ms; 0 while it is held.
    let_go_ms: u64,
}

/// The judge of feeds by hand.
#[derive(Clone, Debug, Default)]
pub struct HandFeedHeld {
    was_on: [bool; MAX_FEEDERS],
    feeds: [Option<ByHand>; MAX_FEEDERS],
    long: Track,
    late: Track,
}

impl Oracle for HandFeedHeld {
    fn name(&self) -> &'static str {
        "hand_feed_held"
    }

    fn hazard(&self) -> &'static [&'static str] {
        &["H-15"]
    }

    fn observe(&mut self, seen: &Seen<'_>) {
        let (truth, site) = (seen.truth, seen.site);
        if !seen.stirs && self.feeds.iter().all(Option::is_none) {
            self.was_on = [false; MAX_FEEDERS];
            return;
        }
        for (at, (feeder, bound)) in truth.feeders.iter().zip(&site.feeders).enumerate() {
            let (held, ran_ms) = (seen.told.held[at], u64::from(feeder.drive_on_ms));
            let begins = ran_ms > 0 && !self.was_on[at];
            self.was_on[at] = feeder.drive_on;
            if held && begins && self.feeds[at].is_none() {
                self.feeds[at] = Some(ByHand::default());
            }
            let Some(feed) = &mut self.feeds[at] else {
                continue;
            };
            feed.ran_ms += ran_ms;
            feed.rests_ms = if ran_ms > 0 {
                0
            } else {
                feed.rests_ms + seen.dt_ms()
            };
            let (who, stop_ms) = (feeder.product.name(), u64::from(bound.drive_off_ms));
            let most = site.times.manual_max_ms + u64::from(site.tick_gap_max_ms) + stop_ms;
            let pair = (feed.ran_ms as f64, most as f64);
            self.long.at_most(truth.now_ms, pair, "ms", who);
            // Late is what a whole tick and a drop-out do not excuse.
            let excused = u64::from(site.tick_gap_max_ms) + 2 * stop_ms;
            if !held && feed.let_go_ms >= excused {
                let pair = (ran_ms as f64, 0.0);
                self.late.at_most(truth.now_ms, pair, "ms", who);
            }
            feed.let_go_ms = if held {
                0
            } else {
                feed.let_go_ms + seen.dt_ms()
            };
            if feed.rests_ms >= OVER_MS || feed.let_go_ms >= OVER_MS {
                self.feeds[at] = None;
            }
        }
    }

    fn statements(&self) -> Statements<'_> {
        Statements::of(
            [
                (&self.long, "fed by hand for longer than that may last"),
                (&self.late, "driven after the button was let go"),
            ],
            "nothing was fed by hand",
        )
    }
}

#[cfg(test)]
mod tests {
    use super::super::support::testkit::{Bench, broken_at_s};
    use super::*;

    /// `manual_max` is 120 s, a tick 2 s, a drive stop 50 ms.
    fn held(seconds: u32) -> (Bench, HandFeedHeld) {
        let (mut bench, mut oracle) = (Bench::new(), HandFeedHeld::default());
        bench.told.held[0] = true;
        bench.feed(&mut oracle, 0, 0.1, seconds);
        (bench, oracle)
    }

    #[test]
    fn the_longest_feed_holds_and_a_longer_one_breaks() {
        assert!(!held(122).1.verdict().is_broken());
        assert_eq!(broken_at_s(&held(123).1), Some(123));
    }

    #[test]
    fn it_ends_with_the_button() {
        let (mut bench, mut oracle) = held(10);
        bench.told.held[0] = false;
        bench.feed(&mut oracle, 0, 0.1, 3);
        assert!(!oracle.verdict().is_broken());
        bench.feed(&mut oracle, 0, 0.1, 1);
        assert_eq!(broken_at_s(&oracle), Some(14));
        // Nor does one of its own begin within a minute.
        let (mut bench, mut oracle) = held(10);
        bench.told.held[0] = false;
        bench.pass(&mut oracle, 30);
        bench.feed(&mut oracle, 0, 0.1, 1);
        assert_eq!(broken_at_s(&oracle), Some(41));
    }

    #[test]
    fn one_that_begins_after_a_second_of_rest_is_by_hand() {
        let (mut bench, mut oracle) = (Bench::new(), HandFeedHeld::default());
        bench.feed(&mut oracle, 0, 0.1, 5);
        bench.pass(&mut oracle, 1);
        bench.told.held[0] = true;
        bench.feed(&mut oracle, 0, 0.1, 123);
        assert_eq!(broken_at_s(&oracle), Some(129));
    }

    #[test]
    fn a_feed_that_ran_before_and_one_long_after_are_none_by_hand() {
        let (mut bench, mut oracle) = (Bench::new(), HandFeedHeld::default());
        bench.feed(&mut oracle, 0, 0.1, 5);
        bench.drive(0, 0.1);
        bench.pass(&mut oracle, 5);
        bench.told.held[0] = true;
        bench.feed(&mut oracle, 0, 0.1, 130);
        bench.told.held[0] = false;
        bench.feed(&mut oracle, 0, 0.1, 130);
        assert!(!oracle.verdict().is_broken());
        let (mut bench, mut oracle) = held(10);
        bench.told.held[0] = false;
        bench.pass(&mut oracle, 60);
        bench.feed(&mut oracle, 0, 0.1, 500);
        assert!(!oracle.verdict().is_broken());
    }
}
