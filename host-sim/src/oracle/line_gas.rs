//! The return line never releases more chlorine gas than `gas_max_g`, in all.
//!
//! What stands together in the line at the end of the run would be released by the next start, so
//! it counts as released.

use super::support::verdict::{Statements, Track};
use super::{Oracle, Seen};

/// The judge of gas from the line.
#[derive(Clone, Debug, Default)]
pub struct LineGas {
    track: Track,
}

impl Oracle for LineGas {
    fn name(&self) -> &'static str {
        "line_gas"
    }

    fn hazard(&self) -> &'static [&'static str] {
        &["H-01", "H-02"]
    }

    fn observe(&mut self, seen: &Seen<'_>) {
        let pair = (seen.truth.line.gas_released_g, seen.site.gas_max_g);
        self.track
            .at_most(seen.truth.now_ms, pair, "g Cl2", "return line");
    }

    fn finish(&mut self, seen: &Seen<'_>) {
        let line = &seen.truth.line;
        let pair = (
            line.gas_released_g + line.gas_potential_g,
            seen.site.gas_max_g,
        );
        self.track
            .at_most(seen.truth.now_ms, pair, "g Cl2", "return line");
    }

    fn statements(&self) -> Statements<'_> {
        Statements::of(
            [(
                &self.track,
                "acid and hypochlorite met and gave off chlorine",
            )],
            "no step",
        )
    }
}

#[cfg(test)]
mod tests {
    use super::super::support::testkit::{Bench, broken_at_s};
    use super::*;

    #[test]
    fn up_to_the_bound_holds_and_more_breaks() {
        let (mut bench, mut oracle) = (Bench::new(), LineGas::default());
        bench.truth.line.gas_released_g = 0.05;
        bench.pass(&mut oracle, 10);
        bench.finish(&mut oracle);
        assert!(!oracle.verdict().is_broken());
        bench.truth.line.gas_released_g = 0.051;
        bench.pass(&mut oracle, 1);
        assert_eq!(broken_at_s(&oracle), Some(11));
    }

    #[test]
    fn what_stands_there_at_the_end_counts() {
        let (mut bench, mut oracle) = (Bench::new(), LineGas::default());
        bench.truth.line.gas_potential_g = 1.2;
        bench.pass(&mut oracle, 10);
        assert!(!oracle.verdict().is_broken());
        bench.finish(&mut oracle);
        assert!(oracle.verdict().is_broken());
    }
}
