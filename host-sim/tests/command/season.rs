//! `dosewarden close` and `dosewarden open`: sheets as committed beside an example log, exit status, files, and
//! that bad input leaves none.
//!
//! `SEASON_WRITE=1 cargo test -p dosewarden-sim --test command season::` writes the sheets anew.

use std::fs;
use std::path::{Path, PathBuf};

use crate::common::dosewarden;

fn examples() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../examples/seasons/marsh-end")
}

#[track_caller]
fn as_committed(file: &str, printed: &str) {
    let path = examples().join(file);
    if std::env::var_os("SEASON_WRITE").is_some() {
        fs::write(&path, printed).expect("written");
    }
    let committed = fs::read_to_string(&path).expect(file);
    assert!(
        committed == printed,
        "{file} is stale; it would be\n{printed}"
    );
}

/// In the folder of the example.
fn in_example(command: &str, more: &[&str]) -> (Option<i32>, String, String) {
    let all = [&["site.toml"][..], more].concat();
    dosewarden(&examples(), command, &all)
}

#[test]
fn the_examples_give_the_sheets_beside_them() {
    let (code, sheet, _) = in_example("close", &["closing.csv", "--coldest", "4", "--days", "170"]);
    assert_eq!(code, Some(0));
    as_committed("closing.txt", &sheet);
    // The opening is half done: a dried probe, and a drum that stood too warm.
    let half = &["opening.csv", "--since", "2032-04-10"];
    let (code, sheet, _) = in_example("open", half);
    assert_eq!(code, Some(1));
    as_committed("opening.txt", &sheet);
    let (code, sheet, _) = in_example("open", &["opened.csv", "--since", "2032-04-10 09:00"]);
    assert_eq!(code, Some(0), "{sheet}");
    as_committed("opened.txt", &sheet);
}

#[test]
fn what_was_entered_before_the_opening_counts_for_nothing() {
    let later = &["opened.csv", "--since", "2032-05-01"];
    let (code, sheet, _) = in_example("open", later);
    assert_eq!(code, Some(1));
    assert!(!sheet.contains("[x]"), "{sheet}");
    assert!(sheet.contains("test the water first"), "{sheet}");
}

#[test]
fn hypochlorite_that_is_kept_warm_is_called_too_weak_and_kept_cold_it_is_taken() {
    // Of second order, 120 days at 25 C: 1 / (1 + 120 / 120) is half.
    let of = |store: &str, days: &str| {
        let (code, sheet, _) =
            in_example("close", &["closing.csv", "--store", store, "--days", days]);
        assert_eq!(code, Some(0));
        sheet
    };
    let warm = of("25", "120");
    assert!(warm.contains("about 50 % of its strength left"), "{warm}");
    assert!(warm.contains("replace it"), "{warm}");
    let cold = of("5", "120");
    // 3.5 ^ -2 of that speed: 1 / (1 + 1 / 12.25).
    assert!(cold.contains("about 92 % of its strength left"), "{cold}");
    assert!(cold.contains("enter what is found"), "{cold}");
}

#[test]
fn the_index_in_the_cold_is_that_of_the_water_once_it_is_balanced() {
    let folder = tempfile::tempdir().expect("a folder");
    let site = examples().join("site.toml").display().to_string();
    let text = fs::read_to_string(examples().join("closing.csv")).expect("a log");
    let cold = |alkalinity: &str| {
        let log = text.replace("alkalinity,60 mg/L", &format!("alkalinity,{alkalinity}"));
        fs::write(folder.path().join("log.csv"), log).expect("written");
        let all = [&*site, "log.csv", "--json", "a.json"];
        let (code, _, said) = dosewarden(folder.path(), "close", &all);
        assert_eq!(code, Some(0), "{said}");
        let json = fs::read_to_string(folder.path().join("a.json")).expect("written");
        let json: serde_json::Value = serde_json::from_str(&json).expect("JSON");
        let of = |name: &str| json[name].as_f64().expect("a figure");
        (of("index_coldest"), of("calcium_mg_l"), of("index_found"))
    };
    // 90 mg/L are wanted, and what is under that is made up by the list.
    let (low, wanted, high) = (cold("60 mg/L"), cold("90 mg/L"), cold("150 mg/L"));
    assert_eq!((low.0, low.1), (wanted.0, wanted.1));
    assert!(low.2 < wanted.2, "as found it is another");
    assert!(
        high.0 > wanted.0 || high.1 < wanted.1,
        "more is not taken out"
    );
}

#[test]
fn bad_input_is_told_and_leaves_no_file() {
    let folder = tempfile::tempdir().expect("a folder");
    let site = examples().join("site.toml").display().to_string();
    let log = examples().join("closing.csv").display().to_string();
    let run = |command: &str, more: &[&str]| {
        let all = [&[&*site, &*log][..], more].concat();
        let (code, _, said) = dosewarden(folder.path(), command, &all);
        (code, said)
    };
    for (command, more, words) in [
        (
            "close",
            &["--coldest", "0"][..],
            "--coldest is 0; right is 0.5 to 25",
        ),
        (
            "close",
            &["--days", "400"],
            "--days is 400; right is 1 to 365",
        ),
        ("close", &["--store", "46"], "--store is 46"),
        ("close", &["--half-life", "0.5"], "--half-life is 0.5"),
        (
            "open",
            &["--since", "spring"],
            "--since is `spring`; write it as 2032-04-10",
        ),
        (
            "open",
            &["--since", "2032-04-10", "--json", &site],
            "over another file",
        ),
    ] {
        let (code, said) = run(command, more);
        assert_eq!(code, Some(2), "{more:?}: {said}");
        assert!(said.contains(words), "{said}");
    }
    let bad = folder.path().join("bad.csv");
    let row = "time,what,of,value,with\n2032-04-10 09:00,strength,acid,60 g/L,\n";
    fs::write(&bad, row).expect("written");
    let (code, _, said) = dosewarden(
        folder.path(),
        "open",
        &[
            &site,
            "bad.csv",
            "--since",
            "2032-04-10",
            "--json",
            "a.json",
        ],
    );
    assert_eq!(code, Some(2));
    assert!(
        said.contains("bad.csv:2") && said.contains("gives no hypochlorite"),
        "{said}"
    );
    assert!(!folder.path().join("a.json").exists());
}

#[test]
fn json_says_the_same() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = |name: &str| examples().join(name).display().to_string();
    let (site, log) = (path("site.toml"), path("opening.csv"));
    let all = [&*site, &*log, "--since", "2032-04-10", "--json", "a.json"];
    let (code, sheet, _) = dosewarden(folder.path(), "open", &all);
    assert_eq!(code, Some(1));
    assert!(sheet.ends_with("Wrote a.json\n"), "{sheet}");
    let text = fs::read_to_string(folder.path().join("a.json")).expect("written");
    let json: serde_json::Value = serde_json::from_str(&text).expect("it is JSON");
    let items = json["items"].as_array().expect("items");
    let refused = items
        .iter()
        .filter(|one| one["state"]["refused"].is_string());
    assert_eq!(refused.count(), 2, "{text}");
    assert!(json["by_hand"]["steps"].is_array());
}
