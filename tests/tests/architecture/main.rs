//! The shape that the crates must keep: arrows one way, a guard of integers and nothing else, files
//! and functions that a reviewer can read whole.
//!
//! Each check is a function from sources to findings. It stands beside a test that shows it finding
//! something in a bad snippet, so no check can pass by seeing nothing.

mod arrows;
mod floats;
mod guard_code;
mod included;
mod manifests;
mod sizes;

use dosewarden_tests::sources::{Source, production, rust_sources};

/// Fails with all findings, one a line.
#[track_caller]
fn assert_none(what: &str, findings: &[String]) {
    assert!(findings.is_empty(), "{what}:\n  {}", findings.join("\n  "));
}

/// What a release build of the crate in `dir` compiles. An empty answer would make every check
/// pass, so it fails instead.
#[track_caller]
fn shipped(dir: &str) -> Vec<Source> {
    let sources = production(&rust_sources(dir));
    assert!(
        !sources.is_empty(),
        "{dir} holds no Rust source: has it moved?"
    );
    sources
}

fn each(sources: &[Source], check: fn(&Source) -> Vec<String>) -> Vec<String> {
    sources.iter().flat_map(check).collect()
}

/// A snippet under a name, for the tests of the checks.
#[track_caller]
fn snippet(path: &str, text: &str) -> Source {
    Source::parse(path, text).unwrap_or_else(|e| panic!("{e}"))
}

#[test]
fn the_guard_has_no_floats_casts_or_indexing() {
    let sources = shipped("core/guard/src");
    assert_none(
        "core/guard computes with floats",
        &each(&sources, guard_code::floats),
    );
    assert_none(
        "core/guard has `as` casts",
        &each(&sources, guard_code::casts),
    );
    assert_none("core/guard indexes", &each(&sources, guard_code::indexing));
}

#[test]
fn a_published_package_includes_what_is_in_it() {
    for dir in ["core/guard", "core", "host-sim"] {
        let own = |source: &Source| included::outside(dir, source);
        let sources = rust_sources(&format!("{dir}/src"));
        let found: Vec<String> = sources.iter().flat_map(own).collect();
        assert_none("included from outside", &found);
    }
}

#[test]
fn both_core_crates_are_no_std_no_alloc_and_safe() {
    for dir in ["core/guard/src", "core/src"] {
        let sources = shipped(dir);
        let root = sources.iter().find(|s| s.path == format!("{dir}/lib.rs"));
        let root = root.unwrap_or_else(|| panic!("{dir}/lib.rs is missing"));
        assert_none("crate attributes", &guard_code::crate_attributes(root));
        assert_none("std or alloc", &each(&sources, guard_code::std_or_alloc));
    }
}

#[test]
fn crates_depend_one_way() {
    for (path, ours_allowed) in manifests::ALLOWED {
        let text = dosewarden_tests::sources::read(&format!("{path}/Cargo.toml"));
        assert_none(
            "an arrow that must not be",
            &manifests::ours(path, &text, ours_allowed),
        );
    }
    let guard = dosewarden_tests::sources::read("core/guard/Cargo.toml");
    assert_none(
        "core/guard depends on something",
        &manifests::needed(&guard),
    );
}

#[test]
fn every_package_of_the_workspace_has_its_arrows_stated() {
    let workspace = dosewarden_tests::sources::read("Cargo.toml");
    let known: Vec<&str> = manifests::ALLOWED.iter().map(|(path, _)| *path).collect();
    assert_none(
        "a package without arrows",
        &manifests::unknown_members(&workspace, &known),
    );
}

#[test]
fn plant_oracles_and_audit_know_nothing_of_the_controller() {
    let sources = shipped("host-sim/src");
    assert_none(
        "the judge reads the judged",
        &arrows::reach_core(&sources, &["plant", "oracle", "audit"]),
    );
}

#[test]
fn the_guard_names_no_other_crate_of_ours() {
    let sources = shipped("core/guard/src");
    let others = ["dosewarden", "dosewarden_sim"];
    let found: Vec<String> = sources
        .iter()
        .flat_map(|s| arrows::names(s, &others))
        .collect();
    assert_none("core/guard reaches upwards", &found);
}

#[test]
fn the_simulator_takes_transcendental_functions_from_libm() {
    assert_none(
        "the last bit differs by platform",
        &each(&shipped("host-sim/src"), floats::std_maths),
    );
}

#[test]
fn files_and_functions_can_be_read_whole() {
    let all = rust_sources("");
    assert!(all.len() > 5, "the walk found next to nothing");
    assert_none("too long a file", &each(&all, sizes::long_files));
    assert_none("too long a function", &each(&all, sizes::long_functions));
    assert_none("too long a rule", &each(&all, sizes::long_rules));
}
