//! No entry is there for nothing.

use std::collections::{BTreeMap, BTreeSet};
use std::path::PathBuf;

use dosewarden_sim::campaign::{Allowance, Annunciations, Bounds, bounds_told};

fn folder() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("campaign-tables")
}

/// The first cell of each row of a Markdown table under a heading.
fn first_cells<'a>(text: &'a str, heading: &str) -> Vec<(&'a str, &'a str)> {
    let (_, table) = text.split_once(heading).expect("the heading");
    let rows = table.lines().filter_map(|line| line.strip_prefix("| "));
    let cells = rows.filter_map(|row| row.split_once(" | "));
    cells.skip(1).collect()
}

/// Each table of a campaign, by name, with the entries that it needed.
fn tables() -> BTreeMap<String, BTreeSet<String>> {
    let mut tables = BTreeMap::new();
    for file in std::fs::read_dir(folder()).expect("campaign-tables") {
        let path = file.expect("a file").path();
        let name = path
            .file_stem()
            .expect("a name")
            .to_string_lossy()
            .into_owned();
        let text = std::fs::read_to_string(&path).expect("text");
        if name == "bounds" {
            continue;
        }
        assert!(text.starts_with("Made by `dosewarden campaign "), "{name}");
        assert!(!text.contains("**outside**"), "{name}: a case is outside");
        let rows = first_cells(&text, "## Bounds that were needed");
        tables.insert(
            name,
            rows.iter().map(|(cell, _)| (*cell).to_owned()).collect(),
        );
    }
    tables
}

/// Entries that a table or a named trial needs, by which.
fn overview() -> BTreeMap<String, BTreeSet<String>> {
    let text = std::fs::read_to_string(folder().join("bounds.md")).expect("bounds.md");
    let rows = first_cells(&text, "# Which campaign needed which bound");
    let split = |by: &str| {
        by.trim_end_matches(" |")
            .split(", ")
            .map(str::to_owned)
            .collect()
    };
    rows.iter()
        .map(|(name, by)| ((*name).to_owned(), split(by)))
        .collect()
}

#[test]
fn every_entry_is_needed_and_every_need_has_its_entry() {
    let all: BTreeSet<String> = Bounds::committed().names().collect();
    let mut needed: BTreeSet<String> = tables().into_values().flatten().collect();
    let gone: Vec<_> = needed.difference(&all).collect();
    assert!(
        gone.is_empty(),
        "the tables name entries that are gone: {gone:?}"
    );
    let named = super::named::NEEDED.map(|(name, ..)| name.to_owned());
    let twice: Vec<_> = named.iter().filter(|name| needed.contains(*name)).collect();
    assert!(
        twice.is_empty(),
        "a campaign needs them, so no trial has to be named: {twice:?}"
    );
    needed.extend(named);
    needed.extend(super::days::needs());
    let idle: Vec<_> = all.difference(&needed).collect();
    assert!(
        idle.is_empty(),
        "nothing needs these entries of bounds.toml: {idle:?}"
    );
}

#[test]
fn each_table_is_of_the_bounds_as_they_are() {
    let rows = |text: &str| {
        let (_, from) = text.split_once("## Bounds that were needed").expect("it");
        from.split("\nNot needed here").next().map(str::to_owned)
    };
    for (name, needed) in tables() {
        let text = std::fs::read_to_string(folder().join(format!("{name}.md"))).expect("text");
        assert_eq!(rows(&text), rows(&bounds_told(&needed)), "{name}");
    }
}

#[test]
fn the_overview_is_that_of_the_tables() {
    let mut by: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
    for (table, names) in tables() {
        for name in names {
            by.entry(name).or_default().insert(table.clone());
        }
    }
    assert_eq!(tables().len(), 15, "three campaigns of five sites");
    assert_eq!(overview(), by);
}

#[test]
fn each_bound_without_a_figure_is_told() {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("CAMPAIGN.md");
    let text = std::fs::read_to_string(path).expect("CAMPAIGN.md");
    let (_, from) = text.split_once("## Bounds without a figure").expect("it");
    let (section, _) = from.split_once("\n## ").expect("what follows");
    let told: Vec<String> = first_cells(section, "Left at \"any\"")
        .into_iter()
        .map(|(faults, rest)| {
            let (oracles, _) = rest.split_once(" | ").expect("three cells");
            format!("{faults}: {}", oracles.replace('`', ""))
        })
        .collect();
    let bounds = Bounds::committed();
    let entries = bounds.entries.iter();
    let theirs: Vec<String> = entries
        .filter(|entry| matches!(entry.allows, Allowance::Any))
        .map(|entry| entry.name(&entry.oracles.join(", ")))
        .collect();
    assert_eq!(told, theirs);
}

/// A fault that is told of at every site may not be excused from it.
#[test]
fn each_fault_of_which_nobody_may_be_told_is_one_at_some_site() {
    let mut silent = BTreeSet::new();
    for name in tables().keys().filter(|name| name.ends_with("-single")) {
        let text = std::fs::read_to_string(folder().join(format!("{name}.md"))).expect("text");
        let (text, _) = text.split_once("\n## Bounds that were").expect("it");
        let rows = first_cells(
            text,
            "## Nobody told, as the catalogue says and at severity 1",
        );
        let ids = rows.iter().filter_map(|(fault, _)| fault.split(' ').next());
        silent.extend(ids.map(str::to_owned));
    }
    let excused = Annunciations::committed().untold;
    let excused: BTreeSet<String> = excused.into_iter().flat_map(|one| one.faults).collect();
    assert_eq!(silent, excused);
}
