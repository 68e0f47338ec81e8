//! From hazard to rule to test, and back: what nothing answers and what answers nothing both fail.
//!
//! `HAZARDS.md` says which rules answer a hazard and which oracles judge it. A rule's file says at its
//! head which hazards it answers, an oracle's code says which hazard it stands for, and the README
//! shows each rule. Every check is a function from texts to findings, tested below on bad ones.

mod figures;
mod hazards;
mod judged;
mod oracles;
mod pages;
mod readme;
mod rules;

use dosewarden_tests::sources::{Source, production, read, rust_sources};
use hazards::Hazard;
use rules::RuleFile;

#[track_caller]
fn assert_none(what: &str, findings: &[String]) {
    assert!(findings.is_empty(), "{what}:\n  {}", findings.join("\n  "));
}

#[track_caller]
fn the_hazards() -> Vec<Hazard> {
    hazards::parse(&read("HAZARDS.md")).unwrap_or_else(|e| panic!("HAZARDS.md: {e}"))
}

/// Every file beside the rules, with its tests, and the names that the guard gives its rules.
#[track_caller]
fn rule_folder() -> (Vec<RuleFile>, Vec<String>) {
    let sources = rust_sources("core/guard/src/rules");
    let names = rules::named(&production(&rust_sources("core/guard/src")));
    assert!(
        !names.is_empty(),
        "`Rule::name` names no rule: has it moved?"
    );
    (sources.iter().map(RuleFile::of).collect(), names)
}

/// The rule files. What else stands in the folder is shared by them.
#[track_caller]
fn the_rules() -> Vec<RuleFile> {
    let (files, names) = rule_folder();
    files
        .into_iter()
        .filter(|f| names.contains(&f.name))
        .collect()
}

/// The oracle files: those directly in the folder, without what they share.
fn the_oracles() -> Vec<Source> {
    let folder = "host-sim/src/oracle/";
    let direct = |s: &Source| {
        s.path
            .strip_prefix(folder)
            .is_some_and(|p| !p.contains('/'))
    };
    rust_sources(folder)
        .into_iter()
        .filter(|s| direct(s))
        .collect()
}

#[test]
fn every_hazard_is_complete() {
    let found = the_hazards();
    assert_none(
        "HAZARDS.md",
        &found
            .iter()
            .flat_map(hazards::incomplete)
            .collect::<Vec<_>>(),
    );
    assert_none("numbers of hazards", &hazards::misnumbered(&found));
}

#[test]
fn every_rule_file_states_what_it_is_for_and_tests_it() {
    let (files, names) = rule_folder();
    assert_none("rules and files", &rules::strays(&names, &files));
    let found = the_rules();
    assert_none(
        "rule files",
        &found
            .iter()
            .flat_map(RuleFile::incomplete)
            .collect::<Vec<_>>(),
    );
}

#[test]
fn hazards_and_rules_name_each_other() {
    assert_none(
        "hazard and rule",
        &rules::mismatches(&the_hazards(), &the_rules()),
    );
}

#[test]
fn every_rule_file_is_compiled_and_run() {
    let guard = production(&rust_sources("core/guard/src"));
    assert_none("rules out of use", &rules::unused(&guard, &the_rules()));
}

#[test]
fn the_readme_shows_every_rule_and_no_other() {
    assert_none(
        "README.md",
        &readme::mismatches(&read("README.md"), &the_rules()),
    );
}

#[test]
fn hazards_and_oracles_name_each_other() {
    let found: Vec<_> = the_oracles().iter().flat_map(oracles::of).collect();
    assert_none(
        "hazard and oracle",
        &oracles::mismatches(&the_hazards(), &found),
    );
}

#[test]
fn every_rule_has_an_oracle_in_the_one_table() {
    let found: Vec<_> = the_oracles().iter().flat_map(oracles::of).collect();
    let rows = judged::rows(&read("HAZARDS.md"));
    assert_none(
        "rule and oracle",
        &judged::mismatches(&rows, &the_hazards(), &the_rules(), &found),
    );
}

#[test]
fn the_readme_says_of_a_chip_what_was_measured() {
    let found = figures::stale(&read("README.md"), &read("tests/on-target/figures.toml"));
    assert_none("README.md beside tests/on-target/figures.toml", &found);
}
