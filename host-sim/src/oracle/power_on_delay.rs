//! Nothing is fed within `power_on_delay` of the controller's power coming on, and nothing while
//! it is off.
//!
//! What leaves while a contact drops out after a cut (`drive_off_ms`) is not held against it.

use super::support::verdict::{Statements, Track};
use super::{Oracle, Seen};

/// The judge of feed after power-on.
#[derive(Clone, Debug, Default)]
pub struct PowerOnDelay {
    on_since_ms: Option<u64>,
    lost_at_ms: Option<u64>,
    track: Track,
}

impl Oracle for PowerOnDelay {
    fn name(&self) -> &'static str {
        "power_on_delay"
    }

    fn hazard(&self) -> &'static [&'static str] {
        &["H-01", "H-09"]
    }

    fn observe(&mut self, seen: &Seen<'_>) {
        let truth = seen.truth;
        let start_ms = seen.start_ms();
        match (truth.powered, self.on_since_ms) {
            (true, None) => self.on_since_ms = Some(start_ms),
            (false, Some(_)) => {
                self.on_since_ms = None;
                self.lost_at_ms = Some(start_ms);
            }
            _ => {}
        }
        if !seen.stirs {
            return;
        }
        let dropping_out = self
            .lost_at_ms
            .is_some_and(|lost| start_ms < lost + seen.site.drive_off_max_ms());
        if dropping_out {
            return;
        }
        let bound = seen.site.power_on_delay_ms as f64;
        // Without power there is no time at which feed would be right.
        let since = self.on_since_ms.map_or(-1.0, |on| (start_ms - on) as f64);
        for feeder in truth.feeders.iter().filter(|f| f.fed > 0.0) {
            self.track
                .at_least(truth.now_ms, (since, bound), "ms", feeder.product.name());
        }
    }

    fn statements(&self) -> Statements<'_> {
        Statements::of(
            [(
                &self.track,
                "fed too soon after power came on, or without power",
            )],
            "nothing was fed",
        )
    }
}

#[cfg(test)]
mod tests {
    use super::super::Verdict;
    use super::super::support::testkit::{Bench, broken_at_s};
    use super::*;

    fn after(seconds: u32) -> PowerOnDelay {
        let (mut bench, mut oracle) = (Bench::new(), PowerOnDelay::default());
        bench.truth.powered = false;
        bench.pass(&mut oracle, 100);
        bench.truth.powered = true;
        bench.pass(&mut oracle, seconds);
        bench.feed(&mut oracle, 1, 1.0, 5);
        oracle
    }

    #[test]
    fn at_the_delay_holds_and_a_second_sooner_breaks() {
        assert!(!after(30).verdict().is_broken());
        assert_eq!(broken_at_s(&after(29)), Some(130));
    }

    #[test]
    fn the_start_of_a_run_is_a_power_on() {
        let (mut bench, mut oracle) = (Bench::new(), PowerOnDelay::default());
        assert!(matches!(oracle.verdict(), Verdict::NotApplicable { .. }));
        bench.pass(&mut oracle, 10);
        bench.feed(&mut oracle, 0, 1.0, 1);
        assert_eq!(broken_at_s(&oracle), Some(11));
    }

    #[test]
    fn drop_out_at_a_cut_is_not_feed_without_power_but_a_second_later_is() {
        let (mut bench, mut oracle) = (Bench::new(), PowerOnDelay::default());
        bench.pass(&mut oracle, 60);
        bench.truth.powered = false;
        bench.feed(&mut oracle, 0, 0.05, 1);
        assert!(!oracle.verdict().is_broken());
        bench.feed(&mut oracle, 0, 0.05, 1);
        assert_eq!(broken_at_s(&oracle), Some(62));
    }
}
