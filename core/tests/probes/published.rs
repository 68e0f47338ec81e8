//! Nernst slope and buffers against values from outside.

use dosewarden::guard::units::MilliPh;
use dosewarden::probe::{Buffer, CentiCelsius, nernst_uv_per_ph};

/// R T ln 10 / F with CODATA 2018, mV.
fn nernst_mv(celsius: f64) -> f64 {
    8.314_462_618 * (celsius + 273.15) * core::f64::consts::LN_10 / 96_485.332_12 * 1000.0
}

#[test]
fn slopes_as_published_at_each_temperature() {
    // Computed from R, T and F; 59.16 at 25 C stands in every textbook.
    let published = [
        (0, 54.20),
        (10, 56.18),
        (20, 58.17),
        (25, 59.16),
        (30, 60.15),
        (40, 62.14),
        (50, 64.12),
    ];
    for (celsius, mv) in published {
        let slope = f64::from(nernst_uv_per_ph(CentiCelsius::from_whole(celsius))) / 1000.0;
        assert!((slope - mv).abs() < 0.006, "{celsius} C: {slope}");
    }
}

#[test]
fn slopes_within_the_stated_bound_from_0_to_50_c() {
    let error = |centi: i32| {
        let exact = nernst_mv(f64::from(centi) / 100.0) * 1000.0;
        (f64::from(nernst_uv_per_ph(CentiCelsius(centi))) - exact).abs()
    };
    let worst = (0..=5000).map(error).fold(0.0, f64::max);
    assert!(worst <= 0.51, "off by {worst} uV");
    assert!(
        worst > 0.4,
        "the bound is no longer what is measured: {worst}"
    );
}

fn ph(buffer: Buffer, centi: i32) -> Option<i32> {
    buffer.ph(CentiCelsius(centi)).map(|MilliPh(ph)| ph)
}

/// JIS Z 8802, and the usual table of technical buffers 4, 7 and 10, pH at 5, 10, ... 40 C.
#[test]
fn buffers_as_their_tables_say() {
    let rows: [(Buffer, [f64; 8]); 7] = [
        (
            Buffer::Phthalate401,
            [4.01, 4.00, 4.00, 4.00, 4.01, 4.01, 4.02, 4.03],
        ),
        (
            Buffer::Phosphate686,
            [6.95, 6.92, 6.90, 6.88, 6.86, 6.85, 6.84, 6.84],
        ),
        (
            Buffer::Tetraborate918,
            [9.39, 9.33, 9.27, 9.22, 9.18, 9.14, 9.10, 9.07],
        ),
        (
            Buffer::Carbonate1002,
            [10.25, 10.18, 10.12, 10.07, 10.02, 9.97, 9.93, f64::NAN],
        ),
        (
            Buffer::Technical400,
            [4.00, 4.00, 4.00, 4.00, 4.00, 4.01, 4.02, 4.03],
        ),
        (
            Buffer::Technical700,
            [7.09, 7.06, 7.04, 7.02, 7.00, 6.99, 6.99, 6.98],
        ),
        (
            Buffer::Technical1001,
            [10.25, 10.18, 10.12, 10.06, 10.01, 9.97, 9.93, 9.89],
        ),
    ];
    for (buffer, values) in rows {
        for (celsius, value) in (1..=8).map(|i| i * 5).zip(values) {
            let milli = (!value.is_nan()).then_some((value * 1000.0).round() as i32);
            assert_eq!(ph(buffer, celsius * 100), milli, "{buffer} at {celsius} C");
        }
    }
}

/// Primary standards of the US bureau of standards (SP 260-53), to 0.001; from memory.
#[test]
fn buffers_agree_with_the_primary_standards() {
    let rows: [(Buffer, [f64; 7]); 4] = [
        (
            Buffer::Phthalate401,
            [3.998, 3.999, 4.002, 4.008, 4.015, 4.024, 4.035],
        ),
        (
            Buffer::Phosphate686,
            [6.923, 6.900, 6.881, 6.865, 6.853, 6.844, 6.838],
        ),
        (
            Buffer::Tetraborate918,
            [9.332, 9.276, 9.225, 9.180, 9.139, 9.102, 9.068],
        ),
        (
            Buffer::Carbonate1002,
            [10.179, 10.118, 10.062, 10.012, 9.966, 9.925, f64::NAN],
        ),
    ];
    for (buffer, values) in rows {
        for (celsius, value) in (2..=8).map(|i| i * 5).zip(values) {
            let Some(ours) = ph(buffer, celsius * 100) else {
                assert!(value.is_nan());
                continue;
            };
            let off = f64::from(ours) / 1000.0 - value;
            assert!(off.abs() <= 0.011, "{buffer} at {celsius} C: {off:+.3}");
        }
    }
}

#[test]
fn between_the_steps_a_straight_line_and_nothing_outside_the_table() {
    assert_eq!(ph(Buffer::Technical700, 1250), Some(7050));
    assert_eq!(ph(Buffer::Technical700, 1001), Some(7060));
    assert_eq!(ph(Buffer::Tetraborate918, 2499), Some(9180));
    for buffer in Buffer::ALL {
        let last = if buffer == Buffer::Carbonate1002 {
            3500
        } else {
            4000
        };
        assert!(ph(buffer, 500).is_some() && ph(buffer, last).is_some());
        assert_eq!(
            [ph(buffer, 499), ph(buffer, last + 1)],
            [None, None],
            "{buffer}"
        );
        assert_eq!(ph(buffer, i32::MIN), None);
    }
}
