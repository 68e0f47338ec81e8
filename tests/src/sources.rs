//! The project's own files, as text and as syntax trees.
//!
//! Invariant: a path is relative to the root of the workspace and uses `/`, and files come in the
//! order of their paths, so a message reads the same on every machine.
//!
//! ```
//! use dosewarden_tests::sources::Source;
//!
//! let one = Source::parse("a/src/lib.rs", "fn f() {}\n#[cfg(test)] mod tests {}").unwrap();
//! assert_eq!(one.without_tests().ast.items.len(), 1);
//! ```

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

use proc_macro2::{TokenStream, TokenTree};
use syn::visit_mut::{self, VisitMut};
use syn::{Attribute, Item, Meta};

/// One Rust file.
#[derive(Clone)]
pub struct Source {
    /// Path from the root of the workspace, with `/`.
    pub path: String,
    /// The file as it stands.
    pub text: String,
    /// The file as `syn` reads it.
    pub ast: syn::File,
}

impl Source {
    /// Parses `text`.
    ///
    /// # Errors
    /// The path and what the parser found, if the text is not Rust.
    pub fn parse(path: &str, text: &str) -> Result<Self, String> {
        let ast = syn::parse_file(text).map_err(|e| format!("{path}: {e}"))?;
        Ok(Self {
            path: path.into(),
            text: text.into(),
            ast,
        })
    }

    /// The same file without items, statements and methods that only a test build has.
    #[must_use]
    pub fn without_tests(&self) -> Self {
        let mut copy = self.clone();
        if is_test_only(&copy.ast.attrs) {
            copy.ast.items.clear();
        }
        StripTests.visit_file_mut(&mut copy.ast);
        copy
    }

    /// The module's path inside its crate: `core/guard/src/rules/flow_proven.rs` is
    /// `["rules", "flow_proven"]`, a `lib.rs`, `main.rs` or `mod.rs` stands for its folder.
    #[must_use]
    pub fn module(&self) -> Vec<String> {
        let inside = self
            .path
            .split_once("/src/")
            .map_or(self.path.as_str(), |(_, rest)| rest);
        let mut parts: Vec<String> = inside
            .trim_end_matches(".rs")
            .split('/')
            .map(String::from)
            .collect();
        if parts
            .last()
            .is_some_and(|p| p == "mod" || p == "lib" || p == "main")
        {
            parts.pop();
        }
        parts
    }

    /// The file's name without folder and ending.
    #[must_use]
    pub fn stem(&self) -> &str {
        let name = self.path.rsplit('/').next().unwrap_or_default();
        name.trim_end_matches(".rs")
    }

    /// The lines of the `//!` comment at the head of the file, each without its leading blank.
    #[must_use]
    pub fn module_doc(&self) -> Vec<String> {
        self.ast.attrs.iter().filter_map(doc_text).collect()
    }
}

fn doc_text(attr: &Attribute) -> Option<String> {
    let Meta::NameValue(pair) = &attr.meta else {
        return None;
    };
    let syn::Expr::Lit(syn::ExprLit {
        lit: syn::Lit::Str(text),
        ..
    }) = &pair.value
    else {
        return None;
    };
    attr.path()
        .is_ident("doc")
        .then(|| text.value().trim().to_owned())
}

/// The root of the workspace.
#[must_use]
pub fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .parent()
        .map(Path::to_path_buf)
        .unwrap_or_default()
}

/// Reads a file of the workspace.
///
/// # Panics
/// If it cannot be read: a test that reads it has then failed.
#[must_use]
pub fn read(path: &str) -> String {
    fs::read_to_string(root().join(path)).unwrap_or_else(|e| panic!("{path}: {e}"))
}

/// Every Rust file under `dir` (relative to the root), build output left out.
///
/// # Panics
/// If one of them cannot be read or parsed.
#[must_use]
pub fn rust_sources(dir: &str) -> Vec<Source> {
    files(dir)
        .iter()
        .filter(|p| p.ends_with(".rs"))
        .map(|p| Source::parse(p, &read(p)).unwrap_or_else(|e| panic!("{e}")))
        .collect()
}

/// Every file under `dir`, as a path from the root. Build output and version control are left out.
#[must_use]
pub fn files(dir: &str) -> Vec<String> {
    let mut found = BTreeSet::new();
    walk(&root().join(dir), &mut found);
    found.into_iter().collect()
}

fn walk(dir: &Path, found: &mut BTreeSet<String>) {
    let Ok(entries) = fs::read_dir(dir) else {
        return;
    };
    for path in entries.flatten().map(|e| e.path()) {
        let name = path
            .file_name()
            .unwrap_or_default()
            .to_string_lossy()
            .into_owned();
        if path.is_dir() {
            if name != "target" && name != ".git" {
                walk(&path, found);
            }
        } else if let Ok(relative) = path.strip_prefix(root()) {
            found.insert(relative.to_string_lossy().replace('\\', "/"));
        }
    }
}

/// What a release build of a crate compiles: test-only items are stripped, and so are the files of
/// modules that are declared `#[cfg(test)] mod name;`.
#[must_use]
pub fn production(sources: &[Source]) -> Vec<Source> {
    let mut test_modules = BTreeSet::new();
    for source in sources {
        for item in &source.ast.items {
            if let Item::Mod(m) = item
                && m.content.is_none()
                && is_test_only(&m.attrs)
            {
                let mut path = source.module();
                path.push(m.ident.to_string());
                test_modules.insert(path);
            }
        }
    }
    let in_tests = |s: &&Source| {
        let module = s.module();
        !test_modules.iter().any(|t| module.starts_with(t))
    };
    sources
        .iter()
        .filter(in_tests)
        .map(Source::without_tests)
        .collect()
}

/// True for `#[test]` and for `#[cfg(test)]`, also within `all(...)`.
#[must_use]
pub fn is_test_only(attrs: &[Attribute]) -> bool {
    attrs.iter().any(|attr| match &attr.meta {
        Meta::Path(path) => path.is_ident("test"),
        Meta::List(list) if list.path.is_ident("cfg") => requires_test(list.tokens.clone()),
        _ => false,
    })
}

/// `test` at the top or inside `all`; under `not` or `any` the item also exists without it.
fn requires_test(tokens: TokenStream) -> bool {
    let mut last = String::new();
    tokens.into_iter().any(|tree| match tree {
        TokenTree::Ident(ident) => {
            last = ident.to_string();
            last == "test"
        }
        TokenTree::Group(group) if last == "all" => requires_test(group.stream()),
        _ => false,
    })
}

struct StripTests;

fn item_attrs(item: &Item) -> &[Attribute] {
    match item {
        Item::Const(i) => &i.attrs,
        Item::Enum(i) => &i.attrs,
        Item::Fn(i) => &i.attrs,
        Item::Impl(i) => &i.attrs,
        Item::Macro(i) => &i.attrs,
        Item::Mod(i) => &i.attrs,
        Item::Static(i) => &i.attrs,
        Item::Struct(i) => &i.attrs,
        Item::Trait(i) => &i.attrs,
        Item::Type(i) => &i.attrs,
        Item::Use(i) => &i.attrs,
        Item::ExternCrate(i) => &i.attrs,
        _ => &[],
    }
}

fn impl_attrs(item: &syn::ImplItem) -> &[Attribute] {
    match item {
        syn::ImplItem::Const(i) => &i.attrs,
        syn::ImplItem::Fn(i) => &i.attrs,
        syn::ImplItem::Type(i) => &i.attrs,
        syn::ImplItem::Macro(i) => &i.attrs,
        _ => &[],
    }
}

impl VisitMut for StripTests {
    fn visit_file_mut(&mut self, file: &mut syn::File) {
        file.items.retain(|i| !is_test_only(item_attrs(i)));
        visit_mut::visit_file_mut(self, file);
    }

    fn visit_item_mod_mut(&mut self, module: &mut syn::ItemMod) {
        if let Some((_, items)) = &mut module.content {
            items.retain(|i| !is_test_only(item_attrs(i)));
        }
        visit_mut::visit_item_mod_mut(self, module);
    }

    fn visit_item_impl_mut(&mut self, block: &mut syn::ItemImpl) {
        block.items.retain(|i| !is_test_only(impl_attrs(i)));
        visit_mut::visit_item_impl_mut(self, block);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn parsed(path: &str, text: &str) -> Source {
        Source::parse(path, text).expect("a snippet that parses")
    }

    #[test]
    fn test_only_items_go_and_the_rest_stays() {
        let text = "fn keep() {} #[test] fn a() {} #[cfg(test)] mod t {} \
                    #[cfg(all(test, feature = \"x\"))] fn b() {} #[cfg(not(test))] fn also() {} \
                    mod m { #[cfg(test)] fn c() {} fn stays() {} } \
                    struct S; impl S { #[cfg(test)] fn d() {} fn e() {} }";
        let items = parsed("x/src/lib.rs", text).without_tests().ast.items;
        assert_eq!(items.len(), 5, "keep, also, m, S and its impl");
        let Item::Mod(m) = &items[2] else {
            panic!("the module should stay third")
        };
        assert_eq!(m.content.as_ref().map(|c| c.1.len()), Some(1));
        let Item::Impl(i) = &items[4] else {
            panic!("the impl should stay last")
        };
        assert_eq!(i.items.len(), 1);
    }

    #[test]
    fn files_of_test_modules_go_and_their_neighbours_stay() {
        let all = [
            parsed("x/src/lib.rs", "mod a; #[cfg(test)] mod model;"),
            parsed("x/src/a.rs", "#[cfg(test)] mod tests;"),
            parsed("x/src/a/tests.rs", "fn f() {}"),
            parsed("x/src/model/mod.rs", "mod deep;"),
            parsed("x/src/model/deep.rs", "fn f() {}"),
            parsed("x/src/models.rs", "fn f() {}"),
        ];
        let left: Vec<String> = production(&all).into_iter().map(|s| s.path).collect();
        assert_eq!(left, ["x/src/lib.rs", "x/src/a.rs", "x/src/models.rs"]);
    }

    #[test]
    fn module_paths_and_docs_are_read() {
        let one = parsed(
            "core/guard/src/rules/flow_proven.rs",
            "//! Hazard: H-01\n//! More.\n",
        );
        assert_eq!(one.module(), ["rules", "flow_proven"]);
        assert_eq!(one.stem(), "flow_proven");
        assert_eq!(one.module_doc(), ["Hazard: H-01", "More."]);
        assert_eq!(parsed("x/src/rules/mod.rs", "").module(), ["rules"]);
        assert!(parsed("x/src/lib.rs", "").module().is_empty());
    }

    #[test]
    fn the_walk_finds_this_file_and_no_build_output() {
        let found = files("tests");
        assert!(found.iter().any(|p| p == "tests/src/sources.rs"));
        assert!(
            !files("")
                .iter()
                .any(|p| p.starts_with("target/") || p.starts_with(".git/"))
        );
    }

    #[test]
    fn what_does_not_parse_is_named() {
        let error = Source::parse("x/src/bad.rs", "fn (")
            .err()
            .unwrap_or_default();
        assert!(error.starts_with("x/src/bad.rs: "), "got: {error}");
    }
}
