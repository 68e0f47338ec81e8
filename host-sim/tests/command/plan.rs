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

/// Lives a small campaign of the site in `site.toml`, as JSON into this file.
fn campaign(folder: &Path, json: &str, arguments: &[&str]) {
    let few = [
        "campaign",
        "--site",
        "./site.toml",
        "--only",
        "S3,K10",
        "--json",
        json,
    ];
    let output = run(folder, &[&few, arguments].concat());
    assert_eq!(output.status.code(), Some(0), "{output:?}");
}

#[test]
fn what_faults_did_to_the_water_stands_on_the_sheet_and_the_page() {
    let folder = tempfile::tempdir().expect("a folder");
    fs::write(folder.path().join("site.toml"), HOME_POOL).expect("written");
    campaign(folder.path(), "single.json", &["--runs", "1"]);
    campaign(folder.path(), "pairs.json", &["--faults", "pairs"]);
    let both = [
        "--campaign",
        "single.json",
        "pairs.json",
        "--json",
        "a.json",
        "--report",
        "a.html",
    ];
    let output = plan(folder.path(), HOME_POOL, &both);
    let told = String::from_utf8_lossy(&output.stdout).into_owned();
    assert_eq!(output.status.code(), Some(0), "{told}{output:?}");
    let json = |file: &str| -> serde_json::Value {
        let text = fs::read_to_string(folder.path().join(file)).expect("written");
        serde_json::from_str(&text).expect("it is JSON")
    };
    let (sheet, page) = (
        json("a.json"),
        fs::read_to_string(folder.path().join("a.html")).expect("written"),
    );
    for (number, (file, words)) in [
        ("single.json", "single faults"),
        ("pairs.json", "pairs of faults"),
    ]
    .into_iter()
    .enumerate()
    {
        let cases = json(file);
        let cases = cases["cases"].as_array().expect("cases");
        for (place, (what, key, most)) in [
            ("lowest pH", "ph_min", f64::min as fn(f64, f64) -> f64),
            ("highest pH", "ph_max", f64::max),
            ("lowest free chlorine", "chlorine_min_mg_l", f64::min),
            ("highest free chlorine", "chlorine_max_mg_l", f64::max),
        ]
        .into_iter()
        .enumerate()
        {
            let values = cases.iter().filter_map(|case| case[key]["value"].as_f64());
            let value = values.reduce(most).expect("a trial");
            let said = &sheet["tried"][number]["furthest"][place];
            assert_eq!(
                (said["what"].as_str(), said["value"].as_f64()),
                (Some(what), Some(value)),
                "{file}"
            );
            for text in [&told, &page] {
                for part in [words, what, &format!("{value:.2}")] {
                    assert!(text.contains(part), "{part:?} is not in {text}");
                }
            }
        }
    }
    assert!(
        told.contains("Simulated with pairs of faults (1 trial, seed 1): INSIDE THE BOUNDS"),
        "{told}"
    );
    assert!(
        page.contains("dosewarden plan site.toml --campaign single.json pairs.json"),
        "{page}"
    );
}

#[test]
fn a_campaign_that_is_not_of_this_site_or_not_whole_is_refused() {
    let folder = tempfile::tempdir().expect("a folder");
    fs::write(folder.path().join("site.toml"), HOME_POOL).expect("written");
    campaign(
        folder.path(),
        "part.json",
        &["--runs", "2", "--shard", "1/2"],
    );
    campaign(folder.path(), "whole.json", &["--runs", "1"]);
    let other = HOME_POOL.replace("caught = \"26 mL\"", "caught = \"27 mL\"");
    let no_unit = [
        "campaign",
        "--site",
        "site.toml",
        "--only",
        "S3",
        "--runs",
        "1",
        "--canary",
        "late-on-flow-loss",
        "--json",
        "broken.json",
    ];
    run(folder.path(), &no_unit);
    fs::write(folder.path().join("no.json"), "{}").expect("written");
    for (site, json, words) in [
        (
            HOME_POOL,
            "part.json",
            "part.json: is a part of a campaign: make it whole, or put its parts together with `campaign --merge`",
        ),
        (
            &other,
            "whole.json",
            "whole.json: is of another site, other settings or other bounds (Fernleigh Garden Pool, as planned)",
        ),
        (
            HOME_POOL,
            "broken.json",
            "broken.json: was made with a unit broken on purpose (late-on-flow-loss): make it without --canary",
        ),
        (HOME_POOL, "no.json", "no.json:1:"),
        (HOME_POOL, "none.json", "none.json: cannot be read"),
    ] {
        let output = plan(
            folder.path(),
            site,
            &["--campaign", json, "--scenario", "a.toml"],
        );
        let told = String::from_utf8_lossy(&output.stderr).into_owned();
        assert_eq!(output.status.code(), Some(2), "{told}");
        assert!(told.contains(words), "{words:?} is not in {told}");
        assert!(!folder.path().join("a.toml").exists(), "{json}");
    }
}
