//! The pages that commands write: each opens without anything else, and says what its text says.

use std::fs;
use std::path::Path;

use dosewarden_sim::plan::HOME_POOL;

use crate::common::{dosewarden, page, told};

const FIRST_POOL: &str = include_str!("../../../examples/scenarios/first-pool.toml");
const LOG: &str = "time,what,of,value,with\n\
    2031-05-02 10:00,fed,acid,40 L,\n2031-05-02 10:00,fed,chlorine,90 L,\n\
    2031-05-02 10:00,test,ph,pH 7.5,\n2031-05-02 10:00,test,alkalinity,90 mg/L,\n\
    2031-05-02 10:00,test,free_chlorine,2.4 mg/L,\n\
    2031-05-09 10:00,fed,acid,42 L,\n2031-05-09 10:00,fed,chlorine,97 L,\n\
    2031-05-09 10:00,test,ph,pH 7.1,\n2031-05-09 10:00,test,alkalinity,85 mg/L,\n\
    2031-05-09 10:00,test,free_chlorine,2.1 mg/L,\n";

fn written(folder: &Path, command: &str, arguments: &[&str]) -> (Option<i32>, String) {
    let all = [arguments, &["--report", "a.html"]].concat();
    let (code, said, warned) = dosewarden(folder, command, &all);
    assert!(code.is_some_and(|code| code < 2), "{said}{warned}");
    (code, page(&folder.join("a.html")))
}

#[track_caller]
fn has(page: &str, parts: &[&str]) {
    for part in parts {
        assert!(page.contains(part), "{part:?} is not on the page");
    }
}

#[test]
fn the_page_of_a_run_has_lanes_for_phases_and_states_of_alarms() {
    let folder = tempfile::tempdir().expect("a folder");
    // Somebody shelves what may be shelved and acknowledges the rest while it still stands.
    let scenario = FIRST_POOL.replace(
        "at = \"day 5 17:11\"\nperson = \"acknowledge\"",
        "at = \"day 5 14:30\"\nperson = \"shelve\"\nby = \"technician\"\n\n\
         [[event]]\nat = \"day 5 15:30\"\nperson = \"acknowledge\"",
    );
    assert!(scenario.contains("shelve"));
    fs::write(folder.path().join("my.toml"), scenario).expect("written");
    let days = ["my.toml", "--days", "6", "--json", "a.json"];
    let (code, page) = written(folder.path(), "run", &days);
    assert_eq!(code, Some(0));
    has(
        &page,
        &[
            "acid: its phase, what it fed, and what refused it",
            "phase: feeding",
            "phase: awaiting flow",
            "refused: flow_proven",
            "<rect class=\"phase\"",
            "what happened, and alarms with their states",
            "<rect class=\"acknowledged\"",
            "<rect class=\"returned\"",
            "<rect class=\"aside\"",
            "flow_absent: shelved: day 5 14:30 for ",
            "<details><summary>",
            "<li>phase: spreading: ",
            "<caption>Phases of acid.</caption>",
        ],
    );
    let json = fs::read_to_string(folder.path().join("a.json")).expect("written");
    let json: serde_json::Value = serde_json::from_str(&json).expect("JSON");
    let seconds = |all: &serde_json::Value, of: &[&str]| -> i64 {
        let all = all.as_array().into_iter().flatten();
        let own = all.filter(|one| of.is_empty() || of.iter().any(|name| one["name"] == *name));
        own.filter_map(|one| one["seconds"].as_i64()).sum()
    };
    // In each powered tick a feeder is in one phase, and an alarm that stands in one of two states.
    let powered = 6 * 86_400 - json["unpowered_s"].as_i64().expect("a time");
    for feeder in json["feeders"].as_array().expect("feeders") {
        let told = seconds(&feeder["phases"], &[]);
        assert!((told - powered).abs() <= 9, "{told} of {powered}");
    }
    let alarms = json["alarms"].as_array().expect("alarms");
    assert!(alarms.len() > 3);
    for alarm in alarms {
        let stood = alarm["seconds"].as_i64().expect("a time");
        let told = seconds(&alarm["states"], &["unacknowledged", "acknowledged"]);
        assert!((told - stood).abs() <= 2, "{alarm}");
    }
}

/// `records_differ` stays listed until somebody resets it, and nobody does.
#[test]
fn an_alarm_that_latches_says_so_for_as_long() {
    let folder = tempfile::tempdir().expect("a folder");
    let resets = include_str!("../../../examples/scenarios/three-hundred-resets.toml");
    fs::write(folder.path().join("my.toml"), resets).expect("written");
    let (code, page) = written(folder.path(), "run", &["my.toml", "--json", "a.json"]);
    assert_eq!(code, Some(0));
    has(&page, &["records_differ: latched: day 1 "]);
    let json = fs::read_to_string(folder.path().join("a.json")).expect("written");
    let json: serde_json::Value = serde_json::from_str(&json).expect("JSON");
    let mut alarms = json["alarms"].as_array().expect("alarms").iter();
    let alarm = alarms.find(|one| one["name"] == "records_differ");
    let states = alarm.expect("it came")["states"]
        .as_array()
        .expect("states");
    let seconds = |named: bool| -> u64 {
        let own = states
            .iter()
            .filter(|one| (one["name"] == "latched") == named);
        own.filter_map(|one| one["seconds"].as_u64()).sum()
    };
    let (latched, others) = (seconds(true), seconds(false));
    assert!(
        latched > 86_400 && latched.abs_diff(others) <= 2,
        "{states:?}"
    );
}

#[test]
fn the_page_of_a_plan_has_each_figure_with_what_it_rests_on() {
    let folder = tempfile::tempdir().expect("a folder");
    fs::write(folder.path().join("site.toml"), HOME_POOL).expect("written");
    let (code, page) = written(folder.path(), "plan", &["site.toml", "--json", "a.json"]);
    assert_eq!(code, Some(0));
    let json = fs::read_to_string(folder.path().join("a.json")).expect("written");
    let json: serde_json::Value = serde_json::from_str(&json).expect("JSON");
    for (feeder, unit) in [(0, "mL"), (1, "mL")] {
        let own = &json["figures"]["feeders"][feeder];
        for cap in ["cycle_cap", "hour_cap", "day_cap"] {
            let value = own[cap].as_f64().expect("a cap");
            let shown = format!("{value:.*} {unit}</td>", usize::from(value < 10.0));
            assert!(page.contains(&shown), "{cap}: {shown}");
        }
    }
    has(
        &page,
        &[
            "Fernleigh Garden Pool: commissioning sheet",
            "dosewarden plan site.toml",
            "from the cut-off at pH 7.30 and the lowest alkalinity, ends at pH 6.8",
            "<th scope=\"row\">hold after a cycle</th>",
            "Before feeding starts, by hand, in this order",
            "Now and every 90 days after each",
            "Never mix acid and hypochlorite",
        ],
    );
    for finding in json["findings"].as_array().expect("findings") {
        has(&page, &[finding["name"].as_str().expect("a name")]);
    }
    let wrong = HOME_POOL.replace("caught = \"26 mL\"", "caught = \"5 mL\"");
    fs::write(folder.path().join("site.toml"), wrong).expect("written");
    let (code, page) = written(folder.path(), "plan", &["site.toml"]);
    assert_eq!(code, Some(1));
    has(&page, &["verdict broken", "rate_disagrees"]);
}

#[test]
fn the_page_of_an_explanation_splits_the_movement() {
    let folder = tempfile::tempdir().expect("a folder");
    fs::write(folder.path().join("site.toml"), HOME_POOL).expect("written");
    fs::write(folder.path().join("my log.csv"), LOG).expect("written");
    let times = [
        "my log.csv",
        "--from",
        "2031-05-02 10:00",
        "--to",
        "2031-05-09 10:00",
        "--site",
        "site.toml",
    ];
    let (code, page) = written(folder.path(), "explain", &times);
    assert_eq!(code, Some(0));
    has(
        &page,
        &[
            "dosewarden explain &#x27;my log.csv&#x27; --from &#x27;2031-05-02 10:00&#x27;",
            "aria-label=\"pH: what moved it\"",
            "alkalinity as CaCO3, mg/L, moved by",
            "free chlorine, mg/L, moved by",
            "class=\"error\"",
            "<th scope=\"row\">CO2 that left</th>",
            "<th scope=\"row\">not explained</th>",
            "would fit the remainder",
        ],
    );
    // What the text says is what the table says.
    let (_, said, _) = dosewarden(folder.path(), "explain", &times);
    let line = said
        .lines()
        .find(|line| line.trim().starts_with("acid, as booked"));
    let figures: Vec<&str> = line.expect("a row").split_whitespace().collect();
    let [.., ph, alkalinity, chlorine] = figures.as_slice() else {
        panic!("{figures:?}");
    };
    // Nothing has no sign on the page.
    assert_eq!(*chlorine, "+0.0");
    let row = format!(
        "acid, as booked</th><td class=\"n\">{ph}</td><td class=\"n\">{alkalinity}</td><td class=\"n\">0.0</td>"
    );
    has(&page, &[&row]);
}

#[test]
fn the_page_of_a_walk_says_what_was_walked_and_what_not() {
    let folder = tempfile::tempdir().expect("a folder");
    let part = ["--config", "x3-answers", "--states-max", "500"];
    let (code, page) = written(folder.path(), "explore", &part);
    assert_eq!(code, Some(0));
    has(
        &page,
        &[
            "verdict mend",
            "Verdict: HELD as far as it went; 0 of 1 part walked to the end; cut at their largest number of states (--states-max), and not looked at beyond: x3-answers.",
            "dosewarden explore --config x3-answers --states-max 500",
            "acid by pH, two unanswered cycles at most",
            "<th scope=\"row\">NAMES_IT</th>",
            "<th scope=\"row\">FED_AGAIN</th>",
            "What this leaves out",
        ],
    );
}

#[test]
fn the_other_pages_are_whole() {
    let folder = tempfile::tempdir().expect("a folder");
    fs::write(folder.path().join("site.toml"), HOME_POOL).expect("written");
    fs::write(folder.path().join("log.csv"), LOG).expect("written");
    written(folder.path(), "visit", &["site.toml", "log.csv"]);
    let few = ["--faults", "random", "--runs", "2", "--jobs", "2"];
    let (_, campaign) = written(folder.path(), "campaign", &few);
    has(
        &campaign,
        &["<h1>Random faults on ", " simulated hours, seed 1."],
    );
    let trace = ["run", "--days", "1", "--trace", "t.csv"];
    told(&crate::common::run(folder.path(), &trace));
    fs::write(folder.path().join("pool.toml"), FIRST_POOL).expect("written");
    written(folder.path(), "audit", &["t.csv", "--site", "pool.toml"]);
    let rules = ["rules", "--as", "html", "--out", "rules.html"];
    told(&crate::common::run(folder.path(), &rules));
    page(&folder.path().join("rules.html"));
    let reason = ["rules", "hand_day", "--as", "html", "--out", "reason.html"];
    told(&crate::common::run(folder.path(), &reason));
    let reason = page(&folder.path().join("reason.html"));
    has(&reason, &["<dt>hand_day</dt>"]);
    assert!(!reason.contains("<nav"), "a list of no rules");
}

/// Their names are in no help, where they would fill a screen.
#[test]
fn a_shell_completes_the_names_of_rules_and_the_help_does_not_list_them() {
    let here = std::path::Path::new(".");
    for shell in ["bash", "zsh"] {
        let script = told(&crate::common::run(here, &["completions", shell]));
        for name in ["flow_proven", "other_has_turn"] {
            assert!(script.contains(name), "{shell}: {name}");
        }
    }
    for asked in [&["rules", "--help"][..], &["manual", "rules"]] {
        let help = told(&crate::common::run(here, asked));
        assert!(!help.contains("flow"), "{help}");
    }
}
