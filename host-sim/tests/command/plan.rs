//! `dosewarden plan`: exit status, files, and that bad input leaves none.

use std::fs;
use std::path::Path;
use std::process::Output;

use dosewarden_sim::plan::HOME_POOL;

use crate::common::{one_error, run};

fn plan(folder: &Path, text: &str, arguments: &[&str]) -> Output {
    fs::write(folder.join("site.toml"), text).expect("written");
    run(folder, &[&["plan", "site.toml"], arguments].concat())
}

#[test]
fn a_sound_site_gives_its_sheet_and_files() {
    let folder = tempfile::tempdir().expect("a folder");
    let files = ["--json", "a.json", "--scenario", "a.toml", "--rust", "a.rs"];
    let output = plan(folder.path(), HOME_POOL, &files);
    let told = String::from_utf8_lossy(&output.stdout).into_owned();
    assert_eq!(output.status.code(), Some(0), "{told}");
    for part in [
        "Commissioning sheet: Fernleigh Garden Pool",
        "Before feeding starts, by hand, in this order",
        "a day's cap at once      from pH 7.30, at the lowest alkalinity: pH 6.80",
        "Proof test now and every 90 days",
        "Never mix acid and hypochlorite; gloves and goggles.",
    ] {
        assert!(told.contains(part), "{part:?} is not in {told}");
    }
    let json = fs::read_to_string(folder.path().join("a.json")).expect("written");
    let json: serde_json::Value = serde_json::from_str(&json).expect("it is JSON");
    assert_eq!(json["figures"]["feeders"][0]["name"], "acid");
    let scenario = fs::read_to_string(folder.path().join("a.toml")).expect("written");
    let rust = fs::read_to_string(folder.path().join("a.rs")).expect("written");
    assert!(
        !told.contains(&scenario) && !told.contains(&rust),
        "they are in their files"
    );
    assert!(!told.contains("Limits for a firmware"), "{told}");
    assert!(
        rust.contains("pool.set_care(CARE); // stages, cold water"),
        "{rust}"
    );
    let bare = plan(folder.path(), HOME_POOL, &["--rust", "b.rs"]);
    let bare = String::from_utf8_lossy(&bare.stdout).into_owned();
    assert!(
        bare.contains(&scenario),
        "the sheet ends with what no file has"
    );
    assert!(!bare.contains(&rust), "{bare}");
    assert!(rust.contains("pub const SPEC: LimitsSpec<2, 1>"));
}

#[test]
fn an_error_finding_is_exit_status_one() {
    let folder = tempfile::tempdir().expect("a folder");
    let other = HOME_POOL.replace("caught = \"26 mL\"", "caught = \"5 mL\"");
    let output = plan(folder.path(), &other, &[]);
    let told = String::from_utf8_lossy(&output.stdout).into_owned();
    assert_eq!(output.status.code(), Some(1), "{told}");
    assert!(
        told.contains("less than entered (rate_disagrees)"),
        "{told}"
    );
    assert!(told.contains("There are error findings"), "{told}");
}

#[test]
fn bad_input_is_one_error_and_leaves_no_file() {
    let folder = tempfile::tempdir().expect("a folder");
    let wrong = HOME_POOL.replace("length = \"9 m\"", "length = \"9 L\"");
    let output = plan(folder.path(), &wrong, &["--scenario", "a.toml"]);
    let told = String::from_utf8_lossy(&output.stderr).into_owned();
    assert_eq!(output.status.code(), Some(2), "{told}");
    assert!(told.starts_with("error: site.toml:"), "{told}");
    assert!(told.contains("a volume; it has to be a length"), "{told}");
    one_error(&told);
    let line = wrong
        .lines()
        .position(|line| line.contains("9 L"))
        .expect("a line");
    let quote = format!("{} | length = \"9 L\"", line + 1);
    assert!(told.contains(&quote) && told.contains("^^^^^"), "{told}");
    assert!(!folder.path().join("a.toml").exists());
    let output = plan(folder.path(), HOME_POOL, &["--json", "site.toml"]);
    assert_eq!(output.status.code(), Some(2));
    let kept = fs::read_to_string(folder.path().join("site.toml")).expect("there");
    assert_eq!(kept, HOME_POOL, "the site is not written over");
}
