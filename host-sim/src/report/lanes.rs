//! Lanes over time: the phase of each feeder and what refused it, and the alarms with their states.

use super::svg::{self, Lane, Part, Shape, Time};
use super::{Drawing, words};
use crate::plant::Product;
use crate::run::{AlarmTime, PHASES, RunResult, Stood};
use crate::scenario::clock;
use crate::scenario::{Scenario, words as plain};
use crate::unit::ALARM_STATES;

/// How each of [`ALARM_STATES`] is drawn: by its class in the page's style, and by its shape.
const DRAWN: [(&str, Shape); ALARM_STATES.len()] = [
    ("alarm", Shape::Full),
    ("acknowledged", Shape::Low),
    ("returned", Shape::Hollow),
    ("aside", Shape::Thin),
    ("aside", Shape::Thin),
    ("aside", Shape::Thin),
    ("latched", Shape::Foot),
];

type Stretches = Vec<(u64, u64, String)>;

pub(super) fn lanes(scenario: &Scenario, result: &RunResult, time: Time) -> Vec<Drawing> {
    let mut drawings: Vec<Drawing> = (0..scenario.feeders.len())
        .map(|index| feeder_lanes(scenario, result, time, index))
        .collect();
    drawings.push(alarm_lanes(result, time));
    drawings
}

/// Which of several bodies of water the valves select: the curves are of that one.
pub(super) fn selected(scenario: &Scenario, result: &RunResult, time: Time) -> Option<Drawing> {
    let title = "the body of water that the valves select";
    let (mut all, mut told) = (Vec::new(), Vec::new());
    for (plan, seen) in scenario.bodies.iter().zip(&result.watch.bodies) {
        let spans = seen.selected.all();
        told.push(words::stretches(&plan.name, spans));
        all.push(lane(
            plan.name.clone(),
            "phase",
            stretches(spans, &plan.name),
        ));
    }
    (!all.is_empty()).then(|| Drawing {
        title: title.to_owned(),
        has_heading: true,
        svg: svg::lanes(title, time, &all),
        key: vec![("phase", "selected: the curves below are of it then")],
        words: told,
    })
}

fn lane(name: String, class: &'static str, spans: Stretches) -> Lane {
    let shape = Shape::Full;
    let parts = vec![Part {
        class,
        shape,
        spans,
    }];
    Lane { name, parts }
}

/// The phase of a feeder, when it fed, and when each rule that ever refused it did.
fn feeder_lanes(scenario: &Scenario, result: &RunResult, time: Time, index: usize) -> Drawing {
    let watch = &result.watch;
    let product = scenario.plant.feeders[index].kind.product();
    let generator = product == Product::GeneratorChlorine;
    let unit = if generator { "g" } else { "mL" };
    let (mut all, mut told) = (Vec::new(), Vec::new());
    let (mut key, mut title) = (Vec::new(), scenario.feeders[index].name.clone());
    for (name, seen) in PHASES.iter().zip(&watch.phases[index]) {
        if seen.times > 0 {
            let name = format!("phase: {}", name.replace('_', " "));
            told.push(words::stood(&name, seen));
            let spans = stretches(seen.spans.all(), &name);
            all.push(lane(name, "phase", spans));
        }
    }
    if !all.is_empty() {
        key.push(("phase", "in this phase"));
        title.push_str(": its phase,");
    }
    let own: Vec<_> = watch
        .doses
        .iter()
        .filter(|dose| dose.feeder == index)
        .collect();
    let doses = own.iter().map(|dose| {
        let from = clock::show(dose.from_ms);
        let word = format!("{from}: {:.1} {unit}", dose.amount / 1000.0);
        (dose.from_ms, dose.to_ms, word)
    });
    all.push(lane("fed".to_owned(), "dose", doses.collect()));
    told.push(words::fed(&own, unit));
    for (name, seen) in result.reasons.iter().zip(&watch.refusals[index].spans) {
        if !seen.all().is_empty() {
            let name = format!("refused: {name}");
            told.push(words::stretches(&name, seen.all()));
            let spans = stretches(seen.all(), &name);
            all.push(lane(name, "refused", spans));
        }
    }
    title.push_str(if key.is_empty() {
        ": fed, and refused by"
    } else {
        " what it fed, and what refused it"
    });
    key.extend([("dose", "fed"), ("refused", "refused by this rule")]);
    let svg = svg::lanes(&title, time, &all);
    Drawing {
        title,
        has_heading: true,
        svg,
        key,
        words: told,
    }
}

/// What happened, and each alarm that came with its states.
fn alarm_lanes(result: &RunResult, time: Time) -> Drawing {
    let mut all = vec![happened(result, time)];
    let mut key = vec![("event", "happened")];
    let mut told = vec!["What happened is the table at the end.".to_owned()];
    for (name, alarm) in result.alarms.iter().zip(&result.watch.alarms) {
        if alarm.times == 0 {
            continue;
        }
        let states = states(alarm);
        if states.is_empty() {
            told.push(words::stretches(name, alarm.spans.all()));
            let spans = stretches(alarm.spans.all(), name);
            all.push(lane(name.clone(), "alarm", spans));
            note(&mut key, ("alarm", "stands"));
            continue;
        }
        let part = |&(at, state): &(usize, &Stood)| {
            let word = format!("{name}: {}", plain_state(at));
            let (class, shape) = DRAWN[at];
            let spans = stretches(state.spans.all(), &word);
            Part {
                class,
                shape,
                spans,
            }
        };
        let parts = states.iter().map(part).collect();
        all.push(Lane {
            name: name.clone(),
            parts,
        });
        let (own, class) = (states.iter(), |at: usize| DRAWN[at].0);
        own.for_each(|(at, _)| note(&mut key, (class(*at), key_word(*at))));
        let one = |(at, state): &(usize, &Stood)| words::stood(plain_state(*at), state);
        let each: Vec<String> = states.iter().map(one).collect();
        told.push(format!("{name}: {}", each.join(" ")));
    }
    let title = "what happened, and alarms with their states".to_owned();
    let svg = svg::lanes(&title, time, &all);
    Drawing {
        title,
        has_heading: true,
        svg,
        key,
        words: told,
    }
}

fn note(key: &mut Vec<(&'static str, &'static str)>, entry: (&'static str, &'static str)) {
    if !key.contains(&entry) {
        key.push(entry);
    }
}

/// The states of an alarm that came.
fn states(alarm: &AlarmTime) -> Vec<(usize, &Stood)> {
    let all = alarm.states.iter().enumerate();
    all.filter(|(_, state)| state.times > 0).collect()
}

const fn plain_state(at: usize) -> &'static str {
    match at {
        0 => "unacknowledged",
        1 => "acknowledged",
        2 => "returned, unacknowledged",
        3 => "shelved",
        4 => "suppressed by design",
        5 => "out of service",
        _ => "latched",
    }
}

/// What the key says of a state: those that are drawn alike stand together.
const fn key_word(at: usize) -> &'static str {
    match at {
        3..=5 => "shelved, suppressed by design or out of service",
        _ => plain_state(at),
    }
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
    lane("happened".to_owned(), "event", spans.collect())
}

fn stretches(spans: &[(u64, u64)], name: &str) -> Stretches {
    let word = |from: u64, to: u64| {
        let (clock, long) = (clock::show(from), plain::time(to - from));
        format!("{name}: {clock} for {long}")
    };
    spans
        .iter()
        .map(|(from, to)| (*from, *to, word(*from, *to)))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_words_of_a_state_are_its_name() {
        for (at, name) in ALARM_STATES.iter().enumerate() {
            let words = plain_state(at).replace(", ", " ").replace(' ', "_");
            assert_eq!(words, *name);
        }
    }

    #[test]
    fn states_that_say_different_things_look_different_without_colour() {
        let shapes = |at: usize| (DRAWN[at].1, key_word(at));
        for one in 0..ALARM_STATES.len() {
            for other in 0..one {
                let ((shape, word), (other, its)) = (shapes(one), shapes(other));
                assert_eq!(shape == other, word == its, "{word}, {its}");
            }
        }
    }
}
