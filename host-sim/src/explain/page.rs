//! The page of an explanation: one file that needs nothing else.

use minijinja::context;
use minijinja::value::{Serde, Value};
use serde::Serialize;

use super::Explained;
use crate::report::bars::{Bar, bars};
use crate::visit::CAUTIONS;

const PAGE: &str = include_str!("../../templates/explain.html");

/// What was tested: its name, the name of its axis, and places that are shown.
const TESTED: [(&str, &str, usize); 3] = [
    ("pH", "pH, moved by", 2),
    ("alkalinity", "alkalinity as CaCO3, mg/L, moved by", 1),
    ("free chlorine", "free chlorine, mg/L, moved by", 1),
];

#[derive(Serialize)]
struct Row {
    name: String,
    kind: &'static str,
    figures: [String; 3],
}

/// A figure with its sign, and none where it is nothing.
fn moved(value: f64, places: usize) -> String {
    let shown = format!("{value:+.places$}");
    if shown.trim_start_matches(['+', '-']).parse() == Ok(0.0) {
        format!("{:.places$}", 0.0)
    } else {
        shown
    }
}

/// Sources that moved something, as the text shows them.
fn parts(found: &Explained) -> Vec<(&'static str, [f64; 3])> {
    let all = found.parts.iter().map(|part| {
        let moved = [part.ph, part.alkalinity_mg_l, part.chlorine_mg_l];
        (part.source.words(), moved)
    });
    all.filter(|(_, moved)| moved.iter().any(|one| one.abs() >= 0.005))
        .collect()
}

fn rows(found: &Explained) -> Vec<Row> {
    let row = |name: &str, kind, figures: [String; 3]| Row {
        name: name.to_owned(),
        kind,
        figures,
    };
    let plain =
        |values: [f64; 3]| core::array::from_fn(|at| format!("{:.*}", TESTED[at].2, values[at]));
    let signed = |values: [f64; 3]| core::array::from_fn(|at| moved(values[at], TESTED[at].2));
    let [before, now] = found.tested;
    let mut all = vec![row("first test", "test", plain(before))];
    for (name, values) in parts(found) {
        all.push(row(name, "", signed(values)));
    }
    let rest = |at: usize| {
        let (rest, places) = (&found.rest[at], TESTED[at].2);
        let (value, error) = (moved(rest.value, places), rest.error);
        format!("{value} \u{b1} {error:.places$}")
    };
    all.push(row("not explained", "rest", core::array::from_fn(rest)));
    all.push(row("second test", "test", plain(now)));
    all
}

/// A chart of each figure: what each source moved, and the remainder with its standard deviation.
fn charts(found: &Explained) -> Vec<(&'static str, String)> {
    let figures = if found.without_chlorine { 2 } else { 3 };
    let chart = |at: usize| {
        let (name, axis, places) = TESTED[at];
        let mut all: Vec<Bar<'_>> = parts(found)
            .into_iter()
            .map(|(name, values)| Bar {
                name,
                class: "part",
                value: values[at],
                error: 0.0,
                shown: moved(values[at], places),
            })
            .collect();
        let rest = &found.rest[at];
        all.push(Bar {
            name: "not explained",
            class: "rest",
            value: rest.value,
            error: rest.error,
            shown: format!(
                "{} \u{b1} {:.places$}",
                moved(rest.value, places),
                rest.error
            ),
        });
        (name, bars(&format!("{name}: what moved it"), axis, &all))
    };
    (0..figures).map(chart).collect()
}

/// The page. `command` is what makes it again.
///
/// # Errors
/// What the template engine has to say; never for a result of this program.
pub fn page(found: &Explained, command: &str) -> Result<String, minijinja::Error> {
    let probe = found.probe_words();
    let probe = probe.map(|(moved, stands)| [Some(moved), stands]);
    let engine = crate::report::engine("explain.html", PAGE)?;
    engine.get_template("explain.html")?.render(context! {
        found => Value::from(Serde(found)),
        certain => found.is_certain,
        conclusion => found.conclusion(),
        is_quiet => found.suspects.is_empty() && found.rest_size <= super::fit::NOTHING,
        rows => Value::from(Serde(&rows(found))),
        charts => charts(found),
        probe => probe.into_iter().flatten().flatten().collect::<Vec<String>>(),
        cautions => CAUTIONS,
        command,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_has_no_sign() {
        assert_eq!(moved(-0.004, 2), "0.00");
        assert_eq!(moved(0.04, 1), "0.0");
        assert_eq!(moved(-0.05, 2), "-0.05");
        assert_eq!(moved(2.0, 1), "+2.0");
    }
}
