//! Which crate or module names which. A judge that reads the judged cannot find it wrong.

use std::collections::{BTreeMap, BTreeSet};

use dosewarden_tests::sources::Source;
use proc_macro2::{Ident, TokenStream, TokenTree};
use syn::visit::{self, Visit};
use syn::{Item, UseTree};

/// The controller's crates, by the names under which code can reach them.
pub(crate) const CORE: [&str; 2] = ["dosewarden", "dosewarden_guard"];

/// Every path of a file, as its leading identifiers with the line on which it starts.
#[derive(Default)]
struct Paths {
    all: Vec<(usize, Vec<String>)>,
}

impl Paths {
    fn of(source: &Source) -> Self {
        let mut paths = Self::default();
        paths.visit_file(&source.ast);
        paths
    }

    fn push(&mut self, idents: &[&Ident]) {
        if let Some(first) = idents.first() {
            let line = first.span().start().line;
            self.all
                .push((line, idents.iter().map(ToString::to_string).collect()));
        }
    }

    fn tree(&mut self, prefix: &[&Ident], tree: &UseTree) {
        match tree {
            UseTree::Path(path) => {
                let longer: Vec<&Ident> = prefix.iter().copied().chain([&path.ident]).collect();
                self.tree(&longer, &path.tree);
            }
            UseTree::Name(name) => {
                self.push(
                    &prefix
                        .iter()
                        .copied()
                        .chain([&name.ident])
                        .collect::<Vec<_>>(),
                );
            }
            UseTree::Rename(name) => {
                self.push(
                    &prefix
                        .iter()
                        .copied()
                        .chain([&name.ident])
                        .collect::<Vec<_>>(),
                );
            }
            UseTree::Group(group) => {
                for inner in &group.items {
                    self.tree(prefix, inner);
                }
            }
            _ => self.push(prefix),
        }
    }

    /// In a macro a path is identifiers joined by `::`.
    fn tokens(&mut self, stream: TokenStream) {
        let mut path: Vec<Ident> = Vec::new();
        let mut colons = 0;
        for tree in stream {
            match tree {
                TokenTree::Ident(ident) => {
                    if colons != 2 {
                        self.push(&path.iter().collect::<Vec<_>>());
                        path.clear();
                    }
                    path.push(ident);
                    colons = 0;
                }
                TokenTree::Punct(punct) if punct.as_char() == ':' => colons += 1,
                other => {
                    self.push(&path.iter().collect::<Vec<_>>());
                    path.clear();
                    colons = 0;
                    if let TokenTree::Group(group) = other {
                        self.tokens(group.stream());
                    }
                }
            }
        }
        self.push(&path.iter().collect::<Vec<_>>());
    }
}

impl<'ast> Visit<'ast> for Paths {
    fn visit_item_use(&mut self, item: &'ast syn::ItemUse) {
        self.tree(&[], &item.tree);
    }

    fn visit_item_extern_crate(&mut self, item: &'ast syn::ItemExternCrate) {
        self.push(&[&item.ident]);
    }

    fn visit_path(&mut self, path: &'ast syn::Path) {
        self.push(&path.segments.iter().map(|s| &s.ident).collect::<Vec<_>>());
        visit::visit_path(self, path);
    }

    fn visit_macro(&mut self, mac: &'ast syn::Macro) {
        self.tokens(mac.tokens.clone());
        visit::visit_macro(self, mac);
    }
}

/// Places where a path starts in one of `crates`, also after `crate::` (a re-export).
pub(crate) fn names(source: &Source, crates: &[&str]) -> Vec<String> {
    let from = |path: &[String]| {
        let first = path
            .iter()
            .find(|p| *p != "crate" && *p != "self" && *p != "super");
        first.filter(|p| crates.contains(&p.as_str())).cloned()
    };
    let paths = Paths::of(source).all;
    let found = paths
        .iter()
        .filter_map(|(line, p)| from(p).map(|name| (line, name)));
    found
        .map(|(line, name)| format!("{}:{line}: names `{name}`", source.path))
        .collect()
}

/// The top-level modules of the same crate that a file names, `crate::` or `super::` written out.
fn siblings(source: &Source, top: &BTreeSet<String>) -> BTreeSet<String> {
    let module = source.module();
    let mut found = BTreeSet::new();
    for (_, path) in Paths::of(source).all {
        let supers = path.iter().take_while(|p| *p == "super").count();
        let absolute = match path.first().map(String::as_str) {
            Some("crate") => path.get(1),
            Some("super") if supers == module.len() => path.get(supers),
            _ => None,
        };
        found.extend(absolute.filter(|name| top.contains(*name)).cloned());
    }
    found
}

/// Findings for each of `judges` that names a core crate, itself or through a module of the same
/// crate that it uses, or that takes names from the root of the crate by `*`.
pub(crate) fn reach_core(sources: &[Source], judges: &[&str]) -> Vec<String> {
    let first = |s: &Source| s.module().first().cloned().unwrap_or_default();
    let mut top: BTreeSet<String> = sources.iter().map(first).collect();
    top.remove("");
    let mut uses: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
    let mut direct: BTreeMap<String, Vec<String>> = BTreeMap::new();
    for source in sources {
        uses.entry(first(source))
            .or_default()
            .extend(siblings(source, &top));
        direct
            .entry(first(source))
            .or_default()
            .extend(names(source, &CORE));
    }
    let mut findings = Vec::new();
    for judge in judges {
        if !top.contains(*judge) {
            findings.push(format!("no module `{judge}`: has it moved?"));
        }
        let mut seen = BTreeSet::from([(*judge).to_owned()]);
        let mut queue = vec![(*judge).to_owned()];
        while let Some(module) = queue.pop() {
            let via = if module == *judge {
                String::new()
            } else {
                format!(" (used by `{judge}`)")
            };
            findings.extend(
                direct
                    .get(&module)
                    .into_iter()
                    .flatten()
                    .map(|f| format!("{f}{via}")),
            );
            let next = uses.get(&module).into_iter().flatten();
            queue.extend(next.filter(|m| seen.insert((*m).clone())).cloned());
        }
    }
    findings.extend(
        sources
            .iter()
            .filter(|s| judges.contains(&first(s).as_str()))
            .flat_map(root_glob),
    );
    findings
}

/// `use crate::*`, which would bring in whatever the root of the crate re-exports.
fn root_glob(source: &Source) -> Vec<String> {
    let is_glob = |item: &Item| match item {
        Item::Use(u) => match &u.tree {
            UseTree::Path(p) => p.ident == "crate" && matches!(*p.tree, UseTree::Glob(_)),
            _ => false,
        },
        _ => false,
    };
    let found = source.ast.items.iter().filter(|i| is_glob(i));
    found
        .map(|_| format!("{}: `use crate::*`", source.path))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::snippet;

    fn found(text: &str) -> usize {
        names(&snippet("host-sim/src/oracle/a.rs", text), &CORE).len()
    }

    #[test]
    fn every_way_of_naming_a_crate_is_seen() {
        assert_eq!(found("use dosewarden::Controller;"), 1);
        assert_eq!(
            found("use {std::fmt, dosewarden_guard::{Permit, Rule as R}};"),
            2
        );
        assert_eq!(found("use ::dosewarden as d;"), 1);
        assert_eq!(found("extern crate dosewarden as d;"), 1);
        assert_eq!(
            found("fn f(x: &dosewarden::Outputs) -> u8 { dosewarden_guard::LIMIT }"),
            2
        );
        assert_eq!(found("fn f() { assert!(dosewarden::ok()); }"), 1);
        assert_eq!(found("use crate::dosewarden::Outputs;"), 1);
        assert_eq!(found("use dosewarden::*;"), 1);
    }

    #[test]
    fn what_only_looks_alike_passes() {
        assert_eq!(
            found("use crate::plant::Truth; fn dosewarden_like() { x::dosewarden(); }"),
            0
        );
        assert_eq!(
            found("//! `dosewarden` is judged here.\nconst A: &str = \"dosewarden\";"),
            0
        );
    }

    fn tree(oracle: &str, run: &str) -> Vec<String> {
        let sources = [
            snippet(
                "host-sim/src/lib.rs",
                "mod oracle; mod plant; mod run; mod time;",
            ),
            snippet("host-sim/src/oracle/mod.rs", oracle),
            snippet("host-sim/src/plant/mod.rs", "use crate::time::Seconds;"),
            snippet("host-sim/src/run.rs", run),
            snippet("host-sim/src/time.rs", "pub struct Seconds;"),
        ];
        reach_core(&sources, &["oracle", "plant"])
    }

    #[test]
    fn a_judge_reaching_core_is_seen_however_it_gets_there() {
        let run = "pub use dosewarden::Outputs;";
        assert_eq!(tree("use crate::plant::Truth;", run), Vec::<String>::new());
        assert_eq!(tree("use dosewarden::Outputs;", run).len(), 1);
        let via = tree("use crate::run::Outputs;", run);
        assert_eq!(
            via,
            ["host-sim/src/run.rs:1: names `dosewarden` (used by `oracle`)"]
        );
        assert_eq!(tree("use super::run::Outputs;", run).len(), 1);
        assert_eq!(tree("use crate::*;", run).len(), 1);
        let gone = reach_core(&[snippet("host-sim/src/lib.rs", "")], &["oracle"]);
        assert_eq!(gone, ["no module `oracle`: has it moved?"]);
    }
}
