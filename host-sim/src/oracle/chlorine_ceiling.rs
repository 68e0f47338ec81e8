//! Free chlorine of no body is ever above 10 mg/L.

use super::support::bounds::CHLORINE_MAX_MG_L;
use super::support::verdict::{Track, Verdict};
use super::{Oracle, Seen};

/// The judge of chlorine overfeed.
#[derive(Clone, Debug, Default)]
pub struct ChlorineCeiling {
    track: Track,
}

impl Oracle for ChlorineCeiling {
    fn name(&self) -> &'static str {
        "chlorine_ceiling"
    }

    fn hazard(&self) -> &'static [&'static str] {
        &["H-04", "H-07", "H-11", "H-12"]
    }

    fn observe(&mut self, seen: &Seen<'_>) {
        for body in &seen.truth.bodies {
            let pair = (body.free_chlorine_mg_l, CHLORINE_MAX_MG_L);
            self.track.at_most(seen.truth.now_ms, pair, "mg/L", "water");
        }
    }

    fn verdict(&self) -> Verdict {
        self.track
            .verdict("more free chlorine than anybody may bathe in", "no body")
    }
}

#[cfg(test)]
mod tests {
    use super::super::support::testkit::{Bench, broken_at_s};
    use super::*;
    use crate::plant::BodyTruth;

    #[test]
    fn ten_holds_and_more_breaks() {
        let (mut bench, mut oracle) = (Bench::new(), ChlorineCeiling::default());
        bench.truth.bodies[0].free_chlorine_mg_l = 10.0;
        bench.pass(&mut oracle, 10);
        assert!(!oracle.verdict().is_broken());
        bench.truth.bodies[0].free_chlorine_mg_l = 10.01;
        bench.pass(&mut oracle, 1);
        assert_eq!(broken_at_s(&oracle), Some(11));
    }

    #[test]
    fn the_second_body_counts_too() {
        let (mut bench, mut oracle) = (Bench::new(), ChlorineCeiling::default());
        bench.truth.bodies.push(BodyTruth {
            free_chlorine_mg_l: 14.0,
            ..BodyTruth::default()
        });
        bench.pass(&mut oracle, 1);
        assert_eq!(broken_at_s(&oracle), Some(1));
    }
}
