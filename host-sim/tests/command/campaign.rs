//! `dosewarden campaign` as a person runs it: parts, merges, bad input, exit status, and that nothing half written
//! stays behind.

use std::fs;
use std::path::Path;

use dosewarden_sim::plan::HOME_POOL;

use crate::common::{names, one_error, page};

fn campaign(folder: &Path, arguments: &[&str]) -> (Option<i32>, String, String) {
    crate::common::dosewarden(folder, "campaign", arguments)
}

/// Refused with status 2 and these words; nothing stays in the folder that was not there.
#[track_caller]
fn refused(folder: &Path, arguments: &[&str], words: &str) {
    let before = names(folder);
    let (code, out, err) = campaign(folder, arguments);
    assert_eq!(code, Some(2), "{out}{err}");
    assert!(err.contains(words), "{err}");
    assert_eq!(names(folder), before);
}

const OF_FOUR: [&str; 6] = ["--faults", "random", "--runs", "4", "--seed", "7"];

#[test]
fn what_cannot_be_is_refused_with_what_would_be_right() {
    let folder = tempfile::tempdir().unwrap();
    let here = folder.path();
    for shard in ["0/2", "3/2", "1/0", "one/2", "12", "-1/2", "1/2/3"] {
        let shard = format!("--shard={shard}");
        refused(
            here,
            &[&shard, "--json", "a.json"],
            "is no part such as 1/4",
        );
    }
    let pairs = ["--faults", "pairs", "--runs", "3", "--json", "a.json"];
    refused(here, &pairs, "a pair has one trial");
    refused(here, &["--canary", "none"], "possible values");
    refused(here, &["--runs", "0"], "not in 1..=");
    refused(here, &["--jobs", "0"], "not in 1..=");
    refused(here, &["--only", "H1,H99"], "no fault is called H99");
    // The site has one body of water: nothing would be lived, and nothing be found.
    let nothing = ["--only", "H13", "--json", "a.json"];
    refused(here, &nothing, "nothing to try");
    refused(here, &["--site", "no.toml", "--json", "a.json"], "no.toml");
    refused(
        here,
        &["--merge", "no.json", "--json", "a.json"],
        "no.json: cannot be read",
    );
    refused(
        here,
        &["--merge", "a.json", "--seed", "3"],
        "cannot be used with",
    );
    refused(
        here,
        &["--replay-dir", "no", "--json", "a.json"],
        "no: is no folder",
    );
    fs::create_dir(here.join("taken")).unwrap();
    for output in ["--json", "--table", "--report"] {
        refused(here, &[output, "taken"], "a folder stands there");
    }
    wrong_files_are_quoted(here);
}

/// As every command tells a mistake in a file: place, what is wrong, what would be right, and the line with a mark.
fn wrong_files_are_quoted(here: &Path) {
    let version = fs::write(
        here.join("bad.json"),
        "{\n  \"größe\": 1,\n  \"version\": \"x\"}",
    );
    version.unwrap();
    let typo = HOME_POOL.replacen("[site]\n", "[site]\nvolum = \"9 m3\"\n", 1);
    fs::write(here.join("typo.toml"), typo).unwrap();
    let merge = ["--merge", "bad.json", "--json", "a.json"];
    let site = ["--site", "typo.toml", "--json", "a.json"];
    for (arguments, first, quote) in [
        (
            &merge[..],
            "error: bad.json:3:16: is no campaign's JSON: invalid type",
            "3 |   \"version\": \"x\"}",
        ),
        (
            &site,
            "error: typo.toml:9:1: unknown key `volum` in [site]",
            "9 | volum = \"9 m3\"",
        ),
    ] {
        refused(here, arguments, first);
        let (_, _, told) = campaign(here, arguments);
        one_error(&told);
        assert!(told.contains(quote) && told.contains('^'), "{told}");
    }
    let (_, _, told) = campaign(here, &merge);
    assert!(
        told.contains("name files that `campaign --json` wrote"),
        "{told}"
    );
    // The same site, for whoever gathers evidence: before a folder is made.
    let evidence = ["--out", "folder", "--site", "typo.toml"];
    let (code, _, again) = crate::common::dosewarden(here, "evidence", &evidence);
    let (_, _, told) = campaign(here, &site);
    assert_eq!((code, again), (Some(2), told));
    assert!(!here.join("folder").exists(), "half a folder stays");
}

#[test]
fn parts_are_put_together_only_if_each_is_there_once_and_of_one_campaign() {
    let folder = tempfile::tempdir().unwrap();
    let here = folder.path();
    let live = |more: &[&str]| {
        let arguments = [&OF_FOUR[..], more].concat();
        let (code, out, err) = campaign(here, &arguments);
        assert_eq!(code, Some(0), "{out}{err}");
        assert!(out.contains("INSIDE THE BOUNDS"), "{out}");
    };
    live(&["--shard", "1/2", "--jobs", "1", "--json", "one.json"]);
    live(&["--shard", "2/2", "--jobs", "2", "--json", "two.json"]);
    live(&[
        "--jobs",
        "1",
        "--json",
        "whole.json",
        "--table",
        "t.md",
        "--report",
        "r.html",
    ]);
    live(&["--jobs", "2", "--json", "again.json"]);
    let read = |name: &str| fs::read(here.join(name)).unwrap();
    assert!(
        read("whole.json") == read("again.json"),
        "jobs change the result"
    );

    let merge = ["--merge", "two.json", "one.json", "--json", "merged.json"];
    let (code, out, err) = campaign(here, &merge);
    assert_eq!(code, Some(0), "{out}{err}");
    assert!(
        read("merged.json") == read("whole.json"),
        "parts change the result"
    );

    refused(
        here,
        &["--merge", "one.json", "--json", "a.json"],
        "missing: 2/2",
    );
    refused(
        here,
        &["--merge", "one.json", "one.json"],
        "part 1/2 is there twice",
    );
    let other = String::from_utf8(read("two.json")).unwrap();
    fs::write(
        here.join("other.json"),
        other.replace("\"seed\": 7", "\"seed\": 8"),
    )
    .unwrap();
    refused(
        here,
        &["--merge", "one.json", "other.json"],
        "parts of two campaigns",
    );
    refused(
        here,
        &["--merge", "one.json", "whole.json"],
        "parts of two campaigns",
    );

    a_part_has_its_own_cases_only_and_what_it_was_made_of(here);
    the_page_and_the_table_say_what_was_lived(here);
    a_case_that_is_outside_makes_the_status_one(here);
}

/// A part of 100,000 random days would else hold the names of all of them.
fn a_part_has_its_own_cases_only_and_what_it_was_made_of(here: &Path) {
    let text = fs::read_to_string(here.join("two.json")).unwrap();
    let part: serde_json::Value = serde_json::from_str(&text).unwrap();
    let numbers = part["cases"].as_array().unwrap().iter();
    let numbers: Vec<u64> = numbers
        .map(|case| case["number"].as_u64().unwrap())
        .collect();
    assert_eq!(numbers, [1, 3]);
    let other = text.replace("\"only\": []", "\"only\": [\n    \"H1\"\n  ]");
    assert_ne!(other, text);
    fs::write(here.join("other.json"), other).unwrap();
    let merge = ["--merge", "one.json", "other.json"];
    refused(here, &merge, "parts of two campaigns");
    // Drawn by a program with another catalogue.
    let drawn = format!("\"drawn\": {}", part["drawn"]);
    let other = text.replace(&drawn, "\"drawn\": 1");
    assert_ne!(other, text);
    fs::write(here.join("other.json"), other).unwrap();
    refused(
        here,
        &["--merge", "one.json", "other.json"],
        "parts of two campaigns",
    );
    // What an earlier program wrote has other fields too.
    fs::write(here.join("older.json"), "{\"version\": 2, \"cases\": [{}]}").unwrap();
    let merge = ["--merge", "older.json"];
    refused(
        here,
        &merge,
        "older.json: has layout 2, and this program reads 5: make it anew",
    );
}

fn the_page_and_the_table_say_what_was_lived(here: &Path) {
    let page = page(&here.join("r.html"));
    let command = "dosewarden campaign --faults random --runs 4 --seed 7";
    for part in [
        command,
        "INSIDE THE BOUNDS",
        "does not show",
        "Never mix",
        "<th scope=\"row\">",
    ] {
        assert!(page.contains(part), "{part}");
    }
    let table = fs::read_to_string(here.join("t.md")).unwrap();
    assert!(
        table.starts_with(&format!("Made by `{command}`")),
        "{table}"
    );
    assert!(table.contains("## Bounds that were needed"), "{table}");
}

/// The file of a whole campaign in which one case was outside.
fn a_case_that_is_outside_makes_the_status_one(here: &Path) {
    let text = fs::read_to_string(here.join("whole.json")).unwrap();
    let mut report: serde_json::Value = serde_json::from_str(&text).unwrap();
    let which = "day_total: acid: more than the day's cap in 24 h";
    report["cases"][0]["passed"][which] = serde_json::json!({
        "oracle": "day_total", "worst": 2.0, "bound": 1.0, "unit": "uL", "allowed": 1.0, "inside": false, "trial": 0,
        "words": "acid: more than the day's cap in 24 h"
    });
    fs::write(here.join("outside.json"), report.to_string()).unwrap();
    let merge = ["--merge", "outside.json", "--report", "outside.html"];
    let (code, out, err) = campaign(here, &merge);
    assert_eq!(code, Some(1), "{out}{err}");
    assert!(out.contains("OUTSIDE in 1 cases"), "{out}");
    assert!(out.contains("day_total: 2.000 against 1.000"), "{out}");
    let page = crate::common::page(&here.join("outside.html"));
    assert!(
        page.contains("<tr class=outside>"),
        "a case outside is not marked"
    );
}

#[test]
fn the_catalogue_is_listed_in_words_and_nothing_is_tried() {
    let folder = tempfile::tempdir().unwrap();
    let (code, out, err) = campaign(folder.path(), &["--list"]);
    assert_eq!((code, err.as_str()), (Some(0), ""));
    let ids: Vec<&str> = out.lines().filter(|line| !line.starts_with(' ')).collect();
    assert_eq!(ids.len(), 104, "as the README says");
    assert_eq!(out.matches("acts on ").count(), 104);
    assert!(
        ids.iter()
            .any(|line| line.starts_with("H1 ") && line.contains("water path")),
        "{out}"
    );
    refused(
        folder.path(),
        &["--list", "--seed", "3"],
        "cannot be used with",
    );
}

/// Ids alone, bare figures and "any" could not be read without the source.
#[test]
fn a_page_and_its_text_say_faults_in_words_and_what_the_verdict_leaves_out() {
    let folder = tempfile::tempdir().unwrap();
    let arguments = ["--only", "H1,C7", "--runs", "1", "--report", "c.html"];
    let (code, out, err) = campaign(folder.path(), &arguments);
    assert_eq!(code, Some(0), "{out}{err}");
    let text = page(&folder.path().join("c.html"));
    let [h1, c7] = ["H1", "C7"].map(|id| {
        let (_, list, _) = campaign(folder.path(), &["--list"]);
        let line = list
            .lines()
            .find(|line| line.starts_with(&format!("{id} ")))
            .unwrap()
            .to_owned();
        line[17..].to_owned()
    });
    for words in [h1, c7] {
        let escaped = words.replace('\'', "&#x27;");
        assert!(text.contains(&escaped), "{words}");
    }
    for part in [
        "cases the water was worse than at a sound site",
        "cases no alarm told anybody in some trial",
    ] {
        assert!(text.contains(part) && out.contains(part), "{part}: {out}");
    }
    assert!(
        !text.contains("(any)") && !text.contains("(not in "),
        "{text}"
    );
}

/// What was lived until then is kept, is told as stopped, and can be put together with other parts.
#[cfg(unix)]
#[test]
fn stopped_by_ctrl_c_it_keeps_what_is_done_so_far() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut child = std::process::Command::new(env!("CARGO_BIN_EXE_dosewarden"))
        .current_dir(folder.path())
        .args(["campaign", "--faults", "single", "--json", "a.json"])
        .stdout(std::process::Stdio::null())
        .stderr(std::process::Stdio::null())
        .spawn()
        .expect("the binary runs");
    while names(folder.path()).is_empty() {
        std::thread::sleep(std::time::Duration::from_millis(20));
    }
    let killed = std::process::Command::new("kill")
        .args(["-INT", &child.id().to_string()])
        .status();
    assert!(killed.expect("kill runs").success());
    assert_eq!(child.wait().expect("it ends").code(), Some(130));
    assert_eq!(names(folder.path()), ["a.json"]);
    let (code, told, err) = campaign(folder.path(), &["--merge", "a.json", "--json", "b.json"]);
    assert_eq!(code, Some(130), "{told}{err}");
    assert!(
        told.contains("STOPPED before its end; inside the bounds so far"),
        "{told}"
    );
    let lived = told.lines().find(|line| line.contains("trials lived"));
    let lived = lived.and_then(|line| line.split_whitespace().nth(2)?.parse::<u64>().ok());
    assert!(
        lived.is_some_and(|trials| (1..1_000).contains(&trials)),
        "{told}"
    );
}
