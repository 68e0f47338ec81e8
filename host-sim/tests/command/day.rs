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
    let page = crate::common::page(&folder.path().join("a.html"));
    let json: serde_json::Value = serde_json::from_str(&read("a.json")).expect("it is JSON");
    let by_eye = "no figure of it was read in a code, so your local code decides";
    assert!(sheet.contains(by_eye) && page.contains(by_eye));
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
        let what = one["past"].as_str().expect("words");
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
            "--code is `atlantis`; it has to be one of mahc, california, ohio, delaware, quebec, montana, all",
        ),
        (
            &["--date", "2 May"],
            "--date is `2 May`; write it as 2031-05-02",
        ),
        (
            &["--until", "22:00"],
            "--until is `22:00`; it has to be a time within 07:00-21:00",
        ),
        (
            &["--body", "spa"],
            "--body is `spa`; the site has one body of water, so leave it out",
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
    assert_eq!(names(folder.path()), [""; 0]);
}

/// A day of another site, with a small log, named in the folder.
fn day_of(folder: &Path, site: &str, log: &str, more: &[&str]) -> (Option<i32>, String, String) {
    fs::write(folder.join("site.toml"), site).expect("written");
    fs::write(folder.join("log.csv"), log).expect("written");
    let all = [&["site.toml", "log.csv"][..], &HOURS, more].concat();
    dosewarden(folder, "day", &all)
}

const LOG: &str = "time,what,of,value,with\n2031-05-02 07:00,test,ph,pH 7.4,\n\
    2031-05-02 07:00,test,free_chlorine,1.6 mg/L,\n";

#[test]
fn the_site_names_its_code_and_an_option_takes_its_place() {
    let folder = tempfile::tempdir().expect("a folder");
    let site = fs::read_to_string(example("sites/home-pool.toml")).expect("a site");
    let (code, _, said) = day_of(folder.path(), &site, LOG, &["--json", "a.json"]);
    assert_eq!(code, Some(2), "{said}");
    for words in [
        "no code is named",
        "write `code = \"california\"` under [site]",
        "or add --code california",
        "one of mahc, california, ohio, delaware, quebec, montana, all",
    ] {
        assert!(said.contains(words), "{said}");
    }
    assert!(!folder.path().join("a.json").exists());
    let codes = |site: &str, more: &[&str]| -> Vec<String> {
        let all = [more, &["--json", "a.json"]].concat();
        let (_, _, said) = day_of(folder.path(), site, LOG, &all);
        let read = fs::read_to_string(folder.path().join("a.json"));
        let json: serde_json::Value = serde_json::from_str(&read.expect(&said)).expect("JSON");
        let named = json["codes"].as_array().expect("codes");
        let named = named.iter().filter_map(|one| one["name"].as_str());
        named.map(str::to_owned).collect()
    };
    let with = |code: &str| site.replacen("[site]\n", &format!("[site]\ncode = {code}\n"), 1);
    let all = [
        "mahc",
        "california",
        "ohio",
        "delaware",
        "quebec",
        "montana",
    ];
    assert_eq!(codes(&with("\"quebec\""), &[]), ["quebec"]);
    let list = with("[\"ohio\", \"mahc\", \"ohio\"]");
    assert_eq!(codes(&list, &[]), ["mahc", "ohio"]);
    assert_eq!(codes(&with("\"all\""), &[]), all);
    assert_eq!(codes(&list, &["--code", "delaware"]), ["delaware"]);
    assert_eq!(codes(&site, &["--code", "all"]), all);
    for (wrong, words) in [
        ("\"atlantis\"", "site.toml:"),
        ("\"quebek\"", "did you mean \"quebec\"?"),
        ("[]", "an empty list"),
        ("7", "a text in quotes"),
    ] {
        let (code, _, said) = day_of(folder.path(), &with(wrong), LOG, &[]);
        assert_eq!(code, Some(2), "{said}");
        assert!(said.contains(words), "{said}");
    }
}

const HEAD: &str = "time,what,of,value,with,body\n";
const RECORD: &str = "clock,ph_shown,orp_shown_mv,moving,powered,body\n\
    2031-05-02 07:00,7.45,690,1,1,spa\n2031-05-02 07:05,7.55,690,1,1,pool\n";

fn row(body: &str) -> String {
    format!("2031-05-02 07:00,test,ph,pH 7.4,,{body}\n")
}

/// Whether the day of the pool with a spa was made, and what was said.
fn of_two(folder: &Path, log: &str, more: &[&str]) -> (bool, String) {
    let site = fs::read_to_string(example("sites/pool-and-spa.toml")).expect("a site");
    let all = [more, &["--code", "mahc"]].concat();
    let (code, sheet, said) = day_of(folder, &site, log, &all);
    (code != Some(2), sheet + &said)
}

#[test]
fn of_two_bodies_the_log_or_an_option_says_which() {
    let folder = tempfile::tempdir().expect("a folder");
    let told = |log: &str, more: &[&str]| of_two(folder.path(), log, more);
    for (log, more, words) in [
        (
            LOG.to_owned(),
            &[][..],
            "two bodies of water, pool, spa, and a day is of one: add --body pool",
        ),
        (
            LOG.to_owned(),
            &["--body", "sea"],
            "--body is `sea`; it has to be one of pool, spa",
        ),
        (
            HEAD.to_owned() + &row("pool") + &row("spa"),
            &[],
            "add --body pool",
        ),
        (
            HEAD.to_owned() + &row("sea"),
            &[],
            "log.csv:2:1: body is `sea`; it has to be one of pool, spa",
        ),
        (
            HEAD.to_owned() + &row(""),
            &[],
            "log.csv:2:1: body is ``; it has to be one of pool, spa",
        ),
    ] {
        let (is_done, said) = told(&log, more);
        assert!(!is_done && said.contains(words), "{log}{more:?}: {said}");
    }
}

#[test]
fn the_day_of_a_body_is_by_its_own_rows() {
    let folder = tempfile::tempdir().expect("a folder");
    let told = |log: &str, more: &[&str]| of_two(folder.path(), log, more);
    fs::write(folder.path().join("record.csv"), RECORD).expect("written");
    let (is_done, said) = told(LOG, &["--body", "spa"]);
    assert!(
        is_done && said.contains("Larkspur Terrace, spa, 2031-05-02"),
        "{said}"
    );
    let both = HEAD.to_owned() + &row("pool") + &row("spa").replace("7.4", "7.6");
    let (is_done, said) = told(
        &(HEAD.to_owned() + &row("spa")),
        &["--record", "record.csv"],
    );
    assert!(
        is_done && said.contains("Terrace, spa,") && said.contains("7.45"),
        "{said}"
    );
    let (_, pool) = told(&both, &["--body", "pool", "--record", "record.csv"]);
    assert!(
        pool.contains("Terrace, pool,") && pool.contains("7.40        -"),
        "{pool}"
    );
    let (_, spa) = told(&both, &["--body", "spa", "--record", "record.csv"]);
    assert!(spa.contains("7.60     7.45"), "{spa}");
    for (wrong, words) in [
        (
            RECORD.replace(",body", ",water"),
            "record.csv:1:1: column `body` is missing",
        ),
        (
            RECORD.replace("1,pool", "1,sea"),
            "record.csv:3:1: body is \"sea\"; it has to be one of pool, spa",
        ),
    ] {
        fs::write(folder.path().join("record.csv"), wrong).expect("written");
        let (is_done, said) = told(&both, &["--body", "pool", "--record", "record.csv"]);
        assert!(!is_done && said.contains(words), "{said}");
    }
    // A site of one body has no such column to fill.
    let one = fs::read_to_string(example("sites/community-pool.toml")).expect("a site");
    let (code, _, said) = day_of(folder.path(), &one, &both, &[]);
    assert_eq!(code, Some(2));
    assert!(
        said.contains("log.csv:2:1: body is `pool`; the site has one body of water"),
        "{said}"
    );
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
