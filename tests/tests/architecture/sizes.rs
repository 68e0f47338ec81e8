//! How long a file, a function and a rule may be.

use dosewarden_tests::sources::Source;
use syn::spanned::Spanned;
use syn::visit::{self, Visit};

const FILE_LINES_MAX: usize = 400;
const FUNCTION_LINES_MAX: usize = 70;
const RULE_LINES_MAX: usize = 120;

fn longer_than(source: &Source, lines_max: usize) -> Vec<String> {
    let lines = source.text.lines().count();
    let finding = format!("{}: {lines} lines, at most {lines_max}", source.path);
    if lines > lines_max {
        vec![finding]
    } else {
        Vec::new()
    }
}

/// Files that should be two.
pub(crate) fn long_files(source: &Source) -> Vec<String> {
    longer_than(source, FILE_LINES_MAX)
}

/// Rule files that no longer fit one page with their tests. `mod.rs` and `table.rs` hold no rule but
/// the names of all and the table that runs them.
pub(crate) fn long_rules(source: &Source) -> Vec<String> {
    let name = source
        .path
        .split_once("core/guard/src/rules/")
        .map(|(_, name)| name);
    if matches!(name, None | Some("mod.rs" | "table.rs" | "context.rs")) {
        return Vec::new();
    }
    longer_than(source, RULE_LINES_MAX)
}

struct Functions<'a> {
    path: &'a str,
    found: Vec<String>,
}

impl Functions<'_> {
    /// From the line of `fn` to that of the closing brace.
    fn measure(&mut self, signature: &syn::Signature, block: &syn::Block) {
        let first = signature.span().start().line;
        let lines = block.span().end().line + 1 - first;
        if lines > FUNCTION_LINES_MAX {
            let name = &signature.ident;
            let text = format!(
                "{}:{first}: `{name}` has {lines} lines, at most {FUNCTION_LINES_MAX}",
                self.path
            );
            self.found.push(text);
        }
    }
}

impl<'ast> Visit<'ast> for Functions<'_> {
    fn visit_item_fn(&mut self, item: &'ast syn::ItemFn) {
        self.measure(&item.sig, &item.block);
        visit::visit_item_fn(self, item);
    }

    fn visit_impl_item_fn(&mut self, item: &'ast syn::ImplItemFn) {
        self.measure(&item.sig, &item.block);
        visit::visit_impl_item_fn(self, item);
    }

    fn visit_trait_item_fn(&mut self, item: &'ast syn::TraitItemFn) {
        if let Some(block) = &item.default {
            self.measure(&item.sig, block);
        }
        visit::visit_trait_item_fn(self, item);
    }
}

/// Functions that no longer fit one page.
pub(crate) fn long_functions(source: &Source) -> Vec<String> {
    let mut functions = Functions {
        path: &source.path,
        found: Vec::new(),
    };
    functions.visit_file(&source.ast);
    functions.found
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::snippet;

    fn lines(count: usize) -> String {
        "\n".repeat(count)
    }

    #[test]
    fn a_long_file_is_seen() {
        assert_eq!(long_files(&snippet("a/src/a.rs", &lines(400))).len(), 0);
        assert_eq!(long_files(&snippet("a/src/a.rs", &lines(401))).len(), 1);
    }

    #[test]
    fn a_long_rule_is_seen() {
        assert_eq!(
            long_rules(&snippet("core/guard/src/rules/a.rs", &lines(120))).len(),
            0
        );
        assert_eq!(
            long_rules(&snippet("core/guard/src/rules/a.rs", &lines(121))).len(),
            1
        );
        assert_eq!(
            long_rules(&snippet("core/guard/src/a.rs", &lines(121))).len(),
            0
        );
    }

    #[test]
    fn a_long_function_is_seen_wherever_it_stands() {
        let body = |count: usize| format!("fn f() {{{}}}", lines(count));
        let found = |text: &str| long_functions(&snippet("a/src/a.rs", text)).len();
        assert_eq!(found(&body(69)), 0);
        assert_eq!(found(&body(70)), 1);
        assert_eq!(found(&format!("struct S; impl S {{ {} }}", body(70))), 1);
        assert_eq!(found(&format!("trait T {{ {} fn g(); }}", body(70))), 1);
        assert_eq!(found(&format!("mod m {{ {} }}", body(70))), 1);
        assert_eq!(found(&format!("fn outer() {{ {} }}", body(70))), 2);
    }
}
