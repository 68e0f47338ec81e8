//! What the page asks for, and the answer: JSON both ways.

use dosewarden_sim::fault::{self, Part};
use dosewarden_sim::plant::ProbeId;
use dosewarden_sim::run::CAUTIONS;
use dosewarden_sim::scenario::Scenario;
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};

use crate::play::Play;
use crate::{tried, way};

/// A request of the page.
#[derive(Deserialize)]
#[serde(tag = "do", rename_all = "snake_case", deny_unknown_fields)]
enum Request {
    /// What there is to choose from.
    About,
    /// A new pool. Without a text the quiet one; without a unit that which the file names.
    Begin {
        file: Option<String>,
        text: Option<String>,
        /// As text: a number of JavaScript has 53 bits.
        seed: Option<String>,
        unit: Option<String>,
    },
    /// What is to be shown.
    Look,
    /// One or more events, now.
    Act { event: String },
    /// A scenario file that `dosewarden run` replays.
    Save,
    /// A way that `dosewarden explore --trail` kept, told again; no pool has a part in it.
    Way { file: String, text: String },
}

/// A fault of the catalogue that a site can have.
#[derive(Serialize)]
struct FaultOf {
    id: &'static str,
    name: &'static str,
    group: &'static str,
    acts_on: &'static str,
    /// The parts that it can be about; none where it is about the site.
    of: Vec<String>,
}

fn faults_of(scenario: &Scenario) -> Vec<FaultOf> {
    let names = scenario.feeder_names();
    let all = fault::catalogue().map(|fault| (fault, fault.parts_of(scenario)));
    all.filter(|(_, parts)| !parts.is_empty())
        .map(|(fault, parts)| FaultOf {
            id: fault.id,
            name: fault.name,
            group: fault.group.name(),
            acts_on: fault.acts_on,
            of: parts
                .iter()
                .filter_map(|part| match part {
                    Part::Site => None,
                    Part::Feeder(at) => names.get(*at).cloned(),
                    Part::Probe(ProbeId::Ph) => Some("ph".to_owned()),
                    Part::Probe(ProbeId::Orp) => Some("orp".to_owned()),
                })
                .collect(),
        })
        .collect()
}

fn begun(
    play: &mut Option<Play>,
    file: Option<&str>,
    text: Option<&str>,
    seed: Option<&str>,
    unit: Option<&str>,
) -> Result<Value, String> {
    let wrong = |seed: &str| {
        format!(
            "the seed is \"{seed}\"; it has to be a whole number from 0 to {}",
            u64::MAX
        )
    };
    let seed = seed.map(|seed| seed.trim().parse().map_err(|_| wrong(seed)));
    let seed = seed.transpose()?;
    let file = file.unwrap_or(crate::QUIET_NAME);
    let quiet = text.is_none().then(crate::play::quiet_text);
    let text = quiet.as_deref().or(text).unwrap_or_default();
    let new = Play::begin(file, text, seed, unit)?;
    let faults = faults_of(new.scenario());
    Ok(json!({ "begun": play.insert(new).about(), "faults": faults }))
}

fn try_answer(play: &mut Option<Play>, request: &str) -> Result<Value, String> {
    let request: Request =
        serde_json::from_str(request).map_err(|error| format!("this is no request: {error}"))?;
    match (request, play) {
        (Request::About, _) => Ok(json!({
            "version": env!("CARGO_PKG_VERSION"),
            "units": tried::names(),
            "cautions": CAUTIONS,
        })),
        (
            Request::Begin {
                file,
                text,
                seed,
                unit,
            },
            play,
        ) => begun(
            play,
            file.as_deref(),
            text.as_deref(),
            seed.as_deref(),
            unit.as_deref(),
        ),
        (Request::Way { file, text }, _) => way::told(&file, &text),
        (_, None) => Err("no pool was begun".to_owned()),
        (Request::Look, Some(play)) => {
            serde_json::to_value(play.look()).map_err(|error| error.to_string())
        }
        (Request::Act { event }, Some(play)) => play.act(&event).map(|()| json!({})),
        (Request::Save, Some(play)) => Ok(json!({ "text": play.saved() })),
    }
}

/// The answer to a request, as JSON: `{"ok": ...}` or `{"error": "why not"}`.
#[must_use]
pub fn answer(play: &mut Option<Play>, request: &str) -> String {
    match try_answer(play, request) {
        Ok(ok) => json!({ "ok": ok }).to_string(),
        Err(error) => json!({ "error": error }).to_string(),
    }
}
