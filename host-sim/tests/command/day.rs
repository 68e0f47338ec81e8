//! `dosewarden day`: the sheet as committed beside an example, CSV, page and JSON that say the same, exit status, and that
//! bad input leaves no file.
//!
//! `DAY_WRITE=1 cargo test -p dosewarden-sim --test command day::` writes sheet and CSV anew.

use std::fs;
use std::path::{Path, PathBuf};

use crate::common::{dosewarden, names};

const HOURS: [&str; 2] = ["--hours", "07:00-21:00"];

fn examples() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../examples")
}

fn example(name: &str) -> String {
    examples().join(name).display().to_string()
}

#[track_caller]
fn as_committed(file: &str, printed: &str) {
    let path = examples().join("days/harrowmere").join(file);
    if std::env::var_os("DAY_WRITE").is_some() {
        fs::write(&path, printed).expect("written");
    }
    let committed = fs::read_to_string(&path).expect(file);
    assert!(
        committed == printed,
        "{file} is stale; it would be\n{printed}"
    );
}

/// The day of the example, with more arguments.
fn day(folder: &Path, more: &[&str]) -> (Option<i32>, String, String) {
    let site = example("sites/community-pool.toml");
    let log = example("days/harrowmere/log.csv");
    let all = [&[&*site, &*log][..], &HOURS, more].concat();
    dosewarden(folder, "day", &all)
}

#[test]
fn the_example_gives_the_sheet_beside_it_and_files_that_say_the_same() {
    let folder = tempfile::tempdir().expect("a folder");
    let record = example("days/harrowmere/record.csv");
    let files = [
        "--record", &*record, "--csv", "a.csv", "--report", "a.html", "--json", "a.json",
    ];
    let (code, sheet, said) = day(folder.path(), &files);
    assert_eq!(code, Some(1), "{said}");
    let (sheet, wrote) = sheet.split_once("Wrote ").expect("files");
    assert_eq!(wrote, "a.json\nWrote a.csv\nWrote a.html\n");
    as_committed("day.txt", sheet);
    let read = |name: &str| fs::read_to_string(folder.path().join(name)).expect(name);
    as_committed("day.csv", &read("a.csv"));
    let page = read("a.html");
    let json: serde_json::Value = serde_json::from_str(&read("a.json")).expect("it is JSON");
    let decides = "Your local code decides";
    for (name, text) in [("sheet", sheet), ("csv", &read("a.csv")), ("page", &page)] {
        assert!(text.contains(decides), "{name}");
    }
    let conditions = json["conditions"].as_array().expect("conditions");
    let met: Vec<_> = conditions
        .iter()
        .filter(|it| it["is_met"] == true)
        .collect();
    // The acid at 13:00: by the probe within minutes, and the chlorine that then was not fed by the test of 19:05.
    let has = |code: &str, what: &str, from: &str| {
        met.iter()
            .any(|it| it["code"] == code && it["what"] == what && it["from"] == from)
    };
    assert!(has("mahc", "pH at least 6.5", "13:05"), "{sheet}");
    assert!(
        has("delaware", "pH at least 7.2", "13:00") || has("delaware", "pH at least 7.2", "13:05")
    );
    assert!(has(
        "mahc",
        "free chlorine at least the site's own minimum",
        "19:05"
    ));
    assert!(
        has("mahc", "disinfection runs", "20:15"),
        "chlorine was asked for, and not fed"
    );
    for one in &met {
        let what = one["what"].as_str().expect("words");
        let what = what.replace('\'', "&#x27;").replace('/', "&#x2f;");
        assert!(page.contains(&what), "{what}");
        assert_eq!(
            one["tested_after"],
            serde_json::Value::Null,
            "nothing was mended"
        );
    }
    assert!(page.contains("by, signature") && page.contains("who answers for the pool"));
    assert!(!page.contains("http"), "it needs nothing else");
}

#[test]
fn one_code_alone_is_held_to_its_own_limits_only() {
    let folder = tempfile::tempdir().expect("a folder");
    let record = example("days/harrowmere/record.csv");
    let (_, sheet, _) = day(folder.path(), &["--record", &record, "--code", "quebec"]);
    assert!(
        sheet.contains("quebec: evacuate") || sheet.contains("quebec: outside"),
        "{sheet}"
    );
    assert!(
        !sheet.contains("mahc") && !sheet.contains("delaware"),
        "{sheet}"
    );
    let morning = ["--record", &*record, "--until", "12:55"];
    let (code, sheet, _) = day(folder.path(), &morning);
    assert_eq!(code, Some(0), "{sheet}");
    assert!(
        sheet.contains("No condition for closing was met in what was recorded"),
        "{sheet}"
    );
    let later = ["13:20", "19:05", "ph_low", "bathers        96"];
    assert!(!later.iter().any(|it| sheet.contains(it)), "{sheet}");
    // Without the record nobody can tell whether the pump ran.
    let (code, sheet, _) = day(folder.path(), &["--until", "10:50"]);
    assert_eq!(code, Some(1));
    assert!(sheet.contains("Cannot tell: a figure"), "{sheet}");
}

#[test]
fn bad_arguments_are_told_and_leave_no_file() {
    let folder = tempfile::tempdir().expect("a folder");
    let log = example("days/harrowmere/log.csv");
    for (more, words) in [
        (
            &["--code", "atlantis"][..],
            "--code is `atlantis`; it has to be one of mahc, california",
        ),
        (
            &["--date", "2 May"],
            "--date is `2 May`; write it as 2031-05-02",
        ),
        (
            &["--until", "22:00"],
            "--until is `22:00`; it has to be a time within 07:00-21:00",
        ),
        (&["--record", "none.csv"], "none.csv: cannot be read"),
        (&["--json", &log], "over another file"),
        (
            &["--json", "a.json", "--csv", "a.json"],
            "over another file",
        ),
    ] {
        let (code, _, said) = day(folder.path(), &[&["--report", "a.html"], more].concat());
        assert_eq!(code, Some(2), "{more:?}: {said}");
        assert!(said.contains(words), "{said}");
    }
    let site = example("sites/community-pool.toml");
    for hours in ["21:00-07:00", "7-21", "07:00-25:00"] {
        let (code, _, said) = dosewarden(folder.path(), "day", &[&site, &log, "--hours", hours]);
        assert_eq!(code, Some(2), "{said}");
        assert!(said.contains("write the hours in which people"), "{said}");
    }
    let two = example("sites/pool-and-spa.toml");
    let all = [&*two, &*log, HOURS[0], HOURS[1]];
    let (code, _, said) = dosewarden(folder.path(), "day", &all);
    assert_eq!(code, Some(2), "{said}");
    assert!(said.contains("two bodies of water"), "{said}");
    assert_eq!(names(folder.path()), [""; 0]);
}

#[test]
fn a_record_with_a_mistake_is_told_by_its_line() {
    let folder = tempfile::tempdir().expect("a folder");
    let head = "clock,ph_shown,moving,powered";
    let right = "2031-05-02 07:00,7.4,1,1";
    for (text, words) in [
        (
            "time,ph\n1,2\n".to_owned(),
            "bad.csv:1:1: column `clock` is missing",
        ),
        (
            "clock,ph\n2031-05-02 07:00,7\n".to_owned(),
            "bad.csv:1:1: none of the columns ph_shown",
        ),
        (format!("{head}\n"), "bad.csv:1:1: there is no row"),
        (
            format!("{head}\n{right}\nnoon,7.4,1,1\n"),
            "bad.csv:3:1: clock is \"noon\"",
        ),
        (
            format!("{head}\n{right}\n2031-05-02 06:59,7.4,1,1\n"),
            "bad.csv:3:1: this row is before",
        ),
        (
            format!("{head}\n2031-05-02 07:00,low,1,1\n"),
            "bad.csv:2:1: ph_shown is \"low\"",
        ),
        (
            format!("{head}\n2031-05-02 07:00,7.4,yes,1\n"),
            "bad.csv:2:1: moving is \"yes\"",
        ),
        (
            format!("{head}\n2031-05-02 07:00,7.4,1\n"),
            "bad.csv:2:1: the row has 3 fields",
        ),
    ] {
        fs::write(folder.path().join("bad.csv"), text).expect("written");
        let (code, _, said) = day(folder.path(), &["--record", "bad.csv", "--json", "a.json"]);
        assert_eq!(code, Some(2), "{said}");
        assert!(said.contains(words), "{said}");
        assert!(!folder.path().join("a.json").exists());
    }
}
