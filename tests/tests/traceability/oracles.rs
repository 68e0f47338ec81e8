//! The files of `host-sim/src/oracle` that implement `Oracle`.

use dosewarden_tests::sources::Source;
use syn::visit::{self, Visit};
use syn::{Expr, ImplItem, Item, Lit};

use crate::hazards::Hazard;

/// One `impl Oracle`.
#[derive(Clone, Debug, Default)]
pub(crate) struct OracleImpl {
    pub(crate) file: String,
    names: Vec<String>,
    pub(crate) hazards: Vec<String>,
}

/// String literals inside an item.
#[derive(Default)]
pub(crate) struct Literals(pub(crate) Vec<String>);

impl<'ast> Visit<'ast> for Literals {
    /// A doc comment is an attribute with a literal in it.
    fn visit_attribute(&mut self, _: &'ast syn::Attribute) {}

    fn visit_expr(&mut self, expr: &'ast Expr) {
        if let Expr::Lit(literal) = expr
            && let Lit::Str(text) = &literal.lit
        {
            self.0.push(text.value());
        }
        visit::visit_expr(self, expr);
    }
}

/// Literals of the method or constant called `name`, whatever its case.
fn stated(block: &syn::ItemImpl, name: &str) -> Vec<String> {
    let mut literals = Literals::default();
    for item in &block.items {
        match item {
            ImplItem::Fn(f) if f.sig.ident == name => literals.visit_impl_item_fn(f),
            ImplItem::Const(c) if c.ident == name.to_uppercase() => {
                literals.visit_impl_item_const(c);
            }
            _ => {}
        }
    }
    literals.0
}

/// The oracles of a file; none for files that only help.
pub(crate) fn of(source: &Source) -> Vec<OracleImpl> {
    let implements = |item: &Item| match item {
        Item::Impl(block) => {
            let path = block.trait_.as_ref().map(|(path, _)| path)?;
            let last = path.segments.last()?;
            (last.ident == "Oracle").then(|| block.clone())
        }
        _ => None,
    };
    let blocks = source.without_tests().ast.items;
    let found = blocks
        .iter()
        .filter_map(implements)
        .map(|block| OracleImpl {
            file: source.stem().into(),
            names: stated(&block, "name"),
            hazards: stated(&block, "hazard"),
        });
    found.collect()
}

/// Hazards and oracles that do not name each other, and names that nothing stands behind.
pub(crate) fn mismatches(hazards: &[Hazard], oracles: &[OracleImpl]) -> Vec<String> {
    let mut findings = Vec::new();
    for hazard in hazards {
        let none = |name: &String| !oracles.iter().any(|o| o.file == *name);
        let missing = hazard.oracles().into_iter().filter(none);
        findings.extend(missing.map(|name| {
            format!(
                "{} names `{name}`: no `impl Oracle` in oracle/{name}.rs",
                hazard.id
            )
        }));
    }
    for oracle in oracles {
        let file = &oracle.file;
        if oracle.names != [file.clone()] {
            findings.push(format!(
                "oracle/{file}.rs: name() gives {:?}, not its file's name",
                oracle.names
            ));
        }
        if oracle.hazards.is_empty() {
            findings.push(format!("oracle/{file}.rs: hazard() gives none"));
        }
        for id in &oracle.hazards {
            match hazards.iter().find(|h| h.id == *id) {
                None => findings.push(format!("oracle/{file}.rs: {id} does not exist")),
                Some(hazard) if !hazard.oracles().contains(file) => {
                    findings.push(format!("oracle/{file}.rs: {id} does not name it back"));
                }
                Some(_) => {}
            }
        }
    }
    findings
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::hazards::{parse, tests::section};

    const GOOD: &str = "impl Oracle for StandingWater {\n\
                        /// Its name.\n fn name(&self) -> &'static str { \"standing_water\" }\n\
                        fn hazard(&self) -> &'static str { \"H-01\" }\n\
                        fn step(&mut self) { let _ = \"H-77\"; } }";

    fn oracles(text: &str) -> Vec<OracleImpl> {
        let path = "host-sim/src/oracle/standing_water.rs";
        of(&Source::parse(path, text).expect("a snippet that parses"))
    }

    fn found(page: &str, text: &str) -> Vec<String> {
        mismatches(&parse(page).expect("a page that parses"), &oracles(text))
    }

    #[test]
    fn an_oracle_is_read_from_methods_and_constants() {
        let page = section("H-01", "`a`", "`standing_water`");
        assert_eq!(found(&page, GOOD), Vec::<String>::new());
        let constants = "impl crate::oracle::Oracle for S { const NAME: &'static str = \
                         \"standing_water\"; const HAZARD: &'static str = \"H-01\"; }";
        assert_eq!(found(&page, constants), Vec::<String>::new());
        assert!(oracles("pub fn shared() {} impl Clone for S {}").is_empty());
        assert!(oracles(&format!("#[cfg(test)] mod tests {{ {GOOD} }}")).is_empty());
    }

    #[test]
    fn an_orphan_either_way_is_seen() {
        let page = section("H-01", "`a`", "`standing_water`");
        assert_eq!(
            found(&page, ""),
            ["H-01 names `standing_water`: no `impl Oracle` in oracle/standing_water.rs"]
        );
        assert_eq!(found(&section("H-01", "`a`", "`other`"), GOOD).len(), 2);
        assert_eq!(
            found(&page, &GOOD.replace("H-01", "H-09")),
            ["oracle/standing_water.rs: H-09 does not exist"]
        );
        assert_eq!(
            found(&page, &GOOD.replace("\"standing_water\"", "\"standing\"")).len(),
            1
        );
        assert_eq!(found(&page, &GOOD.replace("\"H-01\"", "ID")).len(), 1);
    }
}
