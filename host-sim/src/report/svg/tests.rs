//! Pictures: what is thinned, labelled and drawn.

use super::*;

const WEEK: Time = Time {
    from_ms: 0,
    to_ms: 7 * 86_400_000,
};

#[test]
fn thinning_keeps_the_extremes() {
    let mut points: Vec<(u64, f64)> = (0..100_000).map(|n| (n * 1000, 7.4)).collect();
    points[40_001].1 = 8.5;
    points[70_001].1 = 6.1;
    let thin = thinned(&points);
    assert!(thin.len() <= 2 * STEPS);
    assert!(thin.iter().any(|p| p.1 == 8.5) && thin.iter().any(|p| p.1 == 6.1));
    assert!(thin.is_sorted_by_key(|p| p.0));
}

/// The words of a picture.
fn labels(svg: &str) -> Vec<&str> {
    let texts = svg.split("<text ").skip(1);
    texts
        .filter_map(|text| text.split(['>', '<']).nth(1))
        .collect()
}

#[test]
fn a_level_line_nothing_and_a_last_day_are_labelled_so_that_they_can_be_read() {
    let time = |days: u64| Time {
        from_ms: 0,
        to_ms: days * 86_400_000,
    };
    let curve = |days: u64, values: [f64; 2]| {
        let points = [(0, values[0]), (days * 86_400_000, values[1])];
        let one = Curve {
            class: "true",
            points: &points,
        };
        curves("temperature, C", time(days), None, &[one])
    };
    let svg = curve(3, [26.0, 26.0]);
    let told = labels(&svg);
    assert!(
        told.contains(&"26.0") && !told.contains(&"26.001"),
        "{told:?}"
    );
    let svg = curve(3, [0.0, 3.0]);
    let told = labels(&svg);
    assert!(told.contains(&"0.0") && !told.contains(&"-0.0"), "{told:?}");
    // The last label of 127 days would end outside of the picture.
    let svg = curve(127, [0.0, 3.0]);
    let told = labels(&svg);
    assert!(
        told.contains(&"day 118") && !told.contains(&"day 127"),
        "{told:?}"
    );
    // Each of 21 would run into the next.
    let svg = curve(21, [0.0, 3.0]);
    let told = labels(&svg);
    assert!(
        told.contains(&"day 3") && !told.contains(&"day 2"),
        "{told:?}"
    );
    let svg = curve(3, [0.0, 3.0]);
    assert!(labels(&svg).contains(&"day 3") && labels(&svg).contains(&"day 2"));
}

#[test]
fn ticks_are_round_and_few() {
    for span in [0.01, 0.05, 0.72, 1.2, 5.0, 168.0, 7_000.0] {
        let (step, digits) = tick_step(span);
        assert!((2.0..=7.0).contains(&(span / step)), "{span}: {step}");
        let shown = format!("{step:.digits$}");
        assert_eq!(
            shown.parse::<f64>().ok().map(|s| (s - step).abs() < 1e-9),
            Some(true)
        );
    }
}

#[test]
fn names_cannot_break_out() {
    let lane = Lane {
        name: "<b>\"x\"".to_owned(),
        parts: vec![],
    };
    let drawn = lanes("t", WEEK, &[lane]);
    assert!(drawn.contains("&lt;b&gt;&quot;x&quot;") && !drawn.contains("<b>"));
}

#[test]
fn no_axis_shows_minus_nothing() {
    let points = [(0, -0.05), (3_600_000, 1.0)];
    let curve = Curve {
        class: "true",
        points: &points,
    };
    let drawn = curves("free chlorine", WEEK, None, &[curve]);
    assert!(drawn.contains(">0.0</text>"), "{drawn}");
    assert!(!drawn.contains(">-0"), "{drawn}");
}

#[test]
fn nothing_to_draw_is_drawn() {
    let drawn = curves(
        "pH",
        WEEK,
        None,
        &[Curve {
            class: "true",
            points: &[],
        }],
    );
    assert!(drawn.starts_with("<svg") && drawn.ends_with("</svg>"));
    assert!(!drawn.contains("NaN") && !drawn.contains("inf"));
}

/// "chlorine: last 24 h, mL" stood over the uppermost figure of its axis. A letter of 14 px is some 7.4 wide on average
/// (measured in a browser), the widest figure 36.
#[test]
fn a_long_name_stands_over_no_figure_and_over_no_stretch() {
    let points = [(0, 0.0), (3_600_000, 10_000.0)];
    let class = "true";
    let drawn = |title: &str| {
        let points = &points;
        curves(title, WEEK, None, &[Curve { class, points }])
    };
    for (title, lines) in [
        ("pH", &["pH"][..]),
        (
            "chlorine: last 24 h, mL",
            &["chlorine: last", "24 h, mL"][..],
        ),
        ("free chlorine, mg/L", &["free chlorine,", "mg/L"]),
    ] {
        let svg = drawn(title);
        let told = labels(&svg);
        assert!(lines.iter().all(|line| told.contains(line)), "{told:?}");
        assert!(lines.len() == 1 || !told.contains(&title), "{told:?}");
        assert!(!svg.contains("textLength"), "{svg}");
        let widest = lines.iter().map(|line| line.len()).max().unwrap_or(0);
        assert!(widest as f64 * 7.4 < LEFT - 6.0 - 36.0, "{title}");
    }
    // One word that has no place to be broken, and a lane's name that has no second line: drawn closer.
    assert!(drawn("hypochlorite_of_the_spa").contains("textLength=\"120\""));
    let named = |name: &str| {
        let name = name.to_owned();
        let parts = Vec::new();
        lanes("t", WEEK, &[Lane { name, parts }])
    };
    assert!(!named("refused: power_on_delay").contains("textLength"));
    assert!(named("spa hypochlorite: answer_missing").contains("textLength=\"162\""));
}
