//! After the valves have selected another body of water nothing is fed before its water has flowed through the line
//! for the purge, but for one tick and one drive stop at the change.
//!
//! A site with one body is not judged.

use super::support::verdict::{Statements, Track};
use super::{Oracle, Seen};

/// The judge of valves.
#[derive(Clone, Debug, Default)]
pub struct BodyFlushed {
    body: Option<usize>,
    /// Time since another body was selected, and how much of it water flowed, ms.
    since: Option<(u64, u64)>,
    track: Track,
}

impl Oracle for BodyFlushed {
    fn name(&self) -> &'static str {
        "body_flushed"
    }

    fn hazard(&self) -> &'static [&'static str] {
        &["H-07"]
    }

    fn observe(&mut self, seen: &Seen<'_>) {
        let (truth, site) = (seen.truth, seen.site);
        if truth.bodies.len() < 2 {
            return;
        }
        if self.body.is_some_and(|before| before != truth.body) {
            self.since = Some((0, 0));
        }
        self.body = Some(truth.body);
        let Some((since_ms, flowed_ms)) = &mut self.since else {
            return;
        };
        let changing = *since_ms < site.tick_and_stop_ms();
        let purge_ms = site.feeders.iter().map(|f| f.purge_ms).max().unwrap_or(0);
        let bound = purge_ms.saturating_sub(site.tick_and_stop_ms());
        for feeder in truth.feeders.iter().filter(|f| f.fed > 0.0 && !changing) {
            let pair = (*flowed_ms as f64, bound as f64);
            self.track
                .at_least(truth.now_ms, pair, "ms", feeder.product.name());
        }
        *since_ms += seen.dt_ms();
        *flowed_ms += if truth.water_moving { seen.dt_ms() } else { 0 };
    }

    fn statements(&self) -> Statements<'_> {
        Statements::of(
            [(&self.track, "fed into a body that had just been selected")],
            "one body of water, or its valves were never turned",
        )
    }
}

#[cfg(test)]
mod tests {
    use super::super::Verdict;
    use super::super::support::testkit::{Bench, broken_at_s};
    use super::*;
    use crate::plant::BodyTruth;

    /// A feed into one body, and into the other so many flowing seconds after the valves have turned. The purge is
    /// 20 s, seen short by 2.05 s at most.
    fn after(flowing: u32) -> (Bench, BodyFlushed) {
        let (mut bench, mut oracle) = (Bench::new(), BodyFlushed::default());
        bench.truth.bodies.push(BodyTruth::default());
        bench.feed(&mut oracle, 0, 1.0, 10);
        bench.truth.body = 1;
        bench.truth.water_moving = false;
        bench.pass(&mut oracle, 30);
        bench.truth.water_moving = true;
        bench.pass(&mut oracle, flowing);
        bench.feed(&mut oracle, 0, 1.0, 1);
        (bench, oracle)
    }

    #[test]
    fn the_purge_must_flow() {
        assert!(!after(18).1.verdict().is_broken());
        assert_eq!(broken_at_s(&after(17).1), Some(58));
    }

    #[test]
    fn a_feed_that_stops_in_time_is_excused() {
        let (mut bench, mut oracle) = after(30);
        bench.truth.body = 0;
        bench.feed(&mut oracle, 0, 1.0, 3);
        assert!(!oracle.verdict().is_broken());
        bench.feed(&mut oracle, 0, 1.0, 1);
        assert!(oracle.verdict().is_broken());
    }

    #[test]
    fn one_body_is_not_judged() {
        let (mut bench, mut oracle) = (Bench::new(), BodyFlushed::default());
        bench.feed(&mut oracle, 0, 1.0, 10);
        let NotApplicable { why } = oracle.verdict() else {
            panic!("judged");
        };
        assert!(why.starts_with("one body"));
    }

    use Verdict::NotApplicable;
}
