//! `dosewarden explore` as a person runs it.

use std::path::Path;

fn explore(folder: &Path, arguments: &[&str]) -> (Option<i32>, String, String) {
    crate::common::dosewarden(folder, "explore", arguments)
}

#[test]
fn a_cut_walk_holds_and_says_that_it_was_cut() {
    let folder = tempfile::tempdir().unwrap();
    let arguments = [
        "--config",
        "x3-answers",
        "--states-max",
        "500",
        "--json",
        "out.json",
        "--trail",
        "way.txt",
    ];
    let (code, said, told) = explore(folder.path(), &arguments);
    assert_eq!(code, Some(0), "{told}");
    assert!(said.starts_with("x3-answers: cut; "), "{said}");
    let verdict = "Verdict: HELD as far as it went; 0 of 1 part walked to the end; cut at their largest number of states (--states-max), and not looked at beyond: x3-answers.\n";
    assert!(said.contains(verdict), "{said}");
    assert!(told.contains("judgements a second"), "{told}");
    let json = std::fs::read_to_string(folder.path().join("out.json")).unwrap();
    let json: serde_json::Value = serde_json::from_str(&json).unwrap();
    assert_eq!(json[0]["ended"], "cut");
    assert!(json[0]["states"].as_u64().unwrap() >= 500);
    assert!(json[0]["broken"].is_null());
    let way = folder.path().join("way.txt");
    assert!(!way.exists(), "nothing broke, so there is no way to keep");
}

#[test]
fn a_way_is_told_again() {
    let folder = tempfile::tempdir().unwrap();
    let way = "dosewarden explore x3-answers\n0\tnothing happens\n";
    std::fs::write(folder.path().join("way.txt"), way).unwrap();
    let (code, said, told) = explore(folder.path(), &["--replay", "way.txt"]);
    assert_eq!(code, Some(0), "{told}");
    assert!(said.contains("1  nothing happens"), "{said}");
    assert!(said.contains("feeder 0 Idle, refused by"), "{said}");
}

/// The walk of a guard without `spread_hold` found it; the shipped guard refuses the second charge.
const WAY: &str = "../tests/ways/spread-hold-gone.txt";

/// `run` says what `explore --replay` says, and neither says that the shipped guard broke.
#[test]
fn run_tells_a_way_again_as_replay_does() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::copy(WAY, folder.path().join("way.txt")).unwrap();
    let (code, said, told) = explore(folder.path(), &["--replay", "way.txt"]);
    assert_eq!(code, Some(0), "{told}");
    for part in [
        "refused by spread_hold, charge_durable\n          when it was found: feeder 0 Pending, refused by charge_durable: ",
        "  everything holds\n  with the guard of the walk that found it SPREAD did not hold: ",
    ] {
        assert!(said.contains(part), "{part}: {said}");
    }
    let by_run = crate::common::dosewarden(folder.path(), "run", &["way.txt"]);
    assert_eq!((code, said, told), by_run);
    for option in [
        &["--days", "3"][..],
        &["--trace", "t.csv"],
        &["--canary", "no-guard"],
    ] {
        let arguments = [&["way.txt"], option].concat();
        let (code, said, told) = crate::common::dosewarden(folder.path(), "run", &arguments);
        assert_eq!((code, said.as_str()), (Some(2), ""), "{told}");
        assert!(
            told.contains(&format!("{} is for a scenario", option[0])),
            "{told}"
        );
    }
    assert!(!folder.path().join("t.csv").exists());
    std::fs::write(folder.path().join("way.txt"), "dosewarden explore x9\n").unwrap();
    let (code, _, told) = crate::common::dosewarden(folder.path(), "run", &["way.txt"]);
    assert_eq!(code, Some(2));
    assert!(told.contains("way.txt:1: `x9` is no part"), "{told}");
}

#[test]
fn bad_input_is_told_and_exits_2() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(
        folder.path().join("bad.txt"),
        "dosewarden explore x2\nseven\n",
    )
    .unwrap();
    for (arguments, says) in [
        (&["--config", "x9"][..], "take x1, x2, x3 or all"),
        (&["--replay", "none.txt"], "none.txt"),
        (
            &["--replay", "bad.txt"],
            "error: bad.txt:2: `seven` is no event",
        ),
        (&["--jobs", "0"], "--jobs"),
        (
            &["--config", "x1", "--json", "no/such/a.json"],
            "cannot be written",
        ),
    ] {
        let (code, said, told) = explore(folder.path(), arguments);
        assert_eq!(code, Some(2), "{arguments:?}: {told}");
        assert!(said.is_empty() && told.contains(says), "{told}");
    }
    let (_, _, told) = explore(folder.path(), &["--replay", "bad.txt"]);
    crate::common::one_error(&told);
    assert!(
        told.contains("2 | seven\n") && told.contains("^^^^^"),
        "{told}"
    );
}
