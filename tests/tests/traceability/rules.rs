//! The files of `core/guard/src/rules`: what their heads say, and whether anything runs them.

use std::collections::BTreeSet;

use dosewarden_tests::sources::{Source, is_test_only};
use proc_macro2::{TokenStream, TokenTree};
use syn::visit::{self, Visit};

use crate::hazards::Hazard;
use crate::oracles::Literals;

const HEADINGS: [&str; 5] = ["Hazard", "Statement", "Source", "Clears", "Parameters"];

/// One rule, as its file describes it.
#[derive(Clone, Debug, Default)]
pub(crate) struct RuleFile {
    /// The file's name, which is the rule's.
    pub(crate) name: String,
    hazards: Vec<String>,
    missing: Vec<String>,
    tests: usize,
    tests_without_assertion: Vec<String>,
}

impl RuleFile {
    /// A rule of which only the name matters.
    #[cfg(test)]
    pub(crate) fn named(name: &str) -> Self {
        Self {
            name: name.into(),
            ..Self::default()
        }
    }

    pub(crate) fn of(source: &Source) -> Self {
        let doc = source.module_doc();
        let text = |heading: &str| {
            let start = format!("{heading}:");
            let line = doc.iter().find_map(|l| l.strip_prefix(&start));
            line.map(str::trim).filter(|l| !l.is_empty())
        };
        let hazards = text("Hazard")
            .unwrap_or_default()
            .split([',', '.', ';'])
            .map(str::trim);
        let missing = HEADINGS.iter().filter(|h| text(h).is_none());
        let mut tests = Tests::default();
        tests.visit_file(&source.ast);
        Self {
            name: source.stem().into(),
            hazards: hazards
                .filter(|h| !h.is_empty())
                .map(String::from)
                .collect(),
            missing: missing.map(|h| (*h).to_owned()).collect(),
            tests: tests.count,
            tests_without_assertion: tests.without_assertion,
        }
    }

    /// What the file does not state or test.
    pub(crate) fn incomplete(&self) -> Vec<String> {
        let name = &self.name;
        let no_line = self
            .missing
            .iter()
            .map(|h| format!("{name}: no line `//! {h}: ...`"));
        let blind = self.tests_without_assertion.iter();
        let mut findings: Vec<String> = no_line.collect();
        findings.extend(blind.map(|t| format!("{name}: test `{t}` asserts nothing")));
        if self.tests == 0 {
            findings.push(format!("{name}: no #[test] in its file"));
        }
        findings
    }
}

#[derive(Default)]
struct Tests {
    count: usize,
    without_assertion: Vec<String>,
}

impl<'ast> Visit<'ast> for Tests {
    fn visit_item_fn(&mut self, item: &'ast syn::ItemFn) {
        let is_test = item.attrs.iter().any(|a| a.path().is_ident("test"));
        if is_test && is_test_only(&item.attrs) {
            let mut asserts = Asserts(false);
            asserts.visit_block(&item.block);
            self.count += 1;
            if !asserts.0 {
                self.without_assertion.push(item.sig.ident.to_string());
            }
        }
        visit::visit_item_fn(self, item);
    }
}

/// An `assert...!`, or a call of a function named `assert...` or `check...` that holds one.
struct Asserts(bool);

impl<'ast> Visit<'ast> for Asserts {
    fn visit_path(&mut self, path: &'ast syn::Path) {
        let name = path
            .segments
            .last()
            .map(|s| s.ident.to_string())
            .unwrap_or_default();
        let asserting = ["assert", "debug_assert", "check"]
            .iter()
            .any(|p| name.starts_with(p));
        self.0 = self.0 || asserting;
        visit::visit_path(self, path);
    }
}

/// Names that nothing stands behind, rules that no hazard asks for, and rules that claim a hazard
/// which does not count on them. A hazard may name more rules than those that are there for it first
/// of all, so a name in HAZARDS.md need not stand at the head of the rule's file.
pub(crate) fn mismatches(hazards: &[Hazard], rules: &[RuleFile]) -> Vec<String> {
    let mut findings = Vec::new();
    for hazard in hazards {
        let unknown = |name: &String| !rules.iter().any(|r| r.name == *name);
        let missing = hazard.rules().into_iter().filter(unknown);
        findings.extend(missing.map(|n| format!("{} names `{n}`, which is no rule", hazard.id)));
    }
    for rule in rules {
        for id in &rule.hazards {
            match hazards.iter().find(|h| h.id == *id) {
                None => findings.push(format!("`{}` names {id}, which does not exist", rule.name)),
                Some(hazard) if !hazard.rules().contains(&rule.name) => findings.push(format!(
                    "`{}` names {id}, which does not name it back",
                    rule.name
                )),
                Some(_) => {}
            }
        }
        if !hazards.iter().any(|h| h.rules().contains(&rule.name)) {
            findings.push(format!("`{}` answers no hazard", rule.name));
        }
    }
    findings
}

/// The names that `Rule::name` gives, wherever `impl Rule` stands in the guard.
pub(crate) fn named(guard: &[Source]) -> Vec<String> {
    let mut names = Literals::default();
    for item in guard.iter().flat_map(|s| &s.ast.items) {
        let syn::Item::Impl(block) = item else {
            continue;
        };
        let syn::Type::Path(of) = &*block.self_ty else {
            continue;
        };
        if block.trait_.is_none() && of.path.is_ident("Rule") {
            let is_name =
                |i: &&syn::ImplItem| matches!(i, syn::ImplItem::Fn(f) if f.sig.ident == "name");
            block
                .items
                .iter()
                .filter(is_name)
                .for_each(|i| names.visit_impl_item(i));
        }
    }
    names.0
}

/// Rules without a file, and files with a rule's head that are no rule.
pub(crate) fn strays(names: &[String], files: &[RuleFile]) -> Vec<String> {
    let no_file = names
        .iter()
        .filter(|n| !files.iter().any(|f| f.name == **n));
    let no_rule = files
        .iter()
        .filter(|f| !f.hazards.is_empty() && !names.contains(&f.name));
    let mut findings: Vec<String> = no_file
        .map(|n| format!("`{n}` is a rule without a file rules/{n}.rs"))
        .collect();
    findings.extend(no_rule.map(|f| format!("rules/{}.rs has a rule's head and is none", f.name)));
    findings
}

/// Rule files that no `mod` declares, or whose module no shipped code calls by its path.
pub(crate) fn unused(guard: &[Source], rules: &[RuleFile]) -> Vec<String> {
    let mut seen = Seen::default();
    let is_rule = |source: &&Source| {
        let own = rules.iter().any(|r| r.name == source.stem());
        own && source.module().first().is_some_and(|m| m == "rules")
    };
    for source in guard.iter().filter(|s| !is_rule(s)) {
        seen.visit_file(&source.ast);
    }
    let mut findings = Vec::new();
    for RuleFile { name, .. } in rules {
        if !seen.declared.contains(name) {
            findings.push(format!(
                "`{name}` is declared by no `mod`, so it is not compiled"
            ));
        }
        if !seen.called.contains(name) {
            findings.push(format!(
                "nothing in the guard names `{name}::...`, so it is never run"
            ));
        }
    }
    findings
}

#[derive(Default)]
struct Seen {
    declared: BTreeSet<String>,
    called: BTreeSet<String>,
}

impl Seen {
    /// In a macro: an identifier that `::` follows, or one that is an argument by itself, from
    /// which the macro makes both the declaration and the call.
    fn tokens(&mut self, stream: TokenStream) {
        for tree in stream {
            match tree {
                TokenTree::Ident(ident) => {
                    self.called.insert(ident.to_string());
                }
                TokenTree::Group(group) => self.tokens(group.stream()),
                _ => {}
            }
        }
    }
}

impl<'ast> Visit<'ast> for Seen {
    fn visit_item_mod(&mut self, item: &'ast syn::ItemMod) {
        self.declared.insert(item.ident.to_string());
        visit::visit_item_mod(self, item);
    }

    fn visit_item_use(&mut self, _: &'ast syn::ItemUse) {}

    fn visit_path(&mut self, path: &'ast syn::Path) {
        let names = path.segments.iter().map(|s| s.ident.to_string());
        let count = path.segments.len();
        self.called.extend(names.take(count.saturating_sub(1)));
        visit::visit_path(self, path);
    }

    fn visit_macro(&mut self, mac: &'ast syn::Macro) {
        self.tokens(mac.tokens.clone());
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::hazards::{parse, tests::section};

    const GOOD: &str = "//! Flow is proven.\n//!\n//! Hazard: H-01, H-02\n//! Statement: a.\n\
                        //! Source: b.\n//! Clears: c.\n//! Parameters: d\n\
                        #[cfg(test)] mod tests { #[test] fn t() { assert!(f()); } }";

    fn source(path: &str, text: &str) -> Source {
        Source::parse(path, text).expect("a snippet that parses")
    }

    fn rule(text: &str) -> RuleFile {
        RuleFile::of(&source("core/guard/src/rules/flow_proven.rs", text))
    }

    #[test]
    fn a_complete_rule_file_is_read() {
        let good = rule(GOOD);
        assert_eq!(good.name, "flow_proven");
        assert_eq!(good.hazards, ["H-01", "H-02"]);
        assert_eq!(good.incomplete(), Vec::<String>::new());
    }

    #[test]
    fn each_gap_in_a_rule_file_is_seen() {
        for heading in HEADINGS {
            let gap = GOOD.replace(&format!("//! {heading}:"), "//! Other:");
            assert_eq!(rule(&gap).incomplete().len(), 1, "{heading}");
            let empty = format!("//! {heading}:\n");
            assert!(
                rule(&empty).incomplete().len() > HEADINGS.len() - 1,
                "{heading}"
            );
        }
        assert_eq!(rule(&GOOD.replace("#[test]", "")).incomplete().len(), 1);
        assert_eq!(
            rule(&GOOD.replace("assert!(f())", "f()"))
                .incomplete()
                .len(),
            1
        );
    }

    fn found(hazards: &str, rules: &[RuleFile]) -> Vec<String> {
        mismatches(&parse(hazards).expect("a page that parses"), rules)
    }

    #[test]
    fn an_orphan_either_way_is_seen() {
        let both =
            section("H-01", "`flow_proven`", "`o`") + &section("H-02", "`flow_proven`", "`o`");
        let one = section("H-01", "`flow_proven`", "`o`") + &section("H-02", "`other`", "`o`");
        let none = section("H-01", "`other`", "`o`") + &section("H-02", "`other`", "`o`");
        assert_eq!(found(&both, &[rule(GOOD)]), Vec::<String>::new());
        assert_eq!(
            found(&one, &[rule(GOOD)]),
            [
                "H-02 names `other`, which is no rule",
                "`flow_proven` names H-02, which does not name it back"
            ]
        );
        assert!(found(&none, &[rule(GOOD)]).contains(&"`flow_proven` answers no hazard".into()));
        let fewer = rule(&GOOD.replace("H-01, H-02", "H-01"));
        assert_eq!(found(&both, &[fewer]), Vec::<String>::new());
        let more = rule(&GOOD.replace("H-01, H-02", "H-01, H-02, H-99"));
        assert_eq!(
            found(&both, &[more]),
            ["`flow_proven` names H-99, which does not exist"]
        );
    }

    #[test]
    fn the_names_of_rules_are_read_and_strays_seen() {
        let text = "enum Rule { A } impl Rule { /** Its name. */ fn name(self) -> &'static str { match self { \
                    Self::A => \"flow_proven\" } } fn other() -> &'static str { \"x\" } } \
                    impl Other { fn name() -> &'static str { \"y\" } }";
        let names = named(&[source("core/guard/src/rules/mod.rs", text)]);
        assert_eq!(names, ["flow_proven"]);
        assert_eq!(
            strays(&names, &[rule(GOOD), RuleFile::named("shared")]),
            Vec::<String>::new()
        );
        assert_eq!(
            strays(&names, &[]),
            ["`flow_proven` is a rule without a file rules/flow_proven.rs"]
        );
        assert_eq!(
            strays(&[], &[rule(GOOD)]),
            ["rules/flow_proven.rs has a rule's head and is none"]
        );
    }

    #[test]
    fn a_rule_that_nothing_runs_is_seen() {
        let unused_in = |text: &str| {
            let files = [
                source("core/guard/src/rules/mod.rs", text),
                source(
                    "core/guard/src/rules/flow_proven.rs",
                    "fn f() { flow_proven::g() }",
                ),
            ];
            unused(&files, &[rule(GOOD)]).len()
        };
        assert_eq!(
            unused_in("mod flow_proven; fn all() { flow_proven::limit(); }"),
            0
        );
        assert_eq!(
            unused_in("mod flow_proven; fn all() { run!(flow_proven, other); }"),
            0
        );
        assert_eq!(unused_in("mod flow_proven;"), 1);
        assert_eq!(unused_in("mod flow_proven; use flow_proven::limit;"), 1);
        assert_eq!(unused_in(""), 2);
        let table = source(
            "core/guard/src/rules/table.rs",
            "fn all() { flow_proven::limit(); }",
        );
        let declared = source("core/guard/src/rules/mod.rs", "mod flow_proven; mod table;");
        assert_eq!(unused(&[declared, table], &[rule(GOOD)]).len(), 0);
    }
}
