//! `HAZARDS.md`, read: `## H-01 Title`, then paragraphs that open with a bold label.

use std::collections::BTreeMap;

/// The paragraphs that each hazard has, in this order.
const LABELS: [&str; 7] = [
    "Harm",
    "Speed",
    "Safe state",
    "Rules",
    "Oracles",
    "Threshold",
    "Source",
];
/// How a source is marked: what was read oneself, and what was not.
const MARKS: [&str; 5] = [
    "(read",
    "(second-hand",
    "(computed",
    "(memory",
    "common practice, no source",
];

/// One section of `HAZARDS.md`.
#[derive(Clone, Debug, Default)]
pub(crate) struct Hazard {
    /// `H-01`.
    pub(crate) id: String,
    pub(crate) title: String,
    labels: Vec<String>,
    texts: BTreeMap<String, String>,
}

impl Hazard {
    fn text(&self, label: &str) -> &str {
        self.texts.get(label).map_or("", String::as_str)
    }

    /// Names of rules in backticks.
    pub(crate) fn rules(&self) -> Vec<String> {
        backticked(self.text("Rules"))
    }

    /// Names of oracles in backticks.
    pub(crate) fn oracles(&self) -> Vec<String> {
        backticked(self.text("Oracles"))
    }
}

/// What stands between backticks.
pub(crate) fn backticked(text: &str) -> Vec<String> {
    text.split('`')
        .skip(1)
        .step_by(2)
        .map(String::from)
        .collect()
}

/// Reads the page.
pub(crate) fn parse(page: &str) -> Result<Vec<Hazard>, String> {
    let mut found: Vec<Hazard> = Vec::new();
    for section in page.split("\n## ").skip(1).filter(|s| s.starts_with("H-")) {
        let (heading, body) = section.split_once('\n').unwrap_or((section, ""));
        let (id, title) = heading.split_once(' ').unwrap_or((heading, ""));
        let mut hazard = Hazard {
            id: id.into(),
            title: title.into(),
            ..Hazard::default()
        };
        for paragraph in body.split("\n\n").map(str::trim).filter(|p| !p.is_empty()) {
            let labelled = paragraph
                .strip_prefix("**")
                .and_then(|p| p.split_once(".**"));
            let Some((label, text)) = labelled else {
                return Err(format!(
                    "{id}: a paragraph without a label: {paragraph:.40}"
                ));
            };
            hazard.labels.push(label.into());
            hazard.texts.insert(label.into(), text.trim().into());
        }
        found.push(hazard);
    }
    if found.is_empty() {
        Err("no section `## H-..`".into())
    } else {
        Ok(found)
    }
}

/// What a hazard lacks.
pub(crate) fn incomplete(hazard: &Hazard) -> Vec<String> {
    let id = &hazard.id;
    let mut findings = Vec::new();
    if hazard.title.trim().is_empty() {
        findings.push(format!("{id} has no title"));
    }
    if hazard.labels != LABELS {
        findings.push(format!("{id} has {:?}, not {LABELS:?}", hazard.labels));
    }
    let empty = LABELS.iter().filter(|l| hazard.text(l).is_empty());
    findings.extend(empty.map(|label| format!("{id}: nothing under {label}")));
    if hazard.rules().is_empty() {
        findings.push(format!("{id}: no rule answers it"));
    }
    if hazard.oracles().is_empty() {
        findings.push(format!("{id}: no oracle judges it"));
    }
    if !MARKS.iter().any(|m| hazard.text("Source").contains(m)) {
        findings.push(format!("{id}: its source is not marked as read, second-hand, computed, memory or common practice"));
    }
    findings
}

/// Hazards that are not H-01, H-02 and so on: numbers are never reused.
pub(crate) fn misnumbered(hazards: &[Hazard]) -> Vec<String> {
    let wanted = (1..).map(|n: u32| format!("H-{n:02}"));
    let pairs = hazards
        .iter()
        .zip(wanted)
        .filter(|(hazard, id)| hazard.id != *id);
    pairs
        .map(|(hazard, id)| format!("{} stands where {id} should", hazard.id))
        .collect()
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;

    /// A complete section, for the tests of this target.
    pub(crate) fn section(id: &str, rules: &str, oracles: &str) -> String {
        format!(
            "\n## {id} A title\n\n**Harm.** It\nhurts.\n\n**Speed.** Fast.\n\n**Safe state.** Off.\n\n\
             **Rules.** {rules}\n\n**Oracles.** {oracles}\n\n**Threshold.** None.\n\n\
             **Source.** A text (read).\n"
        )
    }

    fn findings(page: &str) -> Vec<String> {
        parse(page)
            .expect("a page that parses")
            .iter()
            .flat_map(incomplete)
            .collect()
    }

    #[test]
    fn a_complete_page_is_read() {
        let page = format!(
            "# Hazards\n\n## Not one\n\ntext\n{}",
            section("H-01", "`a`,\n`b_c`", "`o`")
        );
        let all = parse(&page).expect("a page that parses");
        assert_eq!(all.len(), 1);
        assert_eq!(all[0].rules(), ["a", "b_c"]);
        assert_eq!(all[0].oracles(), ["o"]);
        assert_eq!(all[0].text("Harm"), "It\nhurts.");
        assert_eq!(findings(&page), Vec::<String>::new());
    }

    #[test]
    fn each_gap_is_seen() {
        let good = section("H-01", "`a`", "`o`");
        assert_eq!(findings(&good.replace("A title", "")).len(), 1);
        assert_eq!(findings(&good.replace("**Speed.** Fast.\n\n", "")).len(), 2);
        assert_eq!(findings(&good.replace("Off.", "")).len(), 1);
        assert_eq!(findings(&section("H-01", "none yet", "`o`")).len(), 1);
        assert_eq!(findings(&section("H-01", "`a`", "none yet")).len(), 1);
        assert_eq!(findings(&good.replace("(read)", "")).len(), 1);
        assert_eq!(findings(&good.replace("**Harm", "**Damage")).len(), 2);
        assert!(parse(&good.replace("**Speed.** Fast", "Fast")).is_err());
        assert!(parse("# Hazards\n").is_err());
    }

    #[test]
    fn a_wrong_number_is_seen() {
        let numbered = |ids: &[&str]| {
            let page: String = ids.iter().map(|id| section(id, "`a`", "`o`")).collect();
            misnumbered(&parse(&page).expect("a page that parses")).len()
        };
        assert_eq!(numbered(&["H-01", "H-02"]), 0);
        assert_eq!(numbered(&["H-01", "H-03"]), 1);
        assert_eq!(numbered(&["H-02", "H-01"]), 2);
    }
}
