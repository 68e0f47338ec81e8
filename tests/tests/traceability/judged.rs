//! The table of `HAZARDS.md` that says which oracle judges which rule.

use crate::hazards::{Hazard, backticked};
use crate::oracles::OracleImpl;
use crate::rules::RuleFile;

/// The heading over the table.
const HEADING: &str = "\n## Which oracle judges which rule\n";
/// Oracles of what no single rule is for: that the water is kept, and fed.
const OF_NO_RULE: [&str; 2] = ["fed_or_asked", "kept_in_range"];

/// One line of it.
#[derive(Clone, Debug)]
pub(crate) struct Row {
    pub(crate) rule: String,
    pub(crate) oracles: Vec<String>,
    pub(crate) seen_as: String,
}

/// The lines that begin with a rule.
pub(crate) fn rows(page: &str) -> Vec<Row> {
    let after = page.split_once(HEADING).map_or("", |(_, after)| after);
    let section = after.split("\n## ").next().unwrap_or("");
    let lines = section.lines().filter(|line| line.starts_with("| `"));
    let row = |line: &str| {
        let cells: Vec<&str> = line.split('|').map(str::trim).collect();
        let cell = |at: usize| cells.get(at).copied().unwrap_or("");
        Row {
            rule: backticked(cell(1)).pop().unwrap_or_default(),
            oracles: backticked(cell(2)),
            seen_as: cell(3).into(),
        }
    };
    lines.map(row).collect()
}

/// Rules and oracles without a line, lines without one of them, and an oracle that judges no hazard of its rule.
pub(crate) fn mismatches(
    rows: &[Row],
    hazards: &[Hazard],
    rules: &[RuleFile],
    oracles: &[OracleImpl],
) -> Vec<String> {
    let mut findings = Vec::new();
    for RuleFile { name, .. } in rules {
        let count = rows.iter().filter(|row| row.rule == *name).count();
        if count != 1 {
            findings.push(format!("`{name}` has {count} lines in the table"));
        }
    }
    for row in rows {
        let rule = &row.rule;
        if !rules.iter().any(|known| known.name == *rule) {
            findings.push(format!("`{rule}` in the table is no rule"));
        }
        if row.oracles.is_empty() || row.seen_as.is_empty() {
            findings.push(format!(
                "`{rule}`: the table says no oracle, or not what it sees"
            ));
        }
        for name in &row.oracles {
            let Some(oracle) = oracles.iter().find(|known| known.file == *name) else {
                findings.push(format!("`{name}` beside `{rule}` is no oracle"));
                continue;
            };
            let own = hazards.iter().filter(|h| h.rules().contains(rule));
            if !own.clone().any(|h| oracle.hazards.contains(&h.id)) {
                findings.push(format!("`{name}` judges no hazard that `{rule}` answers"));
            }
        }
    }
    for OracleImpl { file, .. } in oracles {
        let is_named = rows.iter().any(|row| row.oracles.contains(file));
        if is_named == OF_NO_RULE.contains(&file.as_str()) {
            findings.push(format!("`{file}`: no line of the table, or one too many"));
        }
    }
    findings
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::hazards::{parse, tests::section};
    use dosewarden_tests::sources::Source;

    const LINE: &str = "| `a` | `standing_water` | nothing fed |\n";

    fn found(line: &str, hazard: &str) -> Vec<String> {
        let page = section("H-01", "`a`", "`standing_water`");
        let code = format!(
            "impl Oracle for S {{ fn name(&self) -> &str {{ \"standing_water\" }} fn hazard(&self) -> &str {{ \"{hazard}\" }} }}"
        );
        let source = Source::parse("host-sim/src/oracle/standing_water.rs", &code);
        let oracles = crate::oracles::of(&source.expect("code that parses"));
        let rows = rows(&format!(
            "{page}\n{HEADING}\n| rule | oracles | seen as |\n|---|---|---|\n{line}"
        ));
        let hazards = parse(&page).expect("a page that parses");
        mismatches(&rows, &hazards, &[RuleFile::named("a")], &oracles)
    }

    #[test]
    fn a_complete_line_is_silent() {
        assert_eq!(found(LINE, "H-01"), Vec::<String>::new());
    }

    #[test]
    fn what_is_missing_or_wrong_is_seen() {
        assert_eq!(found("", "H-01").len(), 2);
        assert_eq!(found(&LINE.replace("`a`", "`b`"), "H-01").len(), 3);
        assert_eq!(
            found(&LINE.replace("standing_water", "other"), "H-01").len(),
            2
        );
        assert_eq!(found(&LINE.replace("nothing fed", ""), "H-01").len(), 1);
        assert_eq!(found(&LINE.repeat(2), "H-01").len(), 1);
        assert_eq!(
            found(LINE, "H-02"),
            ["`standing_water` judges no hazard that `a` answers"]
        );
    }
}
