//! `dosewarden why`: what it says of traces of real runs, and of wrong input.

use std::fs;
use std::path::Path;

use crate::common::{one_error, run as dosewarden, told, warned};

/// The built-in week: on day 5 the pump trips while the flow switch sticks.
fn traced(folder: &Path) {
    let output = dosewarden(folder, &["run", "--trace", "t.csv"]);
    assert_eq!(output.status.code(), Some(0), "{}", told(&output));
}

#[test]
fn the_week_is_told_in_words() {
    let folder = tempfile::tempdir().expect("a folder");
    let folder = folder.path();
    traced(folder);
    let arguments = [
        "why",
        "t.csv",
        "--at",
        "day 5 14:20",
        "--feeder",
        "acid",
        "--json",
        "w.json",
    ];
    let output = dosewarden(folder, &arguments);
    let text = told(&output);
    assert_eq!(output.status.code(), Some(0), "{}", warned(&output));
    // The pump trips at 14:05; the switch may stick for 20 s.
    for part in [
        "At day 5 14:20",
        "acid: not fed; last at day 5 ",
        "phase locked_out",
        "  locked_witnesses: locked out: flow while the pump is off\n",
        "    since day 5 14:06 (14 min); clears by a person\n",
        "look first at: flow switch: stuck, bridged or dirty / run contact of the circulation pump",
        "Alarms that stood:\n",
        "  locked_witnesses since day 5 14:06 (14 min)\n",
        "acid over the whole trace: ",
        "  kept by ",
    ] {
        assert!(text.contains(part), "{part:?} is not in\n{text}");
    }
    assert!(!text.contains("chlorine"), "{text}");
    let json = fs::read_to_string(folder.join("w.json")).expect("written");
    let json: serde_json::Value = serde_json::from_str(&json).expect("it is JSON");
    let first = &json["feeders"][0]["obstacles"][0];
    assert_eq!(
        (json["version"].as_u64(), &first["clears_by"]),
        (Some(1), &"person".into())
    );
    assert_eq!(first["since"]["seconds"], 14 * 60);
    // Before anybody begins a new unit it waits for that.
    let output = dosewarden(folder, &["why", "t.csv", "--at", "28800"]);
    let text = told(&output);
    assert!(
        text.contains("locked_record_lost: locked out: record lost"),
        "{text}"
    );
    assert!(
        text.contains("since the trace begins, or longer; clears by a person"),
        "{text}"
    );
    assert!(text.contains("chlorine: not fed yet"), "{text}");
}

#[test]
fn a_unit_that_does_not_say_is_told_as_such() {
    let folder = tempfile::tempdir().expect("a folder");
    let folder = folder.path();
    let output = dosewarden(
        folder,
        &[
            "run", "--days", "1", "--canary", "no-guard", "--trace", "t.csv",
        ],
    );
    assert!(output.status.code().is_some_and(|code| code < 2));
    let text = told(&dosewarden(folder, &["why", "t.csv"]));
    assert!(
        text.contains("the unit does not say what it does"),
        "{text}"
    );
    assert!(text.contains("No alarm stood."), "{text}");
}

#[test]
fn bad_input_is_one_error_and_leaves_no_file() {
    let folder = tempfile::tempdir().expect("a folder");
    let folder = folder.path();
    let output = dosewarden(folder, &["run", "--days", "1", "--trace", "t.csv"]);
    assert_eq!(output.status.code(), Some(0));
    let trace = fs::read_to_string(folder.join("t.csv")).expect("written");
    fs::write(
        folder.join("cut.csv"),
        trace.replacen(",acid_clears", "", 1),
    )
    .expect("written");
    fs::write(
        folder.join("none.csv"),
        trace.replacen("acid_refused_by", "acid_by", 1),
    )
    .expect("written");
    let cases: [(&[&str], &str); 7] = [
        (&["no.csv"], "error: no.csv: cannot be read"),
        (
            &["none.csv"],
            "error: none.csv:1:1: column `acid_refused_by` is missing",
        ),
        (
            &["cut.csv"],
            "error: cut.csv:1:1: column `acid_clears` is missing",
        ),
        (
            &["t.csv", "--at", "noon"],
            "error: --at \"noon\" is not a moment; write it as \"day 2 14:05\"",
        ),
        (
            &["t.csv", "--at", "day 3 10:00"],
            "error: t.csv: the trace goes from day 1 00:00 to day 2 00:00",
        ),
        (
            &["t.csv", "--feeder", "acd"],
            "error: t.csv: has no feeder \"acd\"; it has acid, chlorine",
        ),
        (
            &["t.csv", "--json", "t.csv"],
            "error: t.csv: would be written over another file",
        ),
    ];
    for (arguments, part) in cases {
        let all: Vec<&str> = ["why"].iter().chain(arguments).copied().collect();
        let mut all = all;
        if !all.contains(&"--json") {
            all.extend(["--json", "w.json"]);
        }
        let output = dosewarden(folder, &all);
        let error = warned(&output);
        assert_eq!(output.status.code(), Some(2), "{error}");
        one_error(&error);
        assert!(error.starts_with(part), "{error}");
        assert!(!folder.join("w.json").exists());
    }
    assert_eq!(
        fs::read_to_string(folder.join("t.csv")).expect("there"),
        trace
    );
}
