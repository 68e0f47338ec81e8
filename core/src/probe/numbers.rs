//! Whole numbers, rounded to the nearest.

/// Rounded to the nearest, a half away from zero. 0 if `by` is not above 0.
pub(crate) fn round_div(value: i64, by: i64) -> i64 {
    let half = by / 2;
    let shifted = if value < 0 {
        value.saturating_sub(half)
    } else {
        value.saturating_add(half)
    };
    shifted.checked_div(by.max(0)).unwrap_or(0)
}

/// As an `i32`, at the nearest end if it does not fit.
pub(crate) fn narrow(value: i64) -> i32 {
    i32::try_from(value).unwrap_or(if value < 0 { i32::MIN } else { i32::MAX })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn halves_go_away_from_zero_and_nothing_divides_by_zero() {
        let halves = [(3, 2), (-3, 2), (2, 4), (-2, 4), (1, 4)].map(|(v, by)| round_div(v, by));
        assert_eq!(halves, [2, -2, 1, -1, 0]);
        assert_eq!([round_div(7, 0), round_div(7, -1)], [0, 0]);
        assert_eq!(narrow(i64::MAX), i32::MAX);
        assert_eq!(narrow(i64::MIN), i32::MIN);
    }
}
