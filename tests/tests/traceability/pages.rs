//! The pages that `dosewarden rules` shows, put together from what the sources say: one entry a rule.
//!
//! `host-sim/src/rules/rules.json` holds them, since a package cannot read the sources of another. It is
//! held to the sources here; `RULES_WRITE=1 cargo test -p dosewarden-tests --test traceability pages` writes it anew.

use std::collections::BTreeMap;

use dosewarden_tests::sources::{Source, read, root, rust_sources};
use serde_json::{Value, json};

use crate::hazards::Hazard;
use crate::judged;

const FILE: &str = "host-sim/src/rules/rules.json";
/// Where tests of rules stand.
const TESTED_IN: [&str; 5] = [
    "core/guard",
    "tests/laws/tests",
    "core/src",
    "host-sim/tests",
    "tests/tests",
];

/// `FlowProven` of `flow_proven`.
fn variant(name: &str) -> String {
    let word = |word: &str| {
        let (first, rest) = word.split_at(1);
        first.to_uppercase() + rest
    };
    name.split('_').map(word).collect()
}

/// Tests that name a rule, by file: of a line `#[test]` the next `fn`, up to the next such line.
fn tests_that_name(sources: &[Source], rule: &str) -> BTreeMap<String, Vec<String>> {
    let wanted = format!("Rule::{}", variant(rule));
    let own = format!("rules/{rule}.rs");
    let mut found: BTreeMap<String, Vec<String>> = BTreeMap::new();
    for source in sources {
        let mut test: Option<&str> = None;
        let mut is_next = false;
        for line in source.text.lines().map(str::trim) {
            let name = line
                .strip_prefix("fn ")
                .and_then(|rest| rest.split('(').next());
            if line == "#[test]" {
                (test, is_next) = (None, true);
            } else if let (true, Some(name)) = (is_next, name) {
                (test, is_next) = (Some(name), false);
            }
            let names_it = source.path.ends_with(&own) || is_word(line, &wanted);
            if let (Some(test), true) = (test, names_it) {
                let names = found.entry(source.path.clone()).or_default();
                if !names.iter().any(|known| known == test) {
                    names.push(test.to_owned());
                }
            }
        }
    }
    found
}

/// Whether `word` stands in the line and goes no further.
fn is_word(line: &str, word: &str) -> bool {
    line.match_indices(word).any(|(at, _)| {
        let next = line
            .get(at + word.len()..)
            .and_then(|rest| rest.chars().next());
        !next.is_some_and(|c| c.is_alphanumeric() || c == '_')
    })
}

/// Where a field of the limits is described: `body.cutoff` is a field `cutoff` of `BodyLimits`.
fn parameter(spec: &Source, name: &str) -> Result<Value, String> {
    let (owner, field) = name.rsplit_once('.').unwrap_or(("", name));
    let owner = match owner {
        "" => "LimitsSpec",
        "feeder" => "FeederSpec",
        "body" => "BodyLimits",
        "body.fallback" => "FallbackCaps",
        "response" => "ResponseLimits",
        "fallback" => "FallbackLimits",
        "hours" => "Hours",
        other => return Err(format!("`{name}`: {other} is no part of the limits")),
    };
    let block = spec.text.split(&format!("pub struct {owner}")).nth(1);
    let block = block
        .and_then(|rest| rest.split("\n}").next())
        .unwrap_or("");
    let mut words = String::new();
    for line in block.lines().map(str::trim) {
        if let Some(doc) = line.strip_prefix("/// ") {
            words = format!("{words} {doc}").trim().to_owned();
        } else if line.starts_with(&format!("pub {field}:")) {
            return Ok(json!({ "name": name, "words": words }));
        } else if !line.starts_with("#[") {
            words.clear();
        }
    }
    Err(format!("`{name}`: {owner} has no field {field}"))
}

fn parameters(spec: &Source, named: &str) -> Vec<Value> {
    let names = named
        .split(',')
        .map(str::trim)
        .filter(|name| *name != "none");
    let found: Result<Vec<Value>, String> = names.map(|name| parameter(spec, name)).collect();
    found.unwrap_or_else(|why| panic!("{why}"))
}

/// In which parts of the pinned walk a rule refused, and where it alone did.
fn explored(pinned: &str, rule: &str) -> Vec<Value> {
    let mut found = Vec::new();
    let (mut part, mut states, mut refused) = ("", "", false);
    for line in pinned.lines() {
        if let Some((name, rest)) = line
            .split_once(": ")
            .filter(|_| !line.starts_with([' ', '$']))
        {
            part = name;
            states = rest.split("; ").nth(1).unwrap_or("");
        }
        let has = |start: &str| {
            let rest = line.trim().strip_prefix(start);
            rest.is_some_and(|rest| rest.split(' ').any(|name| name == rule))
        };
        refused |= has("refused: ");
        if line.trim().starts_with("alone: ") {
            if refused {
                let alone = has("alone: ");
                found.push(json!({ "part": part, "walked": states, "alone": alone }));
            }
            refused = false;
        }
    }
    found
}

/// The line of EXPLORE.md that says what broke without the rule.
fn taken_out(page: &str, rule: &str) -> Value {
    let after = page.split("## Each rule taken out").nth(1).unwrap_or("");
    let start = format!("| `{rule}` |");
    let line = after.lines().find(|line| line.starts_with(&start));
    let cells: Vec<&str> = line.unwrap_or("").split('|').map(str::trim).collect();
    let [_, _, broke, part, states, ticks, _] = cells.as_slice() else {
        panic!("EXPLORE.md: no line of `{rule}`");
    };
    json!({ "broke": broke.trim_matches('`'), "part": part, "states": states, "ticks": ticks })
}

/// How many changes of the rule's file are tried, by the committed list.
fn mutants(listed: &str, rule: &str) -> u32 {
    let end = format!("/rules/{rule}.rs");
    let line = listed.lines().find(|line| line.ends_with(&end));
    let count = line.and_then(|line| line.split_whitespace().next());
    count
        .and_then(|count| count.parse().ok())
        .unwrap_or_default()
}

fn page(source: &Source, texts: &Texts, hazards: &[Hazard], rows: &[judged::Row]) -> Value {
    let (name, doc) = (source.stem(), source.module_doc());
    let text = |heading: &str| {
        let start = format!("{heading}: ");
        let line = doc.iter().find_map(|line| line.strip_prefix(&start));
        line.unwrap_or_else(|| panic!("{name}: no line {heading}"))
            .to_owned()
    };
    let title = doc.first().and_then(|line| line.split_once(": "));
    let row = rows.iter().find(|row| row.rule == name);
    let own = text("Hazard");
    let answered = own.split(", ").map(|id| {
        let hazard = hazards.iter().find(|hazard| hazard.id == id);
        json!({ "id": id, "title": hazard.map(|hazard| hazard.title.clone()) })
    });
    json!({
        "rule": name,
        "title": title.map(|(_, title)| title),
        "hazards": answered.collect::<Vec<_>>(),
        "statement": text("Statement"),
        "source": text("Source"),
        "clears": text("Clears"),
        "parameters": parameters(&texts.spec, &text("Parameters")),
        "oracles": row.map(|row| row.oracles.clone()),
        "seen_as": row.map(|row| row.seen_as.clone()),
        "tests": tests_that_name(&texts.tests, name),
        "explored": explored(&texts.pinned, name),
        "taken_out": taken_out(&texts.explore, name),
        "mutants": mutants(&texts.mutants, name),
    })
}

/// What a page is put together from, besides the rule's own file.
struct Texts {
    spec: Source,
    tests: Vec<Source>,
    pinned: String,
    explore: String,
    mutants: String,
}

#[test]
fn the_shown_pages_are_what_the_sources_say() {
    let spec = Source::parse("spec.rs", &read("core/guard/src/limits/spec.rs"));
    let texts = Texts {
        spec: spec.expect("the limits parse"),
        tests: TESTED_IN.iter().flat_map(|dir| rust_sources(dir)).collect(),
        pinned: read("tests/data/explore.txt"),
        explore: read("host-sim/EXPLORE.md"),
        mutants: read("tests/mutants/expected"),
    };
    let hazards = crate::the_hazards();
    let rows = judged::rows(&read("HAZARDS.md"));
    let (_, names) = crate::rule_folder();
    let sources = rust_sources("core/guard/src/rules");
    // In the order in which the guard numbers them.
    let own = names.iter().map(|name| {
        let found = sources.iter().find(|source| source.stem() == name);
        found.unwrap_or_else(|| panic!("{name} has no file"))
    });
    let pages: Vec<Value> = own
        .map(|source| page(source, &texts, &hazards, &rows))
        .collect();
    for page in &pages {
        let counts = ["tests", "oracles", "hazards"].map(|key| {
            let value = &page[key];
            value.as_array().map_or_else(
                || value.as_object().map_or(0, serde_json::Map::len),
                Vec::len,
            )
        });
        assert!(!counts.contains(&0), "{}: {counts:?}", page["rule"]);
    }
    let text = serde_json::to_string_pretty(&pages).expect("values") + "\n";
    if std::env::var_os("RULES_WRITE").is_some() {
        std::fs::write(root().join(FILE), &text).expect("the file can be written");
    }
    assert!(
        text == read(FILE),
        "{FILE} is not what the sources say; RULES_WRITE=1 writes it"
    );
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_test_that_names_the_rule_is_found_and_a_longer_name_is_not_it() {
        let text =
            "#[test]\nfn a() { Rule::DayCap; }\n#[test]\nfn b() {}\nfn c() { Rule::DayCapped; }";
        let text = format!("{text}\n#[test]\nfn d() {{\n Rule::DayCap }}");
        let source = Source::parse("core/guard/src/x.rs", &text);
        let found = tests_that_name(&[source.expect("it parses")], "day_cap");
        assert_eq!(found["core/guard/src/x.rs"], ["a", "d"]);
    }

    #[test]
    fn a_parameter_has_its_words_and_an_unknown_one_is_an_error() {
        let text = "pub struct Hours {\n    /// First, one\n    /// to two.\n    #[x]\n    pub open: u8,\n    pub bare: u8,\n}";
        let spec = Source::parse("spec.rs", text).expect("it parses");
        let words = |name| parameter(&spec, name).map(|value| value["words"].clone());
        assert_eq!(words("hours.open"), Ok("First, one to two.".into()));
        assert_eq!(words("hours.bare"), Ok("".into()));
        assert!(words("hours.shut").is_err() && words("feeder.open").is_err());
        assert!(words("else.open").is_err());
    }

    #[test]
    fn what_the_walk_and_the_page_say_is_read() {
        let pinned = "$ x\nx1: closed; 12 states, 3\n  refused: a b\n  alone: a\nx2: cut; 4 states\n  refused: b\n  alone: b\n";
        let both = json!([{ "part": "x1", "walked": "12 states, 3", "alone": false },
            { "part": "x2", "walked": "4 states", "alone": true }]);
        assert_eq!(json!(explored(pinned, "b")), both);
        let page = "| `a` | no |\n## Each rule taken out\n| `a` | `FLOW` | x3 | 1,351 | 3 |\n";
        let broke = json!({ "broke": "FLOW", "part": "x3", "states": "1,351", "ticks": "3" });
        assert_eq!(taken_out(page, "a"), broke);
        assert_eq!(mutants("  12 a/rules/x.rs\n   3 a/rules/y.rs\n", "y"), 3);
    }
}
