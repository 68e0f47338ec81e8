//! The report of a run: one page that needs nothing else, to be kept or sent on.

pub(crate) mod bars;
mod lanes;
mod svg;
pub(crate) mod tables;
mod water;
mod words;

use minijinja::value::{Serde, Value};
use minijinja::{Environment, context};
use serde::Serialize;

pub use crate::run::CAUTIONS;
use crate::run::RunResult;
use crate::scenario::{Scenario, words as plain};
use svg::Time;

const PAGE: &str = include_str!("../../templates/report.html");
/// What the pages have in common.
const BASE: &str = include_str!("../../templates/base.html");

/// An engine that knows what the pages have in common, and this page.
///
/// # Errors
/// What the template engine has to say.
pub(crate) fn engine<'a>(
    name: &'a str,
    template: &'a str,
) -> Result<Environment<'a>, minijinja::Error> {
    let mut engine = Environment::new();
    tables::taught(&mut engine)?;
    engine.add_template("base.html", BASE)?;
    engine.add_template(name, template)?;
    engine.add_filter("figure", |value: f64| crate::run::figure(value));
    engine.add_filter("time", |seconds: u64| plain::time(seconds * 1000));
    Ok(engine)
}

#[derive(Serialize)]
struct Drawing {
    title: String,
    /// The title does not stand in the drawing.
    has_heading: bool,
    svg: String,
    key: Vec<(&'static str, &'static str)>,
    /// What is drawn, for those who read it.
    words: Vec<String>,
}

/// The page. `command` is what repeats the run.
///
/// # Errors
/// What the template engine has to say; never for a result of this program.
pub fn page(
    scenario: &Scenario,
    result: &RunResult,
    command: &str,
) -> Result<String, minijinja::Error> {
    let engine = engine("report.html", PAGE)?;
    let start_ms = u64::from(scenario.plant.start_min) * 60_000;
    let to_ms = start_ms + scenario.run_ms();
    let time = Time {
        from_ms: start_ms,
        to_ms,
    };
    let selected = lanes::selected(scenario, result, time);
    let mut drawings: Vec<Drawing> = selected.into_iter().collect();
    drawings.extend(water::curves(scenario, &result.watch, time));
    drawings.extend(lanes::lanes(scenario, result, time));
    drawings.extend(water::caps_used(scenario, result, time));
    engine.get_template("report.html")?.render(context! {
        summary => Value::from(Serde(&result.summary)),
        drawings => Value::from(Serde(&drawings)),
        command,
        cautions => CAUTIONS,
    })
}
