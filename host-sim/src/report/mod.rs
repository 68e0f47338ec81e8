//! The report of a run: one page that needs nothing else, to be kept or sent on.

mod svg;
mod water;

use minijinja::value::{Serde, Value};
use minijinja::{Environment, context};
use serde::Serialize;

use crate::plant::Product;
pub use crate::run::CAUTIONS;
use crate::run::RunResult;
use crate::scenario::clock;
use crate::scenario::{Scenario, words};
use svg::{Lane, Time};

const PAGE: &str = include_str!("../../templates/report.html");

#[derive(Serialize)]
struct Drawing {
    title: String,
    svg: String,
    key: Vec<(&'static str, &'static str)>,
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
    let mut engine = Environment::new();
    engine.add_template("report.html", PAGE)?;
    engine.add_filter("figure", |value: f64| crate::run::figure(value));
    engine.add_filter("time", |seconds: u64| words::time(seconds * 1000));
    let start_ms = u64::from(scenario.plant.start_min) * 60_000;
    let to_ms = start_ms + scenario.run_ms();
    let time = Time {
        from_ms: start_ms,
        to_ms,
    };
    let mut drawings = water::curves(scenario, &result.watch, time);
    drawings.extend(lanes(scenario, result, time));
    drawings.extend(water::caps_used(scenario, result, time));
    engine.get_template("report.html")?.render(context! {
        summary => Value::from(Serde(&result.summary)),
        drawings => Value::from(Serde(&drawings)),
        command,
        cautions => CAUTIONS,
    })
}

fn lanes(scenario: &Scenario, result: &RunResult, time: Time) -> Vec<Drawing> {
    let mut drawings: Vec<Drawing> = (0..scenario.feeders.len())
        .map(|index| feeder_lanes(scenario, result, time, index))
        .collect();
    let mut all = vec![happened(result, time)];
    for (name, alarm) in result.alarms.iter().zip(&result.watch.alarms) {
        if alarm.times > 0 {
            all.push(lane(name, "alarm", told(alarm.spans.all(), name)));
        }
    }
    let title = "what happened, and alarms".to_owned();
    let key = vec![("event", "happened"), ("alarm", "alarm stands")];
    drawings.push(drawing(title, key, time, &all));
    drawings
}

type Stretches = Vec<(u64, u64, String)>;

fn lane(name: &str, class: &'static str, spans: Stretches) -> Lane {
    let name = name.to_owned();
    Lane { name, class, spans }
}

fn drawing(
    title: String,
    key: Vec<(&'static str, &'static str)>,
    time: Time,
    all: &[Lane],
) -> Drawing {
    let svg = svg::lanes(&title, time, all);
    Drawing { title, svg, key }
}

/// When a feeder fed, and when each rule that ever refused it did.
fn feeder_lanes(scenario: &Scenario, result: &RunResult, time: Time, index: usize) -> Drawing {
    let watch = &result.watch;
    let product = scenario.plant.feeders[index].kind.product();
    let generator = product == Product::GeneratorChlorine;
    let unit = if generator { "g" } else { "mL" };
    let own = watch.doses.iter().filter(|dose| dose.feeder == index);
    let doses = own.map(|dose| {
        let from = clock::show(dose.from_ms);
        let word = format!("{from}: {:.1} {unit}", dose.amount / 1000.0);
        (dose.from_ms, dose.to_ms, word)
    });
    let mut all = vec![lane("fed", "dose", doses.collect())];
    for (name, seen) in result.reasons.iter().zip(&watch.refusals[index].spans) {
        if !seen.all().is_empty() {
            all.push(lane(name, "refused", told(seen.all(), name)));
        }
    }
    let title = format!("{}: fed, and refused by", scenario.feeders[index].name);
    let key = vec![("dose", "fed"), ("refused", "refused by this rule")];
    drawing(title, key, time, &all)
}

/// Everything in the log that is not an alarm's coming or going.
fn happened(result: &RunResult, time: Time) -> Lane {
    let told = result
        .summary
        .log
        .iter()
        .filter(|line| !line.words.starts_with("alarm"));
    let mark = (time.to_ms - time.from_ms) / 400;
    let spans = told.map(|line| {
        let word = format!("{}: {}", line.clock, line.words);
        (line.clock_ms, line.clock_ms + mark, word)
    });
    Lane {
        name: "happened".to_owned(),
        class: "event",
        spans: spans.collect(),
    }
}

fn told(spans: &[(u64, u64)], name: &str) -> Stretches {
    let word = |from: u64, to: u64| {
        format!(
            "{name}: {} for {}",
            clock::show(from),
            words::time(to - from)
        )
    };
    spans
        .iter()
        .map(|(from, to)| (*from, *to, word(*from, *to)))
        .collect()
}
