//! The command line: what it prints and writes, and that a wrong input leaves nothing behind.

use std::fs;
use std::process::Command;

use crate::common::{names, one_error, page, run as dosewarden, told as stdout, warned as stderr};

const FIRST_POOL: &str = include_str!("../../../examples/scenarios/first-pool.toml");

#[test]
fn without_arguments_the_week_is_run_and_its_report_written() {
    let folder = tempfile::tempdir().expect("a folder");
    let output = dosewarden(folder.path(), &[]);
    let text = stdout(&output);
    assert_eq!(output.status.code(), Some(0), "{text}{}", stderr(&output));
    assert!(text.contains("Verdict: HELD"), "{text}");
    assert!(text.contains("Wrote dosewarden-report.html"), "{text}");
    assert_eq!(names(folder.path()), ["dosewarden-report.html"]);
    let page = page(&folder.path().join("dosewarden-report.html"));
    for part in [
        "<svg",
        "Otterbourne Mere",
        "standing_water",
        "Never mix",
        "--seed 2026",
    ] {
        assert!(page.contains(part), "{part}");
    }
}

#[test]
fn the_same_seed_gives_the_same_files() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut seen = Vec::new();
    for turn in ["a", "b"] {
        let (csv, json) = (format!("{turn}.csv"), format!("{turn}.json"));
        let run = [
            "run", "--days", "1", "--seed", "9", "--trace", &csv, "--json", &json,
        ];
        let output = dosewarden(folder.path(), &run);
        assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
        let read = |name: &str| fs::read_to_string(folder.path().join(name)).expect("written");
        seen.push((read(&csv), read(&json)));
    }
    assert_eq!(seen[0], seen[1]);
    assert_eq!(names(folder.path()), ["a.csv", "a.json", "b.csv", "b.json"]);
    let (csv, json) = &seen[0];
    assert_eq!(csv.lines().count(), 1 + 1440);
    let header = "clock,seconds,ph,ph_shown,orp_mv,orp_shown_mv,free_chlorine_mg_l,\
                  alkalinity_mg_l,flow_l_min,moving,pump_running,powered,needs_person,\
                  acid_fed_ml,acid_on_ms,acid_asked,acid_refused_by,\
                  chlorine_fed_ml,chlorine_on_ms,chlorine_asked,chlorine_refused_by,alarms,\
                  acid_phase,acid_clears,chlorine_phase,chlorine_clears";
    assert_eq!(csv.lines().next(), Some(header));
    let value: serde_json::Value = serde_json::from_str(json).expect("JSON");
    assert_eq!(value["version"], 1);
    assert_eq!((&value["seed"], &value["days"]), (&9.into(), &1.into()));
    assert_eq!(value["oracles"].as_array().map(Vec::len), Some(23));
}

/// Runs a changed first pool; it has to be refused, at a line, and leave nothing behind.
fn refused(from: &str, to: &str) -> String {
    let folder = tempfile::tempdir().expect("a folder");
    assert!(FIRST_POOL.contains(from), "{from}");
    fs::write(
        folder.path().join("my.toml"),
        FIRST_POOL.replacen(from, to, 1),
    )
    .expect("written");
    let output = dosewarden(
        folder.path(),
        &[
            "run", "my.toml", "--trace", "t.csv", "--json", "j.json", "--report", "r.html",
        ],
    );
    let text = stderr(&output);
    assert_eq!(output.status.code(), Some(2), "{to}: {text}");
    assert_eq!(names(folder.path()), ["my.toml"], "{to}");
    assert!(output.stdout.is_empty(), "{to}");
    one_error(&text);
    let line = FIRST_POOL
        .split(from)
        .next()
        .map_or(0, |before| before.matches('\n').count() + 1);
    assert!(
        text.starts_with(&format!("error: my.toml:{line}:")),
        "line {line}: {text}"
    );
    text
}

#[test]
fn each_kind_of_wrong_input_is_refused() {
    let cases = [
        ("volume = \"95 m3\"", "volume = \"25000 gal\"", "US gal"),
        ("dose_min = \"5 mL\"", "dose_min = \"1 fl oz\"", "US fl oz"),
        (
            "volume = \"95 m3\"",
            "volume = \"95 min\"",
            "a time; it has to be a volume",
        ),
        ("volume = \"95 m3\"", "volume = \"-95 m3\"", "out of range"),
        (
            "volume = \"95 m3\"",
            "volume = \"95000000 m3\"",
            "out of range",
        ),
        (
            "volume = \"95 m3\"",
            "volume = \"nan m3\"",
            "not a finite number",
        ),
        ("bathers = 14", "bathers = inf", "not a finite number"),
        (
            "volume = \"95 m3\"",
            "volum = \"95 m3\"",
            "did you mean `volume`?",
        ),
        ("days = 7", "days = 0", "it has to be 1 to 3650"),
        ("day_cap = \"900 mL\"", "day_cap = \"0 mL\"", "day_cap is 0"),
        (
            "cycle_cap = \"60 mL\"",
            "cycle_cap = \"2 L\"",
            "above day_cap",
        ),
        (
            "spread_hold = \"10 min\"",
            "spread_hold = \"0 min\"",
            "spread_hold is 0",
        ),
        (
            "flow_switch = \"fitted\"",
            "flow_switch = \"not fitted\"",
            "flow_meter",
        ),
        ("depth = \"1.5 m\"", "depth = \"1.5 m", ""),
        (
            "person = \"initialise\"",
            "person = \"initialize\"",
            "did you mean \"initialise\"?",
        ),
    ];
    for (from, to, says) in cases {
        let text = refused(from, to);
        assert!(text.contains(says), "{to}: {text}");
    }
}

#[test]
fn files_that_cannot_be_are_refused_before_the_run() {
    let folder = tempfile::tempdir().expect("a folder");
    fs::write(folder.path().join("my.toml"), FIRST_POOL).expect("written");
    let cases: [(&[&str], &str); 5] = [
        (&["run", "gone.toml"], "gone.toml: cannot be read"),
        (
            &["run", "my.toml", "--json", "my.toml"],
            "over another file",
        ),
        (&["run", "--json", "x", "--trace", "x"], "over another file"),
        (
            &["run", "--report", "no/such/folder/r.html"],
            "cannot be written",
        ),
        (&["run", "--report", "."], "name a file"),
    ];
    for (arguments, says) in cases {
        let output = dosewarden(folder.path(), arguments);
        assert_eq!(output.status.code(), Some(2), "{arguments:?}");
        assert!(
            stderr(&output).contains(says),
            "{arguments:?}: {}",
            stderr(&output)
        );
        assert_eq!(names(folder.path()), ["my.toml"], "{arguments:?}");
    }
    assert_eq!(
        fs::read_to_string(folder.path().join("my.toml")).expect("there"),
        FIRST_POOL
    );
}

#[test]
fn usage_that_is_wrong_gives_two() {
    let folder = tempfile::tempdir().expect("a folder");
    for arguments in [
        &["run", "--days", "0"][..],
        &["run", "--seed", "-1"],
        &["dance"],
        &["run", "--x"],
    ] {
        let output = dosewarden(folder.path(), arguments);
        assert_eq!(output.status.code(), Some(2), "{arguments:?}");
        assert!(names(folder.path()).is_empty());
    }
}

#[test]
fn the_second_scenario_holds_too() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/../examples/scenarios/salt-pool.toml"
    );
    let output = dosewarden(folder.path(), &["run", file]);
    assert_eq!(
        output.status.code(),
        Some(0),
        "{}{}",
        stdout(&output),
        stderr(&output)
    );
    assert!(
        stdout(&output).contains("cell_flow            held"),
        "{}",
        stdout(&output)
    );
    assert!(names(folder.path()).is_empty());
}

/// An interlock wire that is bridged: the pump's contact lies, and the switch sticks as well.
#[test]
fn a_broken_oracle_gives_one() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut bridged = String::new();
    for fault in [
        "flow_switch_stuck_on",
        "pump_contact_stuck_on",
        "pump_trips",
    ] {
        bridged.push_str("\n[[event]]\nat = \"day 4 08:00\"\nwhen_feeding = \"chlorine\"\n");
        bridged.push_str(&format!("feeding_for = \"3 s\"\nfault = \"{fault}\"\n"));
    }
    fs::write(
        folder.path().join("my.toml"),
        format!("{FIRST_POOL}{bridged}"),
    )
    .expect("written");
    let output = dosewarden(folder.path(), &["run", "my.toml"]);
    let text = stdout(&output);
    assert_eq!(output.status.code(), Some(1), "{text}");
    assert!(
        text.contains("Verdict: BROKEN") && text.contains("standing_water       broken"),
        "{text}"
    );
    assert!(
        text.contains("which this scenario does not expect"),
        "{text}"
    );
    let expected = "expect_broken = [\"standing_water\", \"cycle_total\", \"holds_kept\", \"charge_stored\"] #";
    let told = FIRST_POOL.replace("# expect_broken = []", expected) + &bridged;
    fs::write(folder.path().join("my.toml"), told).expect("written");
    let output = dosewarden(folder.path(), &["run", "my.toml"]);
    let text = stdout(&output);
    assert_eq!(output.status.code(), Some(1), "broken is broken: {text}");
    assert!(
        text.contains("4 of 17 oracles were broken, as this scenario expects"),
        "{text}"
    );
}

#[cfg(unix)]
#[test]
fn stopped_by_ctrl_c_it_leaves_nothing() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut child = Command::new(env!("CARGO_BIN_EXE_dosewarden"))
        .current_dir(folder.path())
        .args([
            "run", "--days", "3650", "--trace", "t.csv", "--report", "r.html",
        ])
        .stdout(std::process::Stdio::null())
        .stderr(std::process::Stdio::null())
        .spawn()
        .expect("the binary runs");
    while names(folder.path()).len() < 2 {
        std::thread::sleep(std::time::Duration::from_millis(20));
    }
    // The part files are there before the handler is; give it a moment.
    std::thread::sleep(std::time::Duration::from_millis(300));
    let killed = Command::new("kill")
        .args(["-INT", &child.id().to_string()])
        .status();
    assert!(killed.expect("kill runs").success());
    let status = child.wait().expect("it ends");
    assert_eq!(status.code(), Some(130));
    assert!(
        names(folder.path()).is_empty(),
        "{:?}",
        names(folder.path())
    );
}

#[test]
fn a_site_in_the_place_of_a_scenario_is_told_as_that() {
    let folder = tempfile::tempdir().expect("a folder");
    fs::write(
        folder.path().join("site.toml"),
        dosewarden_sim::plan::HOME_POOL,
    )
    .expect("written");
    let output = dosewarden(folder.path(), &["run", "site.toml"]);
    assert_eq!(output.status.code(), Some(2));
    let text = stderr(&output);
    one_error(&text);
    assert!(
        text.contains("is a site, which is for `dosewarden plan`"),
        "{text}"
    );
    assert!(
        text.contains("dosewarden plan site.toml --scenario FILE.toml"),
        "{text}"
    );
}
