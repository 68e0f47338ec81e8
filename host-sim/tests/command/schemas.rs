//! What `--json` writes fits the schema that `dosewarden schema` prints for it, field by field.

use std::fs;
use std::path::Path;

use dosewarden_sim::plan::HOME_POOL;
use serde_json::{Value, json};

use crate::common::{dosewarden, run, told};

const FIRST_POOL: &str = include_str!("../../../examples/scenarios/first-pool.toml");
const SITE: &str = include_str!("../../../examples/seasons/marsh-end/site.toml");
const LOG: &str = include_str!("../../../examples/seasons/marsh-end/opened.csv");

/// The schema of a command, with no field besides those that it names.
fn schema(command: &str) -> Value {
    let text = told(&run(Path::new("."), &["schema", command]));
    let mut schema: Value = serde_json::from_str(&text).expect("JSON");
    close(&mut schema);
    schema
}

fn close(part: &mut Value) {
    match part {
        Value::Object(fields) => {
            fields.values_mut().for_each(close);
            if fields.contains_key("properties") {
                fields.insert("additionalProperties".to_owned(), json!(false));
            }
        }
        Value::Array(all) => all.iter_mut().for_each(close),
        _ => {}
    }
}

/// Runs a command that writes JSON; what it wrote has to fit.
#[track_caller]
fn fits(folder: &Path, schema_of: &str, arguments: &[&str]) -> Value {
    let all = [arguments, &["--json", "out.json"]].concat();
    let (code, said, warned) = dosewarden(folder, all[0], &all[1..]);
    assert!(code.is_some_and(|code| code < 2), "{all:?}: {said}{warned}");
    let text = fs::read_to_string(folder.join("out.json")).expect("written");
    let found: Value = serde_json::from_str(&text).expect("JSON");
    let validator = jsonschema::draft202012::new(&schema(schema_of)).expect("a schema");
    let wrong: Vec<String> = validator
        .iter_errors(&found)
        .map(|error| format!("{}: {error}", error.instance_path()))
        .take(5)
        .collect();
    assert!(wrong.is_empty(), "{schema_of}: {wrong:?}");
    found
}

fn folder() -> tempfile::TempDir {
    let folder = tempfile::tempdir().expect("a folder");
    for (name, text) in [
        ("site.toml", SITE),
        ("pool.toml", FIRST_POOL),
        ("log.csv", LOG),
    ] {
        fs::write(folder.path().join(name), text).expect("written");
    }
    folder
}

#[test]
fn a_run_and_what_is_read_from_its_trace_fit() {
    let folder = folder();
    let here = folder.path();
    let found = fits(
        here,
        "run",
        &["run", "pool.toml", "--days", "2", "--trace", "t.csv"],
    );
    assert!(found["feeders"][0]["phases"].is_array());
    fits(here, "why", &["why", "t.csv"]);
    fits(here, "audit", &["audit", "t.csv", "--site", "pool.toml"]);
    // Something that is not in the schema is found out.
    let mut other = found;
    other["feeders"][0]["colour"] = json!("blue");
    let validator = jsonschema::draft202012::new(&schema("run")).expect("a schema");
    assert!(!validator.is_valid(&other));
    other["feeders"][0]
        .as_object_mut()
        .expect("a feeder")
        .remove("colour");
    assert!(validator.is_valid(&other));
    other["days"] = json!("seven");
    assert!(!validator.is_valid(&other));
}

#[test]
fn plans_and_logs_of_visits_fit() {
    let folder = folder();
    let here = folder.path();
    fits(here, "plan", &["plan", "site.toml"]);
    let two = include_str!("../../../examples/sites/pool-and-spa.toml");
    fs::write(here.join("two.toml"), two).expect("written");
    fits(here, "plan", &["plan", "two.toml"]);
    fits(here, "visit", &["visit", "site.toml", "log.csv"]);
    fits(here, "close", &["close", "site.toml", "log.csv"]);
    fits(
        here,
        "open",
        &["open", "site.toml", "log.csv", "--since", "2032-04-10"],
    );
    let visits = concat!(env!("CARGO_MANIFEST_DIR"), "/../examples/visits");
    fits(here, "visits", &["visit", visits]);
}

#[test]
fn an_explanation_fits() {
    let folder = folder();
    let log = "time,what,of,value,with\n\
        2031-05-02 10:00,fed,acid,40 L,\n2031-05-02 10:00,fed,chlorine,90 L,\n\
        2031-05-02 10:00,test,ph,pH 7.5,\n2031-05-02 10:00,test,alkalinity,90 mg/L,\n\
        2031-05-02 10:00,test,free_chlorine,2.4 mg/L,\n\
        2031-05-09 10:00,fed,acid,42 L,\n2031-05-09 10:00,fed,chlorine,97 L,\n\
        2031-05-09 10:00,test,ph,pH 7.1,\n2031-05-09 10:00,test,alkalinity,85 mg/L,\n\
        2031-05-09 10:00,test,free_chlorine,2.1 mg/L,\n";
    fs::write(folder.path().join("two.csv"), log).expect("written");
    fs::write(folder.path().join("site.toml"), HOME_POOL).expect("written");
    let times = ["--from", "2031-05-02 10:00", "--to", "2031-05-09 10:00"];
    let asked = [&["explain", "two.csv", "--site", "site.toml"], &times[..]].concat();
    let found = fits(folder.path(), "explain", &asked);
    assert!(!found["suspects"].as_array().expect("suspects").is_empty());
}

#[test]
fn walks_campaigns_water_and_rules_fit() {
    let folder = folder();
    let here = folder.path();
    let part = ["explore", "--config", "x3-answers", "--states-max", "500"];
    fits(here, "explore", &part);
    let few = [
        "campaign", "--faults", "random", "--runs", "2", "--jobs", "2",
    ];
    fits(here, "campaign", &few);
    let rows = "temp_c,ta_mg_l,ca_mg_l,tds_mg_l,ph,to_ph,cya_mg_l\n\
        25,100,300,1000,7.8,7.2,\n25,100,0,1000,7.5,,50\n";
    fs::write(here.join("in.csv"), rows).expect("written");
    let water = ["water", "--batch", "in.csv", "--out", "out.csv"];
    let found = fits(here, "water", &water);
    assert!(found[0]["hcl_mmol_l"].as_f64() > Some(0.0), "{found}");
    assert!(
        found[1]["hcl_mmol_l"].is_null() && found[1]["si_calcite"].is_null(),
        "{found}"
    );
    let found = fits(here, "rules", &["rules", "day_cap", "flow_proven"]);
    assert_eq!(found[1]["rule"], "flow_proven");
    // A reason that is no rule was left out, and by itself it was an empty array.
    let both = ["rules", "other_has_turn", "day_cap"];
    let found = fits(here, "rules", &both);
    assert_eq!(found[0]["rule"], "day_cap");
    assert_eq!(found[1]["reason"], "other_has_turn");
    assert_eq!(found[1]["words"], "an incompatible product has the turn");
    let printed = crate::common::run(here, &["rules", "other_has_turn", "--as", "json"]);
    let printed: Value = serde_json::from_str(&told(&printed)).expect("JSON");
    assert_eq!(printed[0], found[1]);
    assert_eq!(printed.as_array().map(Vec::len), Some(1));
}

#[test]
fn a_day_and_a_board_fit() {
    let folder = folder();
    let examples = Path::new(env!("CARGO_MANIFEST_DIR")).join("../examples");
    let at = |name: &str| examples.join(name).display().to_string();
    let (site, log) = (
        at("sites/community-pool.toml"),
        at("days/harrowmere/log.csv"),
    );
    let record = at("days/harrowmere/record.csv");
    let all = [
        "day",
        &site,
        &log,
        "--hours",
        "07:00-21:00",
        "--record",
        &record,
    ];
    fits(folder.path(), "day", &all);
    let boards = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/command/boards");
    let image = format!("{boards}/home-pool.bin");
    let home = at("sites/home-pool.toml");
    fits(folder.path(), "board", &["board", &image, "--site", &home]);
}
