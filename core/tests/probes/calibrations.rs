//! Two-point calibration: slope, offset, refusals, and the forecast.

use dosewarden::guard::units::Millis;
use dosewarden::probe::{
    Age, Buffer, BufferReading, Calibration, CalibrationRefused, CentiCelsius, DueBy, Forecast,
    Microvolts, OFFSET_MAX, SLOPE_MAX_PPM, SLOPE_MIN_PPM, Settling, Trend,
};

use crate::rig::{in_buffer, nernst_uv, settled};

type Made = Result<Calibration, CalibrationRefused>;

/// A calibration of an electrode with this slope and offset, each buffer at its own temperature.
fn made(a: (Buffer, f64), b: (Buffer, f64), slope: f64, zero_uv: f64) -> Made {
    let a = in_buffer(a.0, a.1, slope, zero_uv)?;
    let b = in_buffer(b.0, b.1, slope, zero_uv)?;
    Calibration::two_point(&a, &b)
}

#[test]
fn slope_and_offset_are_found_at_any_temperatures_and_in_either_order() {
    let pairs = [
        (Buffer::Technical400, Buffer::Technical700),
        (Buffer::Phthalate401, Buffer::Phosphate686),
        (Buffer::Phosphate686, Buffer::Tetraborate918),
        (Buffer::Technical1001, Buffer::Technical700),
    ];
    for (a, b) in pairs {
        for (slope, zero_uv) in [(1.0, 0.0), (0.86, -25_000.0), (1.04, 29_000.0)] {
            for (warm, cold) in [(25.0, 25.0), (31.5, 12.0)] {
                let it = made((a, warm), (b, cold), slope, zero_uv).expect("accepted");
                let off = (f64::from(it.slope_ppm()) / 1e6 - slope).abs();
                assert!(off < 2e-5, "{a}, {b}: slope {}", it.slope_ppm());
                let off = (f64::from(it.zero().0) - zero_uv).abs();
                assert!(off < 5.0, "{a}, {b}: zero {}", it.zero().0);
            }
        }
    }
}

/// The value against the exact straight line, over the whole range of the electrode.
#[test]
fn the_value_is_within_its_bound() {
    let mut worst = 0.0_f64;
    for (slope, zero_uv) in [(0.851, -29_000.0), (1.0, 0.0), (1.049, 29_000.0)] {
        let buffers = ((Buffer::Technical400, 20.0), (Buffer::Technical700, 20.0));
        let it = made(buffers.0, buffers.1, slope, zero_uv).expect("accepted");
        for celsius in [0.0, 7.3, 25.0, 50.0] {
            let line = it.line(CentiCelsius((celsius * 100.0) as i32));
            for uv in (-500_000..=500_000).step_by(977) {
                let kept = f64::from(it.slope_ppm()) / 1e6 * nernst_uv(celsius);
                let exact = 7000.0 - (f64::from(uv) - f64::from(it.zero().0)) / kept * 1000.0;
                worst = worst.max((f64::from(line.ph(Microvolts(uv)).0) - exact).abs());
            }
        }
    }
    // Half a thousandth of rounding; the slope's own half microvolt is 0.1 more at 10 pH from 7.
    assert!(worst < 0.6, "off by {worst} thousandths of a pH");
}

#[test]
fn slope_from_85_to_105_percent_and_not_beyond() {
    let slope = |slope| {
        let buffers = ((Buffer::Technical400, 25.0), (Buffer::Technical700, 25.0));
        made(buffers.0, buffers.1, slope, 0.0).map(|it| it.slope_ppm() / 1000)
    };
    assert_eq!(slope(0.851), Ok(851));
    assert_eq!(slope(1.049), Ok(1049));
    // Past the bounds the sum of both readings speaks, or the weaker one alone.
    for bad in [0.845, 1.055, 0.5, 0.0, -1.0] {
        let refused = slope(bad).expect_err("refused");
        assert!(
            matches!(
                refused,
                CalibrationRefused::Slope { .. } | CalibrationRefused::NotThisBuffer { .. }
            ),
            "{bad}: {refused:?}"
        );
    }
    assert!(matches!(slope(0.845), Err(CalibrationRefused::Slope { ppm }) if ppm / 1000 == 845));
    let kept = |ppm| Calibration::restore(Microvolts(0), ppm, Age::NEW).is_ok();
    assert!(kept(SLOPE_MIN_PPM) && kept(SLOPE_MAX_PPM));
    assert!(!kept(SLOPE_MIN_PPM - 1) && !kept(SLOPE_MAX_PPM + 1) && !kept(u32::MAX));
}

#[test]
fn the_offset_is_bounded() {
    let buffers = ((Buffer::Technical400, 25.0), (Buffer::Technical700, 25.0));
    assert!(made(buffers.0, buffers.1, 1.0, 29_900.0).is_ok());
    let refused = made(buffers.0, buffers.1, 1.0, 30_200.0).expect_err("refused");
    assert!(matches!(
        refused,
        CalibrationRefused::Offset { .. } | CalibrationRefused::NotThisBuffer { .. }
    ));
    let at = CentiCelsius::from_whole(25);
    let reads =
        |uv| BufferReading::try_new(Buffer::Technical700, &settled(f64::from(uv)), at).is_ok();
    assert!(reads(OFFSET_MAX.0) && reads(-OFFSET_MAX.0));
    assert!(!reads(OFFSET_MAX.0 + 1) && !reads(-OFFSET_MAX.0 - 1));
    let kept = |uv| Calibration::restore(Microvolts(uv), 1_000_000, Age::NEW).is_ok();
    assert!(kept(OFFSET_MAX.0) && kept(-OFFSET_MAX.0));
    assert!(!kept(OFFSET_MAX.0 + 1) && !kept(-OFFSET_MAX.0 - 1) && !kept(i32::MIN));
}

#[test]
fn swapped_buffers_are_named() {
    // The bottle named 4 holds 7, and the other way round.
    for (named, real) in [
        (Buffer::Technical400, Buffer::Technical700),
        (Buffer::Technical700, Buffer::Technical400),
        (Buffer::Technical700, Buffer::Technical1001),
        (Buffer::Technical1001, Buffer::Technical400),
        (Buffer::Tetraborate918, Buffer::Phosphate686),
    ] {
        let at = CentiCelsius::from_whole(25);
        for (slope, zero_uv) in [(0.9, -12_000.0), (1.0, 0.0), (1.0, 12_000.0)] {
            let ph = f64::from(real.ph(at).expect("known").0) / 1000.0;
            let uv = zero_uv + slope * nernst_uv(25.0) * (7.0 - ph);
            let refused = BufferReading::try_new(named, &settled(uv), at).expect_err("refused");
            let CalibrationRefused::NotThisBuffer { looks_like, .. } = refused else {
                panic!("{named} for {real}: {refused:?}");
            };
            let like = looks_like.and_then(|b| b.ph(at)).map_or(0, |ph| ph.0);
            let is = real.ph(at).map_or(0, |ph| ph.0);
            assert!(
                (like - is).abs() <= 900,
                "{named} for {real}: {looks_like:?}"
            );
        }
    }
}

#[test]
fn one_buffer_twice_is_refused_whatever_it_is_called() {
    let close = |a, b| made((a, 25.0), (b, 25.0), 1.0, 0.0);
    let too_close = |made: Made| matches!(made, Err(CalibrationRefused::TooClose { .. }));
    assert!(too_close(close(Buffer::Technical700, Buffer::Technical700)));
    assert!(too_close(close(Buffer::Technical700, Buffer::Phosphate686)));
    assert!(too_close(close(
        Buffer::Tetraborate918,
        Buffer::Carbonate1002
    )));
    // Exactly 2: by their tables 7.09 at 5 C, and 9.09 between 9.10 at 35 C and 9.07 at 40 C.
    let pair = ((Buffer::Technical700, 5.0), (Buffer::Tetraborate918, 36.67));
    assert!(made(pair.0, pair.1, 1.0, 0.0).is_ok());
    // The same bottle under two names: the second reading contradicts its name.
    let at = CentiCelsius::from_whole(25);
    assert!(BufferReading::try_new(Buffer::Technical400, &settled(100.0), at).is_err());
}

#[test]
fn an_unstable_reading_and_an_unknown_temperature_are_refused() {
    let mut settling = Settling::NEW;
    for i in 0..120 {
        settling.push(Microvolts(170_000 + i * 20), Millis(1000));
    }
    let at = CentiCelsius::from_whole(25);
    let refused = BufferReading::try_new(Buffer::Technical400, &settling, at);
    assert!(matches!(refused, Err(CalibrationRefused::NotStill(_))));
    let hot = CentiCelsius::from_whole(41);
    let refused = BufferReading::try_new(Buffer::Technical400, &settled(177_000.0), hot);
    assert!(matches!(
        refused,
        Err(CalibrationRefused::Temperature { .. })
    ));
}

#[test]
fn each_refusal_says_why() {
    let at = CentiCelsius::from_whole(25);
    let named = BufferReading::try_new(Buffer::Technical400, &settled(0.0), at);
    assert_eq!(
        named.expect_err("refused").to_string(),
        "0 mV is no reading of buffer 4.00 (technical); it reads like buffer 7.00 (technical): are \
         they swapped?"
    );
    let slope = CalibrationRefused::Slope { ppm: 801_000 }.to_string();
    assert!(slope.starts_with("the slope is 80 % of what it should be; right is 85 to 105"));
}

/// A probe that loses 1 % of slope in 30 days, from 95 %.
#[test]
fn the_forecast_follows_the_last_calibrations() {
    let mut trend = Trend::NEW;
    let at = |ppm, zero| Calibration::restore(Microvolts(zero), ppm, Age::NEW).expect("in bounds");
    let first = at(950_000, 0);
    trend.push(&first, 0);
    let by_age = Forecast {
        by: DueBy::Age,
        days: 365,
    };
    assert_eq!(trend.forecast(&first, 365), by_age, "one point is no line");
    for step in 1..=5 {
        trend.push(&at(950_000 - step * 10_000, 0), 30 * 24);
    }
    let mut now = at(900_000, 0);
    let due = |now: &Calibration, trend: &Trend| {
        (trend.forecast(now, 365).by, trend.forecast(now, 365).days)
    };
    assert_eq!(due(&now, &trend), (DueBy::Slope, 150), "5 % at 1 % a month");
    assert_eq!(trend.forecast(&now, 150).by, DueBy::Age, "of two as soon");
    now.age = Age::from_days(20);
    assert_eq!(due(&now, &trend), (DueBy::Slope, 130));
    // An offset that walks by 5 mV a month reaches 30 sooner; days are rounded down.
    let mut trend = Trend::NEW;
    for step in 0..4 {
        trend.push(&at(950_000, -step * 5000), 30 * 24);
    }
    assert_eq!(due(&at(950_000, -15_000), &trend), (DueBy::Offset, 89));
    assert_eq!(trend.forecast(&at(950_000, -15_000), 60).by, DueBy::Age);
    // A slope that rises is no loss.
    let mut trend = Trend::NEW;
    trend.push(&at(950_000, 0), 0);
    trend.push(&at(960_000, 0), 720);
    assert_eq!(trend.forecast(&at(960_000, 0), 365), by_age);
}
