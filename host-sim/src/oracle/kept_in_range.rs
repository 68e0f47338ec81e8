//! After the first day the water stays near its pH set point, and keeps its chlorine, for the share of
//! the time that the site states.
//!
//! Judged in each body while it is selected, over the whole run, pump on or off: bathers do not ask whether it
//! runs. While the pool is closed to them nothing counts. A site that states no share is not judged.

use super::support::verdict::{Statements, Track};
use super::{KeptBounds, Oracle, Seen};

/// What has to pass before anything counts, ms.
const FIRST_MS: u64 = 24 * 3_600_000;

/// How long one body was looked at.
#[derive(Clone, Copy, Debug, Default)]
struct Looked {
    kept: Option<KeptBounds>,
    all_ms: u64,
    near_ms: u64,
    clean_ms: u64,
}

/// The judge of water that wanders.
#[derive(Clone, Debug, Default)]
pub struct KeptInRange {
    bodies: Vec<Looked>,
    near: Track,
    clean: Track,
}

impl Oracle for KeptInRange {
    fn name(&self) -> &'static str {
        "kept_in_range"
    }

    fn hazard(&self) -> &'static [&'static str] {
        &["H-05", "H-06", "H-16"]
    }

    fn observe(&mut self, seen: &Seen<'_>) {
        let truth = seen.truth;
        let (Some(kept), Some(body)) = (&seen.site.kept, truth.bodies.get(truth.body)) else {
            return;
        };
        if seen.start_ms() < FIRST_MS || truth.closed {
            return;
        }
        if self.bodies.len() < truth.bodies.len() {
            self.bodies.resize(truth.bodies.len(), Looked::default());
        }
        let dt_ms = seen.dt_ms();
        let looked = &mut self.bodies[truth.body];
        looked.kept = Some(*kept);
        looked.all_ms += dt_ms;
        if (body.ph - kept.ph_set_point).abs() <= kept.ph_within {
            looked.near_ms += dt_ms;
        }
        if body.free_chlorine_mg_l >= seen.site.chlorine_min_mg_l {
            looked.clean_ms += dt_ms;
        }
    }

    fn finish(&mut self, seen: &Seen<'_>) {
        let now = seen.truth.now_ms;
        for looked in &self.bodies {
            let Some(kept) = looked.kept else {
                continue;
            };
            let percent = |part: u64| 100.0 * part as f64 / looked.all_ms as f64;
            let near = (percent(looked.near_ms), 100.0 * kept.ph_share_min);
            self.near.at_least(now, near, "%", "pH");
            let clean = (percent(looked.clean_ms), 100.0 * kept.chlorine_share_min);
            self.clean.at_least(now, clean, "%", "free chlorine");
        }
    }

    fn statements(&self) -> Statements<'_> {
        Statements::of(
            [
                (&self.near, "off its set point for too much of the time"),
                (&self.clean, "below its minimum for too much of the time"),
            ],
            "the site states no share of the time, or the run was not over a day",
        )
    }
}

#[cfg(test)]
mod tests {
    use super::super::Verdict;
    use super::super::support::testkit::{Bench, broken_at_s};
    use super::*;

    const DAY_S: u32 = 86_400;

    fn bench() -> (Bench, KeptInRange) {
        let mut bench = Bench::new();
        bench.site.kept = Some(KeptBounds {
            ph_set_point: 7.5,
            ph_within: 0.15,
            ph_share_min: 0.95,
            chlorine_share_min: 1.0,
        });
        (bench, KeptInRange::default())
    }

    #[test]
    fn a_first_day_off_range_does_not_count() {
        let (mut bench, mut oracle) = bench();
        bench.truth.bodies[0].ph = 8.2;
        bench.truth.bodies[0].free_chlorine_mg_l = 0.0;
        bench.pass(&mut oracle, DAY_S);
        bench.truth.bodies[0].ph = 7.64;
        bench.truth.bodies[0].free_chlorine_mg_l = 1.0;
        bench.pass(&mut oracle, 1000);
        bench.finish(&mut oracle);
        assert!(!oracle.verdict().is_broken(), "{:?}", oracle.verdict());
    }

    #[test]
    fn five_in_a_hundred_may_be_off_and_no_more() {
        for (off_s, broken) in [(50, false), (51, true)] {
            let (mut bench, mut oracle) = bench();
            bench.pass(&mut oracle, DAY_S);
            bench.truth.bodies[0].ph = 7.34;
            bench.pass(&mut oracle, off_s);
            bench.truth.bodies[0].ph = 7.36;
            bench.pass(&mut oracle, 1000 - off_s);
            bench.finish(&mut oracle);
            assert_eq!(broken_at_s(&oracle).is_some(), broken, "{off_s} s");
        }
    }

    #[test]
    fn a_body_that_is_near_does_not_make_up_for_another() {
        let (mut bench, mut oracle) = bench();
        let near = bench.truth.bodies[0];
        bench
            .truth
            .bodies
            .push(crate::plant::BodyTruth { ph: 7.34, ..near });
        bench.pass(&mut oracle, DAY_S + 100_000);
        bench.truth.body = 1;
        bench.pass(&mut oracle, 100);
        bench.finish(&mut oracle);
        assert!(oracle.verdict().is_broken());
    }

    #[test]
    fn a_pool_that_is_closed_does_not_count() {
        for (closed, broken) in [(true, false), (false, true)] {
            let (mut bench, mut oracle) = bench();
            bench.pass(&mut oracle, DAY_S + 100);
            bench.truth.closed = closed;
            bench.truth.bodies[0].ph = 8.2;
            bench.pass(&mut oracle, 1000);
            bench.finish(&mut oracle);
            assert_eq!(broken_at_s(&oracle).is_some(), broken, "closed: {closed}");
        }
    }

    #[test]
    fn chlorine_has_its_own_share() {
        let (mut bench, mut oracle) = bench();
        bench.pass(&mut oracle, DAY_S + 1000);
        bench.truth.bodies[0].free_chlorine_mg_l = 0.99;
        bench.pass(&mut oracle, 1);
        bench.finish(&mut oracle);
        assert!(oracle.verdict().is_broken());
    }

    #[test]
    fn a_site_that_states_nothing_is_not_judged() {
        let (mut bench, mut oracle) = bench();
        bench.site.kept = None;
        bench.truth.bodies[0].ph = 9.0;
        bench.pass(&mut oracle, DAY_S + 1000);
        bench.finish(&mut oracle);
        assert!(matches!(oracle.verdict(), Verdict::NotApplicable { .. }));
    }
}
