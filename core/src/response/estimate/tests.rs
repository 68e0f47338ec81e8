//! The estimate against a filter by floats, and each verdict at its edge.

use super::*;

#[test]
fn the_root_is_rounded_down_like_the_standard_library_s() {
    let near = (0..=u32::from(u16::MAX)).map(|root| root * root);
    let all = near.flat_map(|square| [square.saturating_sub(1), square, square + 1]);
    for value in all.chain([u32::MAX - 1, u32::MAX]) {
        assert_eq!(root(value), value.isqrt(), "{value}");
    }
}

fn square(value: f64) -> f64 {
    value * value
}

/// A filter of one state that wanders (R. E. Kalman, "A New Approach to Linear Filtering and Prediction Problems", 1960),
/// by floats: mean and variance. Noise of a dose is that of its step and 12 % of its size; what lies further out than
/// three deviations counts for less.
#[derive(Clone, Copy)]
struct Floats {
    mean: f64,
    variance: f64,
}

impl Floats {
    /// Ratios in thousandths.
    fn take(before: Option<Self>, seen: f64, noise: f64) -> Self {
        let Some(Self { mean, variance }) = before else {
            let variance = noise + square(0.12 * seen.abs());
            return Self {
                mean: seen,
                variance,
            };
        };
        let mut of_dose = noise + square(0.12 * f64::midpoint(seen.abs(), mean.abs()));
        let own = variance + 30.0 * 30.0;
        let off = seen - mean;
        let further = off * off / (9.0 * (own + of_dose));
        if further > 1.0 {
            of_dose *= further.floor() + 1.0;
        }
        Self {
            mean: mean + off * own / (own + of_dose),
            variance: own * of_dose / (own + of_dose),
        }
    }
}

#[test]
fn the_estimate_is_that_of_a_filter_by_floats() {
    // Steps of pH x 1e6, of 100,000 expected: also one that lies far out, one the wrong way, and one of another size.
    let doses = [
        (100_000, 90_000, 40_000_000),
        (100_000, 140_000, 40_000_000),
        (100_000, 60_000, 200_000_000),
        (100_000, 400_000, 40_000_000),
        (50_000, 40_000, 10_000_000),
        (100_000, -20_000, 900_000_000),
        (100_000, 95_000, 1_000_000),
    ];
    let mut estimate = Estimate::UNKNOWN;
    let mut floats = None;
    for (expected, step, variance) in doses {
        estimate.take(whole(expected), whole(step), whole(variance), 20);
        let seen = f64::from(step) / f64::from(expected) * 1000.0;
        let noise = f64::from(variance) / square(f64::from(expected)) * 1e6;
        let now = Floats::take(floats, seen, noise);
        // A share is rounded to a 1024th, and each step to a thousandth.
        let moved = floats.map_or(0.0, |before: Floats| seen - before.mean);
        let off = f64::from(estimate.ratio) - now.mean;
        assert!(
            off.abs() <= 6.0 + moved.abs() / 512.0,
            "{estimate:?}: {}",
            now.mean
        );
        let off = f64::from(estimate.variance) / now.variance - 1.0;
        assert!(off.abs() <= 0.01, "{estimate:?}: {}", now.variance);
        floats = Some(now);
    }
    assert_eq!(estimate.doses(), 7);
}

/// Of three doses, with a deviation of `deviation`.
fn found(ratio: i32, deviation: u32, verdict: Verdict) -> Estimate {
    Estimate {
        ratio,
        variance: deviation * deviation,
        doses: DOSES_MIN,
        verdict,
        ..Estimate::UNKNOWN
    }
}

#[test]
fn surely_is_past_two_deviations() {
    let below = |ratio| found(ratio, 50, Verdict::Learning).surely_below(1000);
    assert_eq!(
        [898, 899, 900, 960, 1101].map(below),
        [true, true, false, false, false]
    );
    let above = |ratio| found(ratio, 50, Verdict::Learning).surely_above(1000);
    assert_eq!(
        [1102, 1101, 1100, 1040, 899].map(above),
        [true, true, false, false, false]
    );
}

#[test]
fn each_verdict_at_its_edge() {
    use Verdict::{AsConfigured, FarTooMuch, High, Learning, Low, NoAnswer, Unproven, WrongWay};
    // Half way to half and double: 1000 / 1.414 and 1000 x 1.414. Deviations of 50 and 200.
    let rows = [
        (-201, 50, Learning, WrongWay),
        (-200, 50, Learning, NoAnswer),
        (-1, 50, Learning, NoAnswer),
        (0, 50, Learning, Low),
        (606, 50, Learning, Low),
        (607, 50, Learning, Learning),
        (706, 50, Learning, Learning),
        (808, 50, Learning, AsConfigured),
        (1313, 50, Learning, AsConfigured),
        (1314, 50, Learning, Learning),
        (1514, 50, Learning, Learning),
        (1515, 50, Learning, High),
        (4101, 50, Learning, FarTooMuch),
        // What was called stands until the ratio is back.
        (706, 200, Low, Low),
        (706, 200, NoAnswer, Low),
        (706, 200, WrongWay, Low),
        (706, 200, High, Learning),
        (707, 200, Low, Learning),
        (708, 200, Low, Learning),
        (1415, 200, High, High),
        (1415, 200, FarTooMuch, High),
        (1415, 200, Low, Learning),
        (1414, 200, High, Learning),
        (1413, 200, High, Learning),
        // Until it surely answers, what did not is not taken for a low rate.
        (200, 50, NoAnswer, NoAnswer),
        (201, 50, NoAnswer, Low),
        (200, 50, WrongWay, NoAnswer),
        (-200, 50, WrongWay, NoAnswer),
        (-1, 50, Unproven, NoAnswer),
        (0, 50, Unproven, Unproven),
        (200, 50, Unproven, Unproven),
        (201, 50, Unproven, Low),
        (4100, 2000, Unproven, Unproven),
        (1000, 50, Unproven, AsConfigured),
        // Neither surely above one nor surely below the other.
        (1000, 200, Learning, Learning),
        (1120, 200, Learning, Learning),
    ];
    for (ratio, deviation, was, now) in rows {
        let estimate = found(ratio, deviation, was);
        assert_eq!(estimate.judged(20), now, "{ratio} +- {deviation}, {was:?}");
    }
}

#[test]
fn three_doses_teach_and_two_do_not() {
    let high = found(1500, 50, Verdict::High);
    assert_eq!(high.learn(), 1500);
    let two = Estimate { doses: 2, ..high };
    assert_eq!(two.learn(), 1000);
    assert_eq!(two.judged(20), Verdict::High, "what was called stands");
}

#[test]
fn what_begins_anew_after_no_answer_is_unproven_and_teaches_nothing() {
    for was in [Verdict::NoAnswer, Verdict::WrongWay, Verdict::Unproven] {
        let mut estimate = found(0, 50, was);
        estimate.forget();
        assert_eq!(estimate.verdict(), Verdict::Unproven);
        assert_eq!(estimate.doses(), 0);
    }
    let mut estimate = found(500, 50, Verdict::Low);
    estimate.forget();
    assert_eq!(estimate.verdict(), Verdict::Learning);
    assert_eq!(found(1500, 700, Verdict::Unproven).learn(), 1000);
}

#[test]
fn a_test_that_changes_what_is_expected_by_a_tenth_begins_nothing_anew_and_by_more_does() {
    for (step, doses) in [(1100, 3), (900, 3), (1101, 0), (899, 0)] {
        let mut estimate = found(1000, 50, Verdict::AsConfigured);
        estimate.tested(step);
        assert_eq!((estimate.doses(), estimate.step_milli()), (doses, step));
    }
}

#[cfg(feature = "store")]
#[test]
fn only_figures_in_the_ranges_in_which_they_are_kept_are_sound() {
    let sound = |change: fn(&mut Estimate)| {
        let mut estimate = Estimate::UNKNOWN;
        change(&mut estimate);
        estimate.is_sound()
    };
    assert!(sound(|one| one.ratio = 20_000) && sound(|one| one.ratio = -20_000));
    assert!(!sound(|one| one.ratio = 20_001) && !sound(|one| one.ratio = i32::MIN));
    assert!(sound(|one| one.variance = VARIANCE_MAX) && !sound(|one| one.variance += 1));
    assert!(sound(|one| one.learned = 500) && sound(|one| one.learned = 2000));
    assert!(!sound(|one| one.learned = 499) && !sound(|one| one.learned = 2001));
    assert!(sound(|one| one.step = 250) && sound(|one| one.step = 4000));
    assert!(!sound(|one| one.step = 249) && !sound(|one| one.step = 4001));
}
