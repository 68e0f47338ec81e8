//! The README's table of rules.

use std::collections::BTreeSet;

use crate::hazards::backticked;
use crate::rules::RuleFile;

/// Names in the first column of every table whose first heading speaks of rules.
fn table(page: &str) -> Vec<String> {
    let mut names = Vec::new();
    let mut inside = false;
    let mut before_was_row = false;
    for line in page.lines() {
        let row = line.trim_start().strip_prefix('|');
        let first = row.and_then(|r| r.split('|').next()).unwrap_or_default();
        if row.is_some() && !before_was_row {
            inside = first.to_lowercase().contains("rule");
        } else if row.is_some() && inside {
            names.extend(backticked(first));
        }
        before_was_row = row.is_some();
    }
    names
}

/// Rules that the table does not show, shows twice, or shows without there being any.
pub(crate) fn mismatches(page: &str, rules: &[RuleFile]) -> Vec<String> {
    let shown = table(page);
    let mut findings = Vec::new();
    if rules.is_empty() {
        findings.push("there is no rule to show".to_owned());
    }
    for rule in rules.iter().filter(|r| !shown.contains(&r.name)) {
        findings.push(format!("the table of rules does not show `{}`", rule.name));
    }
    let mut once = BTreeSet::new();
    for name in &shown {
        if !rules.iter().any(|r| r.name == *name) {
            findings.push(format!("the table of rules shows `{name}`, which is none"));
        }
        if !once.insert(name) {
            findings.push(format!("the table of rules shows `{name}` twice"));
        }
    }
    findings
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rule(name: &str) -> RuleFile {
        RuleFile::named(name)
    }

    #[test]
    fn rows_of_the_right_table_are_read() {
        let page = "| feature | does |\n|---|---|\n| `hal` | x |\n\ntext\n\n\
                    | Rule | holds |\n|:--|---|\n| `a` | `not_this` |\n| `b`, `c` | x |\n\n`d`\n";
        assert_eq!(table(page), ["a", "b", "c"]);
        assert_eq!(
            mismatches(page, &[rule("a"), rule("b"), rule("c")]),
            Vec::<String>::new()
        );
    }

    #[test]
    fn a_missing_a_foreign_and_a_double_row_are_seen() {
        let page = "| rule | holds |\n|---|---|\n| `a` | x |\n| `a` | x |\n| `z` | x |\n";
        assert_eq!(
            mismatches(page, &[rule("a"), rule("b")]),
            [
                "the table of rules does not show `b`",
                "the table of rules shows `a` twice",
                "the table of rules shows `z`, which is none"
            ]
        );
        assert_eq!(mismatches("no table", &[rule("a")]).len(), 1);
        assert_eq!(mismatches("no table", &[]).len(), 1);
    }
}
