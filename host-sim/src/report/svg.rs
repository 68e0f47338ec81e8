//! Plain SVG: curves over time and lanes of stretches. No script, no style from elsewhere.

use core::fmt::Write;

/// Width of a drawing.
const WIDTH: f64 = 1000.0;
/// Room for names at the left.
const LEFT: f64 = 170.0;
/// Room at the right.
const RIGHT: f64 = 10.0;
/// Height of a curve's field.
const FIELD: f64 = 150.0;
/// Height of a lane.
const LANE: f64 = 18.0;
/// Height of the foot with the days.
const FOOT: f64 = 18.0;
/// Letters of a curve's name beside the figures of its axis: what is longer goes on below.
const TITLE_LETTERS: usize = 16;
/// Letters of a lane's name; what is longer is drawn closer.
const NAME_LETTERS: usize = 25;
/// Curves have at most this many steps across; each keeps its lowest and highest value.
const STEPS: usize = 830;

/// The time that a drawing spans, ms from midnight before day 1.
#[derive(Clone, Copy, Debug)]
pub(super) struct Time {
    pub(super) from_ms: u64,
    pub(super) to_ms: u64,
}

impl Time {
    fn x(self, ms: u64) -> f64 {
        let span = (self.to_ms - self.from_ms).max(1) as f64;
        let share = ms
            .clamp(self.from_ms, self.to_ms)
            .saturating_sub(self.from_ms) as f64
            / span;
        LEFT + share * (WIDTH - LEFT - RIGHT)
    }
}

/// A curve with its class in the page's style.
pub(super) struct Curve<'a> {
    pub(super) class: &'static str,
    pub(super) points: &'a [(u64, f64)],
}

/// How stretches are drawn, so that they are told apart without colour.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Shape {
    /// As high as the lane.
    Full,
    /// The lower half of it.
    Low,
    /// Its outline alone.
    Hollow,
    /// A line in its middle.
    Thin,
    /// A line at its foot.
    Foot,
}

impl Shape {
    /// Where it begins below the lane's top, and how high it is.
    const fn place(self) -> (f64, f64) {
        match self {
            Self::Full => (3.0, LANE - 5.0),
            Self::Low => (LANE / 2.0, LANE / 2.0 - 2.0),
            Self::Hollow => (3.5, LANE - 6.0),
            Self::Thin => (LANE / 2.0 - 1.5, 3.0),
            Self::Foot => (LANE - 2.0, 2.0),
        }
    }
}

/// Stretches of one kind, each with a word for the pointer that rests on it.
pub(super) struct Part {
    pub(super) class: &'static str,
    pub(super) shape: Shape,
    pub(super) spans: Vec<(u64, u64, String)>,
}

/// A row of stretches; parts that come later lie over those before.
pub(super) struct Lane {
    pub(super) name: String,
    pub(super) parts: Vec<Part>,
}

/// Text that may stand in SVG.
pub(super) fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '&' => out.push_str("&amp;"),
            '"' => out.push_str("&quot;"),
            c => out.push(c),
        }
    }
    out
}

pub(super) fn open(height: f64, label: &str) -> String {
    format!(
        "<svg viewBox=\"0 0 {WIDTH} {height:.0}\" role=\"img\" aria-label=\"{}\">",
        escape(label)
    )
}

/// What the number of a day takes at most, in the picture's units.
const DAY_LABEL: f64 = 48.0;

/// Upright lines at midnight, with the day's number at the foot when there are not too many.
fn days(out: &mut String, time: Time, height: f64) {
    const DAY_MS: u64 = 86_400_000;
    let all = (time.to_ms - time.from_ms) / DAY_MS;
    let each = time.x(time.from_ms + DAY_MS) - time.x(time.from_ms);
    // So far apart that no number runs into the next.
    let apart = (DAY_LABEL / each.max(1.0)).ceil() as u64;
    let every = (all / 14).max(apart).max(1);
    let mut day = time.from_ms.div_ceil(DAY_MS);
    while day * DAY_MS <= time.to_ms {
        if day.is_multiple_of(every) {
            let x = time.x(day * DAY_MS);
            let bottom = height - FOOT;
            let _ = write!(
                out,
                "<line class=\"grid\" x1=\"{x:.1}\" y1=\"0\" x2=\"{x:.1}\" y2=\"{bottom:.0}\"/>"
            );
            let fits = x + DAY_LABEL <= WIDTH;
            if fits && (day + 1) * DAY_MS <= time.to_ms {
                let (x, y, day) = (x + 3.0, height - 5.0, day + 1);
                let _ = write!(
                    out,
                    "<text class=\"small\" x=\"{x:.1}\" y=\"{y:.0}\">day {day}</text>"
                );
            }
        }
        day += 1;
    }
}

/// At most two points a step: the lowest and the highest, in their order.
fn thinned(points: &[(u64, f64)]) -> Vec<(u64, f64)> {
    if points.len() <= 2 * STEPS {
        return points.to_vec();
    }
    let mut out = Vec::with_capacity(2 * STEPS);
    for step in points.chunks(points.len().div_ceil(STEPS)) {
        let low = step.iter().min_by(|a, b| a.1.total_cmp(&b.1));
        let high = step.iter().max_by(|a, b| a.1.total_cmp(&b.1));
        if let (Some(low), Some(high)) = (low, high) {
            let (first, second) = if low.0 <= high.0 {
                (low, high)
            } else {
                (high, low)
            };
            out.push(*first);
            if first.0 != second.0 {
                out.push(*second);
            }
        }
    }
    out
}

/// A round step that cuts `span` into three to seven, and the digits that show it.
pub(super) fn tick_step(span: f64) -> (f64, usize) {
    let mut decade = 1.0e-3;
    let mut digits = 3;
    while span / decade > 70.0 && decade < 1.0e6 {
        decade *= 10.0;
        digits -= usize::from(digits > 0);
    }
    let step = [1.0, 2.0, 5.0, 10.0]
        .into_iter()
        .find(|step| span / (step * decade) <= 7.0);
    let step = step.unwrap_or(10.0);
    (
        step * decade,
        digits - usize::from(step == 10.0 && digits > 0),
    )
}

/// Curves over time with a band that is wanted.
pub(super) fn curves(
    title: &str,
    time: Time,
    band: Option<(f64, f64)>,
    all: &[Curve<'_>],
) -> String {
    let values = all
        .iter()
        .flat_map(|curve| curve.points.iter().map(|point| point.1));
    let ends = band.into_iter().flat_map(|(low, high)| [low, high]);
    let (low, high) = values
        .chain(ends)
        .filter(|value| value.is_finite())
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| {
            (l.min(v), h.max(v))
        });
    let (low, high) = if low <= high { (low, high) } else { (0.0, 1.0) };
    // What never moves is a level line, not thousandths of it.
    let room = ((high - low) * 0.08)
        .max(low.abs().max(high.abs()) * 0.01)
        .max(1e-3);
    let (low, high) = (low - room, high + room);
    let y = |value: f64| 4.0 + (high - value) / (high - low) * (FIELD - 8.0);
    let height = FIELD + FOOT;
    let mut out = open(height, title);
    if let Some((from, to)) = band {
        let (top, deep) = (y(to), y(from) - y(to));
        let across = WIDTH - LEFT - RIGHT;
        let _ = write!(
            out,
            "<rect class=\"band\" x=\"{LEFT}\" y=\"{top:.1}\" width=\"{across}\" height=\"{deep:.1}\"/>"
        );
    }
    days(&mut out, time, height);
    let (step, digits) = tick_step(high - low);
    let mut tick = (low / step).ceil();
    while tick * step <= high {
        // Not -0.
        let value = tick * step + 0.0;
        let (at, x) = (y(value), LEFT - 6.0);
        let _ = write!(
            out,
            "<line class=\"grid\" x1=\"{LEFT}\" y1=\"{at:.1}\" x2=\"{:.0}\" y2=\"{at:.1}\"/>",
            WIDTH - RIGHT
        );
        let _ = write!(
            out,
            "<text class=\"small\" text-anchor=\"end\" x=\"{x:.0}\" y=\"{:.1}\">{value:.digits$}</text>",
            at + 4.0
        );
        tick += 1.0;
    }
    for (row, line) in broken(title).iter().enumerate() {
        name(&mut out, "", 16.0 + 17.0 * row as f64, line, TITLE_LETTERS);
    }
    for curve in all {
        let mut path = String::new();
        for (ms, value) in thinned(curve.points) {
            let letter = if path.is_empty() { 'M' } else { 'L' };
            let _ = write!(path, "{letter}{:.1} {:.1}", time.x(ms), y(value));
        }
        let _ = write!(out, "<path class=\"{}\" d=\"{path}\"/>", curve.class);
    }
    out.push_str("</svg>");
    out
}

/// A name in lines of at most [`TITLE_LETTERS`], broken at spaces where it has any.
fn broken(title: &str) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in title.split(' ') {
        match lines.last_mut() {
            Some(line) if line.chars().count() + 1 + word.chars().count() <= TITLE_LETTERS => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(word.to_owned()),
        }
    }
    lines
}

/// A name at the left edge. One of more letters than there is room for is drawn closer, and over nothing else.
fn name(out: &mut String, class: &str, y: f64, text: &str, letters: usize) {
    let class = match class {
        "" => String::new(),
        some => format!(" class=\"{some}\""),
    };
    let room = if letters == TITLE_LETTERS {
        LEFT - 50.0
    } else {
        LEFT - 8.0
    };
    let close = match text.chars().count() > letters {
        true => format!(" textLength=\"{room:.0}\" lengthAdjust=\"spacingAndGlyphs\""),
        false => String::new(),
    };
    let text = escape(text);
    let _ = write!(
        out,
        "<text{class} x=\"0\" y=\"{y:.0}\"{close}>{text}</text>"
    );
}

/// Stretches nearer to each other than half a dot are drawn as one.
fn joined(part: &Part, time: Time) -> Vec<(f64, f64, &str)> {
    let mut out: Vec<(f64, f64, &str)> = Vec::new();
    for (from, to, word) in &part.spans {
        let (left, right) = (time.x(*from), time.x(*to));
        match out.last_mut() {
            Some(last) if left - last.1 < 0.5 => last.1 = right.max(last.1),
            _ => out.push((left, right, word)),
        }
    }
    out
}

/// Lanes over time.
pub(super) fn lanes(title: &str, time: Time, all: &[Lane]) -> String {
    let height = LANE * all.len() as f64 + FOOT;
    let mut out = open(height, title);
    days(&mut out, time, height);
    for (row, lane) in all.iter().enumerate() {
        let top = LANE * row as f64;
        name(&mut out, "small", top + 13.0, &lane.name, NAME_LETTERS);
        for part in &lane.parts {
            stretches(&mut out, part, top, time);
        }
    }
    out.push_str("</svg>");
    out
}

fn stretches(out: &mut String, part: &Part, top: f64, time: Time) {
    let (below, high) = part.shape.place();
    for (left, right, word) in joined(part, time) {
        let wide = (right - left).max(1.0);
        let _ = write!(
            out,
            "<rect class=\"{}\" x=\"{left:.1}\" y=\"{:.1}\" width=\"{wide:.1}\" height=\"{high:.1}\"><title>{}</title></rect>",
            part.class,
            top + below,
            escape(word),
        );
    }
}

#[cfg(test)]
mod tests;
