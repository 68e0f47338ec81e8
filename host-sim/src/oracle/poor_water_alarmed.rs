//! Water with free chlorine below its minimum, or pH above 8.0, for 30 min has somebody told.
//!
//! Judged in the selected body while the pool is open to bathers, and only while the controller has power and water moves past its
//! probes: standing water cannot be measured. The clock stands still meanwhile.

use super::support::bounds::{PH_MAX, POOR_WATER_MAX_MS};
use super::support::verdict::{Statements, Track};
use super::{Oracle, Seen};

/// The judge of poor water that nobody is told about.
#[derive(Clone, Debug, Default)]
pub struct PoorWaterAlarmed {
    weak_ms: u64,
    high_ms: u64,
    weak: Track,
    high: Track,
}

impl Oracle for PoorWaterAlarmed {
    fn name(&self) -> &'static str {
        "poor_water_alarmed"
    }

    fn hazard(&self) -> &'static [&'static str] {
        &["H-05", "H-06", "H-12", "H-16"]
    }

    fn observe(&mut self, seen: &Seen<'_>) {
        let truth = seen.truth;
        let Some(body) = truth.bodies.get(truth.body) else {
            return;
        };
        let measurable = truth.powered && truth.water_moving;
        let weak = body.free_chlorine_mg_l < seen.site.chlorine_min_mg_l;
        let high = body.ph > PH_MAX;
        let cases = [
            (weak, &mut self.weak_ms, &mut self.weak, "free chlorine"),
            (high, &mut self.high_ms, &mut self.high, "pH"),
        ];
        for (poor, clock_ms, track, who) in cases {
            if !poor || truth.closed || seen.told.any() {
                *clock_ms = 0;
                if track.has_seen_any() {
                    continue;
                }
            } else if measurable {
                *clock_ms += seen.dt_ms();
            }
            let pair = (*clock_ms as f64, POOR_WATER_MAX_MS as f64);
            track.at_most(truth.now_ms, pair, "ms", who);
        }
    }

    fn statements(&self) -> Statements<'_> {
        Statements::of(
            [
                (&self.weak, "below its minimum and nobody was told"),
                (&self.high, "above 8.0 and nobody was told"),
            ],
            "no body of water",
        )
    }
}

#[cfg(test)]
mod tests {
    use super::super::support::testkit::{Bench, broken_at_s};
    use super::*;

    fn weak() -> (Bench, PoorWaterAlarmed) {
        let (mut bench, oracle) = (Bench::new(), PoorWaterAlarmed::default());
        bench.truth.bodies[0].free_chlorine_mg_l = 0.99;
        (bench, oracle)
    }

    #[test]
    fn thirty_minutes_hold_and_a_second_more_breaks() {
        let (mut bench, mut oracle) = weak();
        bench.pass(&mut oracle, 1800);
        assert!(!oracle.verdict().is_broken());
        bench.pass(&mut oracle, 1);
        assert_eq!(broken_at_s(&oracle), Some(1801));
    }

    #[test]
    fn a_pool_that_is_closed_is_nobody_s_question_until_it_opens() {
        let (mut bench, mut oracle) = weak();
        bench.truth.closed = true;
        bench.pass(&mut oracle, 86_400);
        bench.truth.closed = false;
        bench.pass(&mut oracle, 1800);
        assert!(!oracle.verdict().is_broken());
        bench.pass(&mut oracle, 1);
        assert_eq!(broken_at_s(&oracle), Some(88_201));
    }

    #[test]
    fn high_ph_breaks_too_and_eight_is_not_high() {
        let (mut bench, mut oracle) = (Bench::new(), PoorWaterAlarmed::default());
        bench.truth.bodies[0].ph = 8.0;
        bench.pass(&mut oracle, 4000);
        assert!(!oracle.verdict().is_broken());
        bench.truth.bodies[0].ph = 8.01;
        bench.pass(&mut oracle, 1801);
        assert_eq!(broken_at_s(&oracle), Some(5801));
    }

    #[test]
    fn somebody_told_or_good_water_starts_anew() {
        let (mut bench, mut oracle) = weak();
        bench.pass(&mut oracle, 1790);
        bench.told.alarm = true;
        bench.pass(&mut oracle, 9000);
        bench.told.alarm = false;
        bench.pass(&mut oracle, 1790);
        bench.truth.bodies[0].free_chlorine_mg_l = 1.0;
        bench.pass(&mut oracle, 1);
        bench.truth.bodies[0].free_chlorine_mg_l = 0.5;
        bench.pass(&mut oracle, 1800);
        assert!(!oracle.verdict().is_broken());
    }

    #[test]
    fn the_clock_stands_still_while_nothing_can_be_measured() {
        let (mut bench, mut oracle) = weak();
        bench.pass(&mut oracle, 1800);
        bench.truth.water_moving = false;
        bench.pass(&mut oracle, 9000);
        bench.truth.water_moving = true;
        bench.pass(&mut oracle, 1);
        assert_eq!(broken_at_s(&oracle), Some(10_801));
    }
}
