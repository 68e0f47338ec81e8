//! One page a rule, for whoever reviews the guard: hazard, statement, source, what clears it, its
//! limits, what tests it, what walked it, what sees that it is gone.
//!
//! `rules.json` beside this file is put together from the sources by a test, which fails when they
//! differ. Its format is that of [`RulePage`].

mod reasons;

use std::collections::BTreeMap;

use minijinja::syntax::SyntaxConfig;
use minijinja::value::{Serde, Value};
use minijinja::{Environment, context};
use serde::{Deserialize, Serialize};

use crate::report::CAUTIONS;
pub use reasons::{Reason, reasons};

/// The file: the pages of all rules, as `dosewarden rules --as json` prints them before the reasons that are no rules.
pub const JSON: &str = include_str!("rules.json");
const TEXT: &str = include_str!("../../templates/rules.txt");
const MARKDOWN: &str = include_str!("../../templates/rules.md");
const HTML: &str = include_str!("../../templates/rules.html");

/// What a rule's page says.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct RulePage {
    /// Its name, as events and traces have it.
    pub rule: String,
    /// In a few words.
    pub title: String,
    /// The hazards that it is there for, the first of all first.
    pub hazards: Vec<HazardName>,
    /// What must hold for a feeder to run.
    pub statement: String,
    /// Where that comes from.
    pub source: String,
    /// Hold or lockout, and what clears it.
    pub clears: String,
    /// The limits that it reads.
    pub parameters: Vec<Parameter>,
    /// What judges it from the water's side.
    pub oracles: Vec<String>,
    /// What those see of it.
    pub seen_as: String,
    /// Tests that name it, by file.
    pub tests: BTreeMap<String, Vec<String>>,
    /// Parts of the pinned walk in which it refused.
    pub explored: Vec<Explored>,
    /// What broke in the walk of a guard without it.
    pub taken_out: TakenOut,
    /// Changes of its file that `tests/mutants/run` tries.
    pub mutants: u32,
}

/// A hazard of `HAZARDS.md`.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct HazardName {
    /// `H-01` and so on.
    pub id: String,
    /// Its heading.
    pub title: String,
}

/// One of the guard's limits.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct Parameter {
    /// Field of the limits; `feeder.`, `body.`, `response.` and so on before those of a part.
    pub name: String,
    /// What it is, with its range.
    pub words: String,
}

/// A part of the walk.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct Explored {
    /// Its name.
    pub part: String,
    /// How far it went.
    pub walked: String,
    /// Whether there is a state in which this rule alone refuses.
    pub alone: bool,
}

/// What notices that a rule is gone.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct TakenOut {
    /// The property.
    pub broke: String,
    /// In which part.
    pub part: String,
    /// States found by then.
    pub states: String,
    /// Length of the shortest way.
    pub ticks: String,
}

/// In what shape pages are shown.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "cli", derive(clap::ValueEnum))]
pub enum Shape {
    /// Plain text.
    #[default]
    Text,
    /// Markdown, such as for a wiki.
    Markdown,
    /// One page that needs nothing else.
    Html,
    /// An array of objects: one a rule, then one a reason that is no rule.
    Json,
}

/// All pages, in the guard's own order.
///
/// # Errors
/// What serde has to say; never for the file of this program.
pub fn all() -> Result<Vec<RulePage>, serde_json::Error> {
    serde_json::from_str(JSON)
}

/// What JSON has of each: a page with `rule`, or a reason with `reason`.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
#[serde(untagged)]
pub enum Entry {
    /// A rule.
    Rule(Box<RulePage>),
    /// A reason that is no rule.
    Reason(Reason),
}

/// What JSON has of these: rules, and reasons behind them.
#[must_use]
pub fn entries(pages: &[RulePage], reasons: &[Reason]) -> Vec<Entry> {
    let pages = pages.iter().map(|page| Entry::Rule(Box::new(page.clone())));
    let reasons = reasons.iter().map(|one| Entry::Reason(one.clone()));
    pages.chain(reasons).collect()
}

/// Pages in a shape, and behind them reasons that are no rules.
///
/// # Errors
/// What the template engine or serde has to say; never for pages of this program.
pub fn shown(
    pages: &[RulePage],
    reasons: &[Reason],
    shape: Shape,
) -> Result<String, minijinja::Error> {
    let template = match shape {
        Shape::Text => TEXT,
        Shape::Markdown => MARKDOWN,
        Shape::Html => HTML,
        Shape::Json => {
            let all = entries(pages, reasons);
            let text = serde_json::to_string_pretty(&all).map_err(|error| {
                minijinja::Error::new(minijinja::ErrorKind::BadSerialization, error.to_string())
            })?;
            return Ok(text + "\n");
        }
    };
    let mut engine = Environment::new();
    engine.set_syntax(SyntaxConfig::builder().trim_blocks(true).build()?);
    // By its ending a page is escaped or not.
    let name = if shape == Shape::Html {
        "rules.html"
    } else {
        "rules.txt"
    };
    crate::report::tables::taught(&mut engine)?;
    engine.add_template(name, template)?;
    engine.get_template(name)?.render(context! {
        rules => Value::from(Serde(&pages)),
        reasons => Value::from(Serde(&reasons)),
        cautions => CAUTIONS,
        program => env!("CARGO_PKG_VERSION"),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_rule_of_the_guard_has_its_page_in_its_order() {
        let pages = all().unwrap();
        let own: Vec<&str> = pages.iter().map(|page| page.rule.as_str()).collect();
        assert_eq!(own, dosewarden::guard::Rule::ALL.map(|rule| rule.name()));
    }

    #[test]
    fn each_shape_shows_all_that_is_known_of_a_rule() {
        let pages = all().unwrap();
        for shape in [Shape::Text, Shape::Markdown, Shape::Html] {
            let text = shown(&pages, &[], shape).unwrap();
            for page in &pages {
                let first = page.tests.values().flatten().next().unwrap();
                let parts = [
                    &page.rule,
                    &page.taken_out.broke,
                    &page.hazards[0].title,
                    first,
                ];
                for part in parts.into_iter().chain(&page.oracles) {
                    assert!(
                        text.contains(part.as_str()),
                        "{shape:?}, {}: {part}",
                        page.rule
                    );
                }
            }
            assert!(
                text.contains("not a certified safety function"),
                "{shape:?}"
            );
            let lines = text.lines().collect::<Vec<_>>();
            let gap = lines
                .windows(3)
                .find(|three| three.iter().all(|line| line.trim().is_empty()));
            assert!(gap.is_none(), "{shape:?}: blank lines");
        }
        let back: Vec<RulePage> =
            serde_json::from_str(&shown(&pages, &[], Shape::Json).unwrap()).unwrap();
        assert_eq!(back, pages);
    }

    /// `--as json` of a reason was an empty array.
    #[test]
    fn each_shape_shows_all_that_is_known_of_a_reason() {
        for shape in [Shape::Text, Shape::Markdown, Shape::Html, Shape::Json] {
            for reason in reasons() {
                let text = shown(&[], std::slice::from_ref(&reason), shape).unwrap();
                let escaped = |part: &str| match shape {
                    Shape::Html => part.replace('\'', "&#x27;"),
                    _ => part.to_owned(),
                };
                for part in [reason.name, reason.words, reason.when, reason.clears] {
                    assert!(text.contains(&escaped(part)), "{shape:?}: {part}\n{text}");
                }
                let rest = ["<ul></ul>", "alone", "At most this much"];
                let rest = rest.iter().find(|part| text.contains(**part));
                assert_eq!(rest, None, "{shape:?}: of rules, of which there are none");
            }
        }
    }

    #[test]
    fn a_page_in_html_is_escaped() {
        let mut pages = all().unwrap();
        pages.truncate(1);
        pages[0].statement = "a < b & c".into();
        assert!(
            shown(&pages, &[], Shape::Html)
                .unwrap()
                .contains("a &lt; b &amp; c")
        );
        assert!(
            shown(&pages, &[], Shape::Text)
                .unwrap()
                .contains("a < b & c")
        );
    }
}
