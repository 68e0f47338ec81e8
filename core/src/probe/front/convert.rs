//! Counts to the electrode's potential, in integers.

use super::Microvolts;
use super::spec::FrontSpec;
use crate::probe::numbers::{narrow, round_div};

/// Where the converter stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Counts {
    /// Between its stops.
    Within(Microvolts),
    /// At the upper stop.
    High,
    /// At the lower stop.
    Low,
}

/// The electrode's potential behind the counts of a converter with `counts_max`. One rounding.
pub(super) fn counts(raw: i16, counts_max: i16, spec: &FrontSpec) -> Counts {
    if raw >= counts_max {
        return Counts::High;
    }
    if i32::from(raw) <= i32::from(counts_max).saturating_neg().saturating_sub(1) {
        return Counts::Low;
    }
    let scale = i64::from(counts_max).saturating_add(1);
    let input = i64::from(raw).saturating_mul(i64::from(spec.full_scale_mv));
    let offset = i64::from(spec.offset_mv).saturating_mul(scale);
    // mV at the converter, times its scale; then uV at the electrode: 1000 for uV, 1000 for the gain.
    let uv = input.saturating_sub(offset).saturating_mul(1_000_000);
    let by = scale.saturating_mul(i64::from(spec.gain_milli));
    Counts::Within(Microvolts(narrow(round_div(uv, by))))
}

#[cfg(test)]
mod tests {
    use super::*;

    const PLAIN: FrontSpec = FrontSpec {
        offset_mv: 0,
        ..super::super::spec::tests::GLASS
    };

    fn uv(raw: i16, spec: FrontSpec) -> i32 {
        match counts(raw, i16::MAX, &spec) {
            Counts::Within(Microvolts(uv)) => uv,
            stop => panic!("{stop:?}"),
        }
    }

    #[test]
    fn the_nearest_microvolt_on_both_sides_of_zero() {
        // One count is 62.5 uV.
        assert_eq!([uv(1, PLAIN), uv(-1, PLAIN)], [63, -63]);
        assert_eq!([uv(2, PLAIN), uv(-2, PLAIN)], [125, -125]);
        assert_eq!(uv(16_384, PLAIN), 1_024_000);
        assert_eq!(uv(0, PLAIN), 0);
    }

    #[test]
    fn offset_first_then_gain() {
        let spec = FrontSpec {
            offset_mv: 1250,
            gain_milli: 2000,
            ..PLAIN
        };
        assert_eq!(uv(20_000, spec), 0);
        assert_eq!(uv(20_000 + 16, spec), 500, "1 mV at the converter");
        let spec = FrontSpec {
            gain_milli: 500,
            ..spec
        };
        assert_eq!(uv(20_000 - 16, spec), -2000);
    }

    #[test]
    fn a_count_at_a_stop_is_no_value() {
        let at = |raw, max| counts(raw, max, &PLAIN);
        assert_eq!(at(i16::MAX, i16::MAX), Counts::High);
        assert_eq!(at(i16::MIN, i16::MAX), Counts::Low);
        assert!(matches!(at(i16::MAX - 1, i16::MAX), Counts::Within(_)));
        assert!(matches!(at(i16::MIN + 1, i16::MAX), Counts::Within(_)));
        // Of twelve bits.
        assert_eq!(
            [at(2047, 2047), at(-2048, 2047)],
            [Counts::High, Counts::Low]
        );
        assert!(matches!(at(-2047, 2047), Counts::Within(_)));
    }

    #[test]
    fn millivolts_are_the_nearest() {
        let mv = |uv| Microvolts(uv).to_millivolts().0;
        assert_eq!([mv(499), mv(500), mv(-500), mv(-499)], [0, 1, -1, 0]);
    }
}
