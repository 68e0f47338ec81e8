//! `dosewarden visit`: sheets as committed beside the example logs, exit status, files, and that bad input leaves none.
//!
//! `VISIT_WRITE=1 cargo test -p dosewarden-sim --test command visit::` writes the sheets anew.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Output;

use dosewarden_sim::plan::HOME_POOL;

use crate::common::{one_error, run};

fn examples() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../examples/visits")
}

fn visit(folder: &Path, arguments: &[&str]) -> Output {
    run(folder, &[&["visit"], arguments].concat())
}

fn told(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

/// What is printed is what stands in the file.
#[track_caller]
fn as_committed(file: &str, printed: &str) {
    let path = examples().join(file);
    if std::env::var_os("VISIT_WRITE").is_some() {
        fs::write(&path, printed).expect("written");
    }
    let committed = fs::read_to_string(&path).expect(file);
    assert!(
        committed == printed,
        "{file} is stale; it would be\n{printed}"
    );
}

#[test]
fn the_examples_give_the_sheets_beside_them() {
    for (name, code) in [("alder-lane", 1), ("corran-house", 1), ("long-meadow", 0)] {
        let folder = examples().join(name);
        let output = visit(&folder, &["site.toml", "log.csv"]);
        assert_eq!(
            output.status.code(),
            Some(code),
            "{name}: {}",
            told(&output.stderr)
        );
        as_committed(&format!("{name}/sheet.txt"), &told(&output.stdout));
    }
    let round = visit(&examples(), &["."]);
    assert_eq!(round.status.code(), Some(1));
    as_committed("round.txt", &told(&round.stdout));
}

#[test]
fn a_visit_writes_json_and_a_page_that_needs_nothing_else() {
    let folder = tempfile::tempdir().expect("a folder");
    let site = examples().join("alder-lane/site.toml");
    let log = examples().join("alder-lane/log.csv");
    let (site, log) = (site.to_string_lossy(), log.to_string_lossy());
    let files = [&*site, &*log, "--json", "a.json", "--report", "a.html"];
    let output = visit(folder.path(), &files);
    assert_eq!(output.status.code(), Some(1), "{}", told(&output.stderr));
    assert!(told(&output.stdout).ends_with("Wrote a.json\nWrote a.html\n"));
    let json = fs::read_to_string(folder.path().join("a.json")).expect("written");
    let json: serde_json::Value = serde_json::from_str(&json).expect("it is JSON");
    assert_eq!(json["causes"][0]["name"], "feeds_more");
    assert_eq!(json["causes"][0]["feeder"], "acid");
    assert!(
        json["rates"][0]["ratio"]["error"]
            .as_f64()
            .is_some_and(|error| error > 0.0)
    );
    let page = fs::read_to_string(folder.path().join("a.html")).expect("written");
    assert!(page.contains("feeds_more") && page.contains("Never mix acid and hypochlorite"));
    for elsewhere in ["http", "<script", "<link", "src="] {
        assert!(!page.contains(elsewhere), "{elsewhere}");
    }
}

/// The one line of the error, and that nothing was written.
#[track_caller]
fn refused(folder: &Path, arguments: &[&str]) -> String {
    let before = fs::read_dir(folder).expect("a folder").count();
    let output = visit(folder, arguments);
    let why = told(&output.stderr);
    assert_eq!(output.status.code(), Some(2), "{why}");
    assert!(output.stdout.is_empty());
    one_error(&why);
    assert_eq!(fs::read_dir(folder).expect("a folder").count(), before);
    why
}

#[test]
fn bad_input_is_one_error_and_leaves_no_file() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path();
    let write = |name: &str, text: &str| fs::write(path.join(name), text).expect("written");
    write("site.toml", HOME_POOL);
    write(
        "log.csv",
        "time,what,of,value,with\n2031-05-02 10:00,test,ph,7.5,\n",
    );
    let json = ["site.toml", "log.csv", "--json", "a.json"];
    let why = refused(path, &json);
    assert!(
        why.starts_with("error: log.csv:2:1: value `7.5` has no unit"),
        "{why}"
    );
    write("log.csv", "time,what,of,value\n");
    let why = refused(path, &json);
    assert!(
        why.starts_with("error: log.csv:1:1: column `with` is missing"),
        "{why}"
    );
    write(
        "log.csv",
        "time,what,of,value,with\n2031-05-02 10:00,test,ph,pH 7.5,\n",
    );
    let why = refused(path, &["site.toml"]);
    assert_eq!(
        why,
        "error: site.toml: a site's log of visits has to be named after it: dosewarden visit site.toml LOG.csv\n"
    );
    let why = refused(path, &["no-such-folder"]);
    assert_eq!(
        why,
        "error: no-such-folder: is not there; name a site and its log of visits, or a folder with such pairs\n"
    );
    assert!(refused(path, &["site.toml", "no.csv"]).contains("no.csv: cannot be read"));
    let over = refused(path, &["site.toml", "log.csv", "--json", "log.csv"]);
    assert!(
        over.contains("would be written over another file"),
        "{over}"
    );
    let twice = refused(
        path,
        &["site.toml", "log.csv", "--json", "a", "--report", "a"],
    );
    assert!(
        twice.contains("would be written over another file"),
        "{twice}"
    );
}

#[test]
fn a_folder_needs_a_log_beside_each_site() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path();
    assert!(refused(path, &["."]).contains("holds no pool"));
    fs::write(path.join("one.toml"), HOME_POOL).expect("written");
    assert!(refused(path, &["."]).contains("has no log beside it"));
    let log = "time,what,of,value,with\n2031-05-02 10:00,test,ph,pH 7.5,\n";
    fs::write(path.join("one.csv"), log).expect("written");
    let output = visit(path, &["."]);
    assert_eq!(output.status.code(), Some(0), "{}", told(&output.stderr));
    assert!(refused(path, &[".", "one.csv"]).contains("name no log"));
    assert!(refused(path, &[".", "--report", "a.html"]).contains("for one pool"));
    fs::create_dir(path.join("two")).expect("made");
    fs::write(path.join("two/a.toml"), HOME_POOL).expect("written");
    assert!(refused(path, &["."]).contains("one site and one log"));
}

#[test]
fn the_example_of_the_help_runs() {
    let folder = tempfile::tempdir().expect("a folder");
    let output = visit(folder.path(), &["--help"]);
    let help = told(&output.stdout);
    let from = help
        .find("time,what,of,value,with,note\n")
        .expect("an example");
    let rows = help[from..].lines().take_while(|line| !line.contains('$'));
    let text: String = rows.map(|line| format!("{}\n", line.trim())).collect();
    fs::write(folder.path().join("log.csv"), text).expect("written");
    fs::write(folder.path().join("home-pool.toml"), HOME_POOL).expect("written");
    let output = visit(folder.path(), &["home-pool.toml", "log.csv"]);
    let sheet = told(&output.stdout);
    assert_eq!(
        output.status.code(),
        Some(1),
        "{}{sheet}",
        told(&output.stderr)
    );
    assert!(sheet.contains("feeds_more"), "{sheet}");
}

fn explain(folder: &Path, from: &str, to: &str, more: &[&str]) -> Output {
    let all = ["explain", "log.csv", "--from", from, "--to", to];
    run(folder, &[&all[..], &["--site", "site.toml"], more].concat())
}

#[test]
fn the_example_is_explained_as_committed() {
    let folder = examples().join("alder-lane");
    let output = explain(&folder, "2031-05-02 10:00", "2031-05-16 09:40", &[]);
    assert_eq!(output.status.code(), Some(0), "{}", told(&output.stderr));
    as_committed("alder-lane/explained.txt", &told(&output.stdout));
}

#[test]
fn what_cannot_be_explained_is_one_error() {
    let folder = tempfile::tempdir().expect("a folder");
    let write =
        |name: &str, text: &str| fs::write(folder.path().join(name), text).expect("written");
    write("site.toml", HOME_POOL);
    write(
        "log.csv",
        "time,what,of,value,with\n2031-05-02 10:00,test,ph,pH 7.5,\n",
    );
    let explain = |from: &str, more: &[&str]| {
        let output = explain(folder.path(), from, "2031-05-03 10:00", more);
        assert_eq!(output.status.code(), Some(2));
        told(&output.stderr)
    };
    assert_eq!(
        explain("yesterday", &[]),
        "error: --from \"yesterday\" is no time; write the time of a visit as 2031-05-02 10:10\n"
    );
    assert_eq!(
        explain("2030-05-02 10:00", &[]),
        "error: log.csv: no visit is within 12 h of --from 2030-05-02 10:00; the nearest: 2031-05-02 10:00\n"
    );
    let why = explain("2031-05-02 10:00", &["--json", "a.json"]);
    assert!(why.contains("has no test of alkalinity"), "{why}");
    assert!(!folder.path().join("a.json").exists());
}
