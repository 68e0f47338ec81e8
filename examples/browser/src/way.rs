//! A way through the guard's states, told again call by call: what `dosewarden explore --replay` says, in parts.

use dosewarden::rule_words;
use dosewarden_sim::explore::{FeederTick, Trail, TrailTick, about, replay_file};
use serde_json::{Value, json};

fn feeder(one: &FeederTick) -> Value {
    let rules = one.refused_by.iter();
    let rules = rules.map(|rule| json!({ "name": rule.name(), "words": rule_words(*rule) }));
    json!({
        "asked": one.asked,
        "run_ms": one.run_ms,
        "stage": one.stage,
        "refused_by": rules.collect::<Vec<_>>(),
    })
}

fn tick(tick: &TrailTick, was: Option<&str>) -> Value {
    json!({
        "happens": tick.happens,
        "comes": tick.comes,
        "was": was,
        "feeders": tick.feeders.iter().map(feeder).collect::<Vec<_>>(),
        "state": tick.state,
    })
}

fn parts(file: &str, trail: &Trail) -> Value {
    let (site, happens) = about(trail.part);
    json!({
        "file": file,
        "part": trail.part,
        "site": site,
        "events": happens,
        "ticks": trail.all().map(|(one, was)| tick(one, was)).collect::<Vec<_>>(),
        "healthy_from": trail.ticks.len(),
        "holds": trail.broken.is_none(),
        "ends": trail.ends(),
        "text": trail.text(),
    })
}

/// Tells the way in a file again.
///
/// # Errors
/// What is wrong with the file, with its line.
pub(crate) fn told(file: &str, text: &str) -> Result<Value, String> {
    let trail = replay_file(file, text).map_err(|error| error.to_string())?;
    Ok(parts(file, &trail))
}
