//! How pH would have gone without a dose, against floats.

use super::*;

/// Two slopes weighted by their inverse variances, and the variance of that mean (any textbook on statistics); and the
/// variance of a change at an unknown moment, evenly between two: 1/12 of its square.
#[test]
fn the_drift_is_the_weighted_mean_of_both_slopes() {
    let fit = |slope, slope_variance| Fit {
        level: 0,
        slope,
        level_variance: 0,
        slope_variance,
    };
    for (before, after) in [
        (fit(20_000, 200_000), fit(-4000, 50_000)),
        (fit(-30_000, 10_000), fit(-10_000, 900_000)),
        (fit(5000, 400_000), fit(9000, 400_000)),
    ] {
        let drift = Drift::of(&before, &after);
        let of = |fit: &Fit| f64::from(fit.slope_variance) * 1024.0 + 1e8;
        let (b, a) = (of(&before), of(&after));
        let (sb, sa) = (f64::from(before.slope), f64::from(after.slope));
        let slope = (sb / b + sa / a) / (1.0 / b + 1.0 / a);
        let variance = 1.0 / (1.0 / b + 1.0 / a) + (sb - sa) * (sb - sa) / 12.0;
        let near = |ours: Whole, exact: f64| (ours.0 as f64 - exact).abs() <= exact.abs() / 200.0;
        assert!(near(drift.slope, slope), "{}: {slope}", drift.slope);
        assert!(
            near(drift.variance, variance),
            "{}: {variance}",
            drift.variance
        );
        let (drifted, variance_then) = drift.over(Saturating(5_400_000)); // an hour and a half
        assert!(near(drifted, slope * 1.5), "{drifted}: {slope}");
        assert!(
            near(variance_then, variance * 2.25),
            "{variance_then}: {variance}"
        );
    }
}

/// Follows readings; a dose of 50 mL waits, given at 7.6.
fn waits(level_variance: u32) -> Response {
    let mut response = Response::START;
    response.base = Some(7400);
    for step in 0..=100 {
        response.block.add(step, 0);
    }
    response.before = Before::Dose(Pending {
        before: Fit {
            level: 0,
            slope: 0,
            level_variance,
            slope_variance: 0,
        },
        since: Millis(0),
        fed: Dose::from_ml(50),
        base: 7500,
        ph: 7600,
    });
    response
}

/// A tick of a second in which nothing comes and nothing runs.
const SEEN: Seen = Seen {
    elapsed: Millis(1000),
    ph: None,
    runs: false,
    closed: None,
    other: Dose(0),
    product: Product::Acid,
    is_disturbed: false,
    warmth_milli: 1000,
};

#[test]
fn an_answer_is_measured_by_what_is_expected_in_the_middle_of_its_step_and_by_the_noise_of_both_lines()
 {
    let expected = ExpectedResponse {
        more_per_tenth_percent: 30,
        ..EXPECTED
    };
    let mut response = waits(400_000_000);
    response.judge(7400, &SEEN, &expected);
    // From 7.5 to 7.4, which acid moves down.
    let wanted = expected.of_fed(Dose::from_ml(50), whole(7500), 1000).0 as f64;
    let ratio = 100_000.0 / wanted;
    let estimate = response.estimate();
    let found = f64::from(estimate.ratio_milli().unwrap()) / 1000.0;
    assert!((found / ratio - 1.0).abs() < 0.002, "{found}: {ratio}");
    // Of the level before, and 12 % of the dose; the line after and the drift of no time add little.
    let deviation = (4e8 / (wanted * wanted) + 0.12 * 0.12 * ratio * ratio).sqrt();
    let found = f64::from(estimate.deviation_milli()) / 1000.0;
    assert!(
        (found / deviation - 1.0).abs() < 0.01,
        "{found}: {deviation}"
    );
}

#[test]
fn where_nothing_is_expected_nothing_is_learned() {
    let mut response = waits(0);
    let expected = ExpectedResponse {
        moves: 0,
        ..EXPECTED
    };
    response.judge(7400, &SEEN, &expected);
    assert_eq!(response.estimate(), &Estimate::UNKNOWN);
}

#[test]
fn a_dose_waits_up_to_its_time_and_not_past_it() {
    let seen = Seen {
        ph: Some(7400),
        ..SEEN
    };
    let mut response = waits(0);
    response.pending().unwrap().since = Millis(WAIT_MAX.0 - 1000);
    response.step(&seen, &EXPECTED);
    assert!(response.pending().is_some());
    response.step(&seen, &EXPECTED);
    assert!(response.pending().is_none());
}

#[test]
fn what_hypochlorite_raises_is_worked_out_where_lines_begin_and_a_reading_far_off_begins_them_anew()
{
    let seen = SEEN;
    let read = |base, before: Before, ph| {
        let mut response = Response {
            base,
            before,
            raises: 123,
            ..Response::START
        };
        response.read(ph, &seen, &EXPECTED);
        (response.base, response.raises)
    };
    let dose = waits(0).before;
    assert_ne!(read(None, Before::NOTHING, 7400).1, 123);
    assert_eq!(
        read(None, dose, 7400),
        (Some(7400), 123),
        "while one waits it stands"
    );
    assert_eq!(
        read(Some(7000), Before::NOTHING, 7000 + FAR),
        (Some(7000), 123)
    );
    assert_eq!(read(Some(7000), Before::NOTHING, 7001 + FAR).0, None);
}

#[test]
fn lines_that_begin_take_nothing_from_the_block_before() {
    let mut response = waits(0);
    response.before = Before::Block(response.block);
    response.begin_lines();
    assert_eq!(response, Response::START);
}

#[test]
fn hypochlorite_counts_as_fed_for_as_long_as_its_drive_may_run() {
    use crate::bench::{Bench, CHLORINE, SETTINGS_SPEC};
    let mut bench = Bench::usual();
    let spec = crate::settings::SettingsSpec {
        response: Fitted::Fitted(EXPECTED),
        ..SETTINGS_SPEC
    };
    let settings = crate::settings::Settings::try_new(spec).unwrap();
    bench.controller.set_settings(settings);
    bench.water(7400, 650);
    bench.until(700, |shown| shown.feeds(1));
    let other = |bench: &Bench| bench.controller.around.response.other.0;
    let before = other(&bench);
    bench.tick();
    let second = CHLORINE.rate.dose_ceil(Millis(1000)).0;
    assert_eq!(other(&bench), before + second);
}
