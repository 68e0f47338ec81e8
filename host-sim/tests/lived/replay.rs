//! Every failure that a campaign ever found, kept in `tests/replay`: what was broken then, and what is so now.
//!
//! `found.toml` says of each file with which unit it was found, what was broken, and by how much. Here each is run
//! again, both with that unit, which has to break just what it broke, and with ours, which has to hold, or to be broken
//! as its entry says, with the reason.

use std::collections::BTreeSet;
use std::path::PathBuf;

use dosewarden_sim::run::{Quiet, run};
use dosewarden_sim::unit::Canary;
use dosewarden_sim::{DosewardenUnit, Scenario};
use serde::Deserialize;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    found: Vec<Found>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Found {
    /// The scenario.
    file: String,
    /// What was wrong with the unit on purpose; without it, it was ours.
    canary: Option<String>,
    /// What was broken, as `run --json` tells it.
    oracle: String,
    worst: f64,
    bound: f64,
    /// What is still broken with our unit.
    #[serde(default)]
    still_broken: Vec<String>,
    /// What put it right, or why it is still so.
    why: String,
}

fn folder() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../tests/replay")
}

fn found() -> Vec<Found> {
    let text = std::fs::read_to_string(folder().join("found.toml")).expect("found.toml");
    let file: File = toml::from_str(&text).unwrap_or_else(|error| panic!("found.toml: {error}"));
    file.found
}

/// What is broken, by how much, against what, as `run` tells it.
fn broken(scenario: &Scenario, unit: DosewardenUnit) -> Vec<(&'static str, f64, f64)> {
    let result = run(scenario, unit, None, &mut Quiet).expect("a sound plant");
    let all = result.summary.oracles.into_iter();
    let broken = all.filter(|one| one.verdict == "broken");
    let figures = broken.filter_map(|one| Some((one.name, one.worst?, one.bound?)));
    figures.collect()
}

#[test]
fn every_file_has_an_entry_and_every_entry_a_file() {
    let listed: BTreeSet<String> = found().into_iter().map(|one| one.file).collect();
    let all = std::fs::read_dir(folder()).expect("tests/replay");
    let names = all.map(|one| {
        one.expect("read")
            .file_name()
            .to_string_lossy()
            .into_owned()
    });
    let there: BTreeSet<String> = names
        .filter(|name| name.ends_with(".toml") && name != "found.toml")
        .collect();
    assert_eq!(listed, there);
    assert!(listed.len() >= Canary::ALL.len());
}

#[test]
fn what_was_found_is_found_again_and_our_unit_holds() {
    for one in found() {
        let scenario = Scenario::load(&folder().join(&one.file)).unwrap_or_else(|e| panic!("{e}"));
        assert!(one.why.len() > 20, "{}: say why", one.file);
        if let Some(name) = &one.canary {
            let canary = Canary::named(name).unwrap_or_else(|| panic!("{name}"));
            let then = broken(&scenario, DosewardenUnit::canary(&scenario, canary));
            let names: Vec<&str> = then.iter().map(|(name, ..)| *name).collect();
            assert_eq!(names, scenario.expect_broken, "{}", one.file);
            let as_then = (one.oracle.as_str(), one.worst, one.bound);
            assert!(then.contains(&as_then), "{}: {then:?}", one.file);
        } else {
            assert_eq!(scenario.expect_broken, one.still_broken, "{}", one.file);
        }
        let now = broken(&scenario, DosewardenUnit::for_scenario(&scenario));
        let names: Vec<&str> = now.iter().map(|(name, ..)| *name).collect();
        assert_eq!(names, one.still_broken, "{}", one.file);
    }
}
