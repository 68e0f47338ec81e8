//! Plain SVG: bars to both sides of nothing, with how well each is known.

use core::fmt::Write;

use super::svg::{escape, open, tick_step};

const WIDTH: f64 = 1000.0;
/// Room for names at the left.
const LEFT: f64 = 230.0;
/// Room for figures at the right.
const RIGHT: f64 = 110.0;
const ROW: f64 = 24.0;
/// Height of the foot with the axis and its name.
const FOOT: f64 = 40.0;

/// A bar.
pub(crate) struct Bar<'a> {
    pub(crate) name: &'a str,
    /// Its class in the page's style.
    pub(crate) class: &'static str,
    pub(crate) value: f64,
    /// A standard deviation, drawn to both sides; zero: none.
    pub(crate) error: f64,
    /// The figure as it is shown at the right.
    pub(crate) shown: String,
}

/// Bars from nothing to either side. `axis` names the axis with its unit.
pub(crate) fn bars(title: &str, axis: &str, all: &[Bar<'_>]) -> String {
    let ends = all
        .iter()
        .flat_map(|bar| [bar.value - bar.error, bar.value + bar.error]);
    let (low, high) = ends
        .filter(|end| end.is_finite())
        .fold((0.0_f64, 0.0_f64), |(low, high), end| {
            (low.min(end), high.max(end))
        });
    let room = ((high - low) * 0.04).max(1e-3);
    let (low, high) = (low - room, high + room);
    let x = |value: f64| LEFT + (value - low) / (high - low) * (WIDTH - LEFT - RIGHT);
    let bottom = ROW * all.len() as f64;
    let mut out = open(bottom + FOOT, title);
    ticks(&mut out, (low, high), bottom, &x);
    let middle = f64::midpoint(LEFT, WIDTH - RIGHT);
    let _ = write!(
        out,
        "<text class=\"small\" text-anchor=\"middle\" x=\"{middle:.0}\" y=\"{:.0}\">{}</text>",
        bottom + FOOT - 6.0,
        escape(axis)
    );
    for (row, bar) in all.iter().enumerate() {
        one(&mut out, bar, ROW * row as f64, &x);
    }
    let zero = x(0.0);
    let _ = write!(
        out,
        "<line class=\"zero\" x1=\"{zero:.1}\" y1=\"0\" x2=\"{zero:.1}\" y2=\"{bottom:.0}\"/></svg>"
    );
    out
}

fn ticks(out: &mut String, (low, high): (f64, f64), bottom: f64, x: &dyn Fn(f64) -> f64) {
    let (step, digits) = tick_step(high - low);
    let mut tick = (low / step).ceil();
    while tick * step <= high {
        // Not -0.
        let value = tick * step + 0.0;
        let at = x(value);
        let _ = write!(
            out,
            "<line class=\"grid\" x1=\"{at:.1}\" y1=\"0\" x2=\"{at:.1}\" y2=\"{bottom:.0}\"/>\
             <text class=\"small\" text-anchor=\"middle\" x=\"{at:.1}\" y=\"{:.0}\">{value:.digits$}</text>",
            bottom + 15.0
        );
        tick += 1.0;
    }
}

fn one(out: &mut String, bar: &Bar<'_>, top: f64, x: &dyn Fn(f64) -> f64) {
    let (from, to) = (x(bar.value.min(0.0)), x(bar.value.max(0.0)));
    let middle = top + ROW / 2.0;
    let _ = write!(
        out,
        "<text x=\"0\" y=\"{:.0}\">{}</text>\
         <rect class=\"{}\" x=\"{from:.1}\" y=\"{:.0}\" width=\"{:.1}\" height=\"{:.0}\"/>\
         <text x=\"{:.0}\" y=\"{:.0}\">{}</text>",
        middle + 5.0,
        escape(bar.name),
        bar.class,
        top + 5.0,
        (to - from).max(0.5),
        ROW - 10.0,
        WIDTH - RIGHT + 8.0,
        middle + 5.0,
        escape(&bar.shown),
    );
    if bar.error > 0.0 {
        let (from, to) = (x(bar.value - bar.error), x(bar.value + bar.error));
        let _ = write!(
            out,
            "<path class=\"error\" d=\"M{from:.1} {:.0}V{:.0}M{from:.1} {middle:.0}H{to:.1}M{to:.1} {:.0}V{:.0}\"/>",
            top + 4.0,
            top + ROW - 4.0,
            top + 4.0,
            top + ROW - 4.0,
        );
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn bar(value: f64, error: f64) -> Bar<'static> {
        Bar {
            name: "acid <&>",
            class: "part",
            value,
            error,
            shown: format!("{value:+.2}"),
        }
    }

    #[test]
    fn less_goes_to_the_left_of_nothing_and_more_to_the_right() {
        let drawn = bars("pH", "pH", &[bar(-0.4, 0.0), bar(0.3, 0.1)]);
        let number = |part: &str, name: &str| -> f64 {
            let rest = part.split(&format!("{name}=\"")).nth(1).unwrap();
            rest.split('"').next().unwrap().parse().unwrap()
        };
        let zero = number(drawn.split("class=\"zero\"").nth(1).unwrap(), "x1");
        let rects: Vec<&str> = drawn.split("<rect ").skip(1).collect();
        let (less, more) = (rects[0], rects[1]);
        assert!((number(less, "x") + number(less, "width") - zero).abs() < 0.11);
        assert!((number(more, "x") - zero).abs() < 0.11);
        let share = number(less, "width") / number(more, "width");
        assert!((share - 4.0 / 3.0).abs() < 0.01, "{share}");
        assert_eq!(drawn.matches("class=\"error\"").count(), 1);
        assert!(!drawn.contains("<&>") && drawn.ends_with("</svg>"));
    }

    #[test]
    fn nothing_is_drawn_as_nothing() {
        for all in [&[][..], &[bar(0.0, 0.0)]] {
            let drawn = bars("pH", "pH", all);
            assert!(!drawn.contains("NaN") && !drawn.contains("inf"), "{drawn}");
        }
    }
}
