//! `dosewarden audit`: logs of our own simulator, an invented controller's, and wrong input.

use std::fs;
use std::path::Path;

use crate::common::{one_error, run as dosewarden, told, warned};
use dosewarden_sim::scenario::FIRST_POOL;

fn json(path: &Path) -> serde_json::Value {
    let text = fs::read_to_string(path).expect("written");
    serde_json::from_str(&text).expect("it is JSON")
}

/// Rules with this verdict.
fn with(json: &serde_json::Value, verdict: &str) -> Vec<String> {
    let findings = json["findings"].as_array().expect("a list").iter();
    let found = findings.filter(|finding| finding["verdict"] == verdict);
    found
        .filter_map(|finding| finding["rule"].as_str().map(str::to_owned))
        .collect()
}

#[test]
fn our_own_week_breaks_no_rule_and_a_gap_leaves_none_held() {
    let folder = tempfile::tempdir().expect("a folder");
    let folder = folder.path();
    fs::write(folder.join("pool.toml"), FIRST_POOL).expect("written");
    let output = dosewarden(folder, &["run", "--trace", "t.csv"]);
    assert_eq!(output.status.code(), Some(0), "{}", told(&output));
    let files = ["--json", "a.json", "--report", "a.html"];
    let audit = [&["audit", "t.csv", "--site", "pool.toml"], &files[..]].concat();
    let output = dosewarden(folder, &audit);
    let text = told(&output);
    assert_eq!(output.status.code(), Some(0), "{text}{}", warned(&output));
    let found = json(&folder.join("a.json"));
    assert_eq!(with(&found, "broken"), Vec::<String>::new(), "{text}");
    let held = with(&found, "held");
    for rule in [
        "cycle_cap",
        "hour_cap",
        "day_cap",
        "run_time_cap",
        "flow_proven",
    ] {
        assert!(held.iter().any(|name| name == rule), "{rule}: {text}");
    }
    // The trace says nothing of a probe's health, nor of a command.
    assert!(text.contains("NOT ALL CAN BE TOLD"), "{text}");
    assert!(
        with(&found, "cannot_tell")
            .iter()
            .any(|name| name == "probe_trusted"),
        "{text}"
    );
    assert!(
        with(&found, "not_at_this_site")
            .iter()
            .any(|name| name == "window_open"),
        "{text}"
    );
    let page = fs::read_to_string(folder.join("a.html")).expect("written");
    assert!(page.starts_with("<!doctype html>") && page.contains("NOT ALL CAN BE TOLD"));
    for outside in ["http://", "https://", "<script", "<link", "@import", "url("] {
        assert!(!page.contains(outside), "the page needs {outside}");
    }
    // Ten minutes are taken out of it.
    let trace = fs::read_to_string(folder.join("t.csv")).expect("written");
    let mut lines: Vec<&str> = trace.lines().collect();
    lines.drain(2_000..2_010);
    fs::write(folder.join("t.csv"), lines.join("\n")).expect("written");
    let output = dosewarden(folder, &audit);
    assert_eq!(output.status.code(), Some(0), "{}", told(&output));
    let found = json(&folder.join("a.json"));
    assert_eq!(
        (with(&found, "held").len(), with(&found, "broken").len()),
        (0, 0)
    );
    assert!(
        told(&output).contains("the log has 1 gap of over 120 s, 660 s in all (line 2001)"),
        "{}",
        told(&output)
    );
}

#[test]
fn a_unit_without_a_guard_is_found_at_its_line() {
    let folder = tempfile::tempdir().expect("a folder");
    let folder = folder.path();
    fs::write(folder.join("pool.toml"), FIRST_POOL).expect("written");
    let run = [
        "run", "--days", "2", "--canary", "no-guard", "--trace", "t.csv",
    ];
    assert!(
        dosewarden(folder, &run)
            .status
            .code()
            .is_some_and(|code| code < 2)
    );
    let output = dosewarden(
        folder,
        &["audit", "t.csv", "--site", "pool.toml", "--json", "a.json"],
    );
    assert_eq!(output.status.code(), Some(1), "{}", told(&output));
    let found = json(&folder.join("a.json"));
    let findings = found["findings"].as_array().expect("a list");
    let standing = findings
        .iter()
        .find(|f| f["rule"] == "flow_present")
        .expect("it is there");
    assert_eq!(standing["verdict"], "broken", "{}", told(&output));
    // At that line the trace itself says that the drive was on and the water stood.
    let trace = fs::read_to_string(folder.join("t.csv")).expect("written");
    let names: Vec<&str> = trace.lines().next().expect("names").split(',').collect();
    let first = &standing["breaks"][0];
    let line = first["line"].as_u64().expect("a line") as usize;
    let row: Vec<&str> = trace
        .lines()
        .nth(line - 1)
        .expect("the line")
        .split(',')
        .collect();
    let field = |name: &str| row[names.iter().position(|n| *n == name).expect(name)];
    let on_ms: f64 = field(&format!(
        "{}_on_ms",
        first["feeder"].as_str().expect("a name")
    ))
    .parse()
    .expect("ms");
    assert_eq!(
        (field("moving"), Some(field("clock"))),
        ("0", first["clock"].as_str())
    );
    assert!(on_ms > 2_200.0, "{row:?}");
}

const EXAMPLE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../examples");

/// The invented controller of the example feeds chlorine 30 s after acid, once, at 09:20.
#[test]
fn the_example_has_one_breach() {
    let folder = tempfile::tempdir().expect("a folder");
    let folder = folder.path();
    let (log, map) = (
        format!("{EXAMPLE}/audit/log.csv"),
        format!("{EXAMPLE}/audit/map.toml"),
    );
    let site = format!("{EXAMPLE}/sites/home-pool.toml");
    let output = dosewarden(
        folder,
        &[
            "audit", &log, "--site", &site, "--map", &map, "--json", "a.json",
        ],
    );
    let text = told(&output);
    assert_eq!(output.status.code(), Some(1), "{text}{}", warned(&output));
    let found = json(&folder.join("a.json"));
    assert_eq!(with(&found, "broken"), ["one_at_a_time"], "{text}");
    let finding = found["findings"]
        .as_array()
        .expect("a list")
        .iter()
        .find(|f| f["rule"] == "one_at_a_time");
    let first = &finding.expect("it is there")["breaks"][0];
    assert_eq!(
        (&first["feeder"], &first["clock"]),
        (&"chlorine".into(), &"2026-05-03 09:20:00".into()),
        "{text}"
    );
    assert!(text.contains("Verdict: BROKEN: one_at_a_time ("), "{text}");
}

#[test]
fn bad_input_is_one_error_and_leaves_no_file() {
    let folder = tempfile::tempdir().expect("a folder");
    let folder = folder.path();
    fs::write(folder.join("pool.toml"), FIRST_POOL).expect("written");
    fs::write(folder.join("log.csv"), "s,acid\n0,1\n").expect("written");
    fs::write(
        folder.join("map.toml"),
        "time = { column = \"s\", form = \"seconds\" }\n",
    )
    .expect("written");
    fs::write(folder.join("empty.toml"), "").expect("written");
    let site = ["--site", "pool.toml"];
    let cases: [(Vec<&str>, &str); 6] = [
        (
            [&["no.csv"], &site[..]].concat(),
            "error: no.csv: cannot be read",
        ),
        (
            [&["log.csv"], &site[..]].concat(),
            "error: log.csv:1:1: column `acid_on_ms`, which the map names, is missing",
        ),
        (
            [&["log.csv", "--map", "map.toml"], &site[..]].concat(),
            "error: map.toml:1:1: the map has no [[feeder]]",
        ),
        (
            [&["log.csv", "--map", "no.toml"], &site[..]].concat(),
            "error: no.toml: cannot be read",
        ),
        (
            vec!["log.csv", "--site", "empty.toml"],
            "error: empty.toml:",
        ),
        (
            vec!["log.csv", "--site", "no.toml"],
            "error: no.toml: cannot be read",
        ),
    ];
    for (arguments, part) in cases {
        let all = [&["audit", "--json", "a.json"], &arguments[..]].concat();
        let output = dosewarden(folder, &all);
        let error = warned(&output);
        assert_eq!(output.status.code(), Some(2), "{error}");
        one_error(&error);
        assert!(error.starts_with(part), "{error}");
        assert!(!folder.join("a.json").exists());
    }
    let output = dosewarden(folder, &["run", "--days", "1", "--trace", "t.csv"]);
    assert_eq!(output.status.code(), Some(0));
    let output = dosewarden(
        folder,
        &[
            "audit",
            "t.csv",
            "--site",
            "pool.toml",
            "--json",
            "pool.toml",
        ],
    );
    assert_eq!(output.status.code(), Some(2));
    assert_eq!(
        fs::read_to_string(folder.join("pool.toml")).expect("there"),
        FIRST_POOL
    );
}

/// A log that cannot tell is no log that held: who wants to know by the status asks for it.
#[test]
fn a_log_that_cannot_tell_of_a_rule_is_status_3_where_that_is_asked_for() {
    let folder = tempfile::tempdir().expect("a folder");
    let folder = folder.path();
    fs::write(folder.join("pool.toml"), FIRST_POOL).expect("written");
    let output = dosewarden(folder, &["run", "--days", "1", "--trace", "t.csv"]);
    assert_eq!(output.status.code(), Some(0));
    let audit = |more: &[&str]| {
        let all = [&["audit", "t.csv", "--site", "pool.toml"], more].concat();
        let output = dosewarden(folder, &all);
        (output.status.code(), told(&output))
    };
    let (code, text) = audit(&[]);
    assert_eq!(code, Some(0), "{text}");
    let unsure = text.contains("cannot tell");
    assert!(unsure, "a row a minute leaves something open: {text}");
    assert_eq!(audit(&["--strict"]).0, Some(3));
    let help = told(&dosewarden(folder, &["audit", "--help"]));
    assert!(help.contains("3 with --strict"), "{help}");
}
