//! Fixed-point arithmetic that saturates: 32 bits before the point and 32 after.

use fixed::types::I32F32;

/// A number of this module. Its step is 2.3e-10.
pub(super) type Q = I32F32;

/// A number as written, read when this crate is compiled: at run time it would bring a parser along.
macro_rules! lit {
    ($text:literal) => {
        const { $crate::water::number::Q::lit($text) }
    };
}
pub(super) use lit;

pub(super) fn add(a: Q, b: Q) -> Q {
    a.saturating_add(b)
}

pub(super) fn sub(a: Q, b: Q) -> Q {
    a.saturating_sub(b)
}

pub(super) fn mul(a: Q, b: Q) -> Q {
    a.saturating_mul(b)
}

/// The largest number for a division by zero: nothing here divides by what may be zero and means it.
pub(super) fn div(a: Q, b: Q) -> Q {
    a.checked_div(b).unwrap_or(Q::MAX)
}

pub(super) fn sum<const N: usize>(all: [Q; N]) -> Q {
    all.into_iter().fold(Q::ZERO, add)
}

/// A whole number, saturating.
pub(super) fn whole(value: u32) -> Q {
    Q::saturating_from_num(value)
}

/// Square root of a number from 0 to 1; outside, of the nearer end. Digit by digit: the roots of
/// the crate and of `u64` keep a path to a panic.
pub(super) fn root(x: Q) -> Q {
    let within = x.clamp(Q::ZERO, Q::ONE).to_bits().unsigned_abs();
    // At most 2^62: the root of it is that of x with 31 places, and one more is shifted in below.
    let mut left = within.checked_shl(30).unwrap_or(0);
    let (mut root, mut digit) = (0_u64, 1_u64 << 62);
    for _ in 0..32 {
        let tried = root.saturating_add(digit);
        root >>= 1;
        if left >= tried {
            left = left.saturating_sub(tried);
            root = root.saturating_add(digit);
        }
        digit >>= 2;
    }
    Q::from_bits(i64::try_from(root << 1).unwrap_or(0))
}

/// 10 to the power of `x`, to 3e-7 of itself and half a step; 0 below -9.6, saturating from 9.03.
pub(super) fn exp10(x: Q) -> Q {
    const LOG2_10: Q = Q::lit("3.321928094887362");
    // 2^f for f from 0 to 1, interpolated at Chebyshev's points: off by 1.1e-7 at most.
    const TERMS: [Q; 6] = [
        Q::lit("0.001893754058"),
        Q::lit("0.008949590423"),
        Q::lit("0.055860337077"),
        Q::lit("0.240141818201"),
        Q::lit("0.693154489663"),
        Q::lit("0.999999898350"),
    ];
    let binary = mul(x, LOG2_10);
    let whole: i32 = binary.saturating_to_num();
    let rest = binary.frac();
    let power = TERMS
        .into_iter()
        .fold(Q::ZERO, |sum, term| add(mul(sum, rest), term));
    let places = whole.unsigned_abs();
    if whole >= 0 {
        // Under 2 before the shift, so 29 places fit.
        if places > 29 {
            return Q::MAX;
        }
        Q::from_bits(power.to_bits().checked_shl(places).unwrap_or(0))
    } else {
        Q::from_bits(power.to_bits().checked_shr(places).unwrap_or(0))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn roots_from_0_to_1() {
        for step in 0..=1000 {
            let x = Q::from_num(f64::from(step) / 1000.0);
            let ours: f64 = root(x).to_num();
            assert!(
                (ours - x.to_num::<f64>().sqrt()).abs() < 1e-9,
                "{x}: {ours}"
            );
        }
        assert_eq!(root(Q::MIN), Q::ZERO);
        assert_eq!(root(Q::MAX), Q::ONE);
    }

    #[test]
    #[allow(
        clippy::disallowed_methods,
        reason = "a tolerance of 3e-7 does not see the last bit"
    )]
    fn powers_of_ten_over_their_range() {
        for step in -960..=902 {
            let x = f64::from(step) / 100.0 + 0.003;
            let exact = 10_f64.powf(Q::from_num(x).to_num());
            let ours: f64 = exp10(Q::from_num(x)).to_num();
            assert!(
                (ours - exact).abs() < exact * 3e-7 + 3e-10,
                "{x}: {ours} {exact}"
            );
        }
        assert_eq!(exp10(Q::from_num(10)), Q::MAX);
        assert_eq!(exp10(Q::MIN), Q::ZERO);
        assert_eq!(div(Q::ONE, Q::ZERO), Q::MAX);
    }
}
