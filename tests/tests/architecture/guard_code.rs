//! What the guard's code may not contain: floats, `as` casts, indexing, `std`, `alloc`.
//!
//! Clippy denies most of it too. It is held here again, because an `allow` switches a lint off and
//! clippy does not look into a macro that nothing calls.

use dosewarden_tests::sources::Source;
use proc_macro2::{Delimiter, Span, TokenStream, TokenTree};
use syn::visit::{self, Visit};

const KEYWORDS: [&str; 9] = [
    "in", "return", "mut", "ref", "if", "match", "else", "dyn", "let",
];
const PRIMITIVES: [&str; 19] = [
    "u8", "u16", "u32", "u64", "u128", "usize", "i8", "i16", "i32", "i64", "i128", "isize", "f32",
    "f64", "bool", "char", "_", "fn", "str",
];

#[derive(Default)]
struct Found {
    path: String,
    casts: Vec<String>,
    floats: Vec<String>,
    indexing: Vec<String>,
}

impl Found {
    fn at(&self, span: Span, what: &str) -> String {
        format!("{}:{}: {what}", self.path, span.start().line)
    }

    fn float(&mut self, span: Span, what: &str) {
        let line = self.at(span, what);
        self.floats.push(line);
    }

    /// The arguments and the body of a macro are tokens, not syntax: look at neighbours.
    fn tokens(&mut self, stream: TokenStream) {
        let all: Vec<TokenTree> = stream.into_iter().collect();
        for (i, tree) in all.iter().enumerate() {
            let before = i.checked_sub(1).and_then(|b| all.get(b));
            match tree {
                TokenTree::Ident(ident) if ident == "f32" || ident == "f64" => {
                    self.float(ident.span(), "a float type in a macro");
                }
                TokenTree::Ident(ident) if ident == "as" && casts_to(all.get(i + 1)) => {
                    let line = self.at(ident.span(), "`as` in a macro");
                    self.casts.push(line);
                }
                TokenTree::Literal(literal) => {
                    if matches!(syn::parse_str(&literal.to_string()), Ok(syn::Lit::Float(_))) {
                        self.float(literal.span(), "a float literal in a macro");
                    }
                }
                TokenTree::Group(group) => {
                    if group.delimiter() == Delimiter::Bracket && indexed(before) {
                        let line = self.at(group.span_open(), "indexing in a macro");
                        self.indexing.push(line);
                    }
                    self.tokens(group.stream());
                }
                _ => {}
            }
        }
    }
}

/// `as u8`, `as _`, `as *const T`, `as $t`; not `use a as b`, nor `<T as Trait>`.
fn casts_to(next: Option<&TokenTree>) -> bool {
    match next {
        Some(TokenTree::Ident(ident)) => PRIMITIVES.contains(&ident.to_string().as_str()),
        Some(TokenTree::Punct(punct)) => matches!(punct.as_char(), '*' | '&' | '$'),
        _ => false,
    }
}

/// A bracket right after a value indexes it: `a[i]`, `f()[i]`, `a[i][j]`.
fn indexed(before: Option<&TokenTree>) -> bool {
    match before {
        Some(TokenTree::Ident(ident)) => !KEYWORDS.contains(&ident.to_string().as_str()),
        Some(TokenTree::Group(group)) => group.delimiter() != Delimiter::Brace,
        _ => false,
    }
}

impl<'ast> Visit<'ast> for Found {
    fn visit_expr_cast(&mut self, cast: &'ast syn::ExprCast) {
        let line = self.at(
            cast.as_token.span,
            "`as`; use From or TryFrom, in a const fn to_le_bytes and from_le_bytes",
        );
        self.casts.push(line);
        visit::visit_expr_cast(self, cast);
    }

    fn visit_expr_index(&mut self, index: &'ast syn::ExprIndex) {
        let line = self.at(
            index.bracket_token.span.open(),
            "indexing; use get, split_first, iter",
        );
        self.indexing.push(line);
        visit::visit_expr_index(self, index);
    }

    fn visit_lit_float(&mut self, literal: &'ast syn::LitFloat) {
        self.float(literal.span(), "a float literal");
    }

    fn visit_path(&mut self, path: &'ast syn::Path) {
        for segment in &path.segments {
            if segment.ident == "f32" || segment.ident == "f64" {
                self.float(segment.ident.span(), "a float type");
            }
        }
        visit::visit_path(self, path);
    }

    fn visit_macro(&mut self, mac: &'ast syn::Macro) {
        self.tokens(mac.tokens.clone());
        visit::visit_macro(self, mac);
    }
}

fn look(source: &Source) -> Found {
    let mut found = Found {
        path: source.path.clone(),
        ..Found::default()
    };
    found.visit_file(&source.ast);
    found
}

/// `as` casts, which lose silently.
pub(crate) fn casts(source: &Source) -> Vec<String> {
    look(source).casts
}

/// Float types and literals.
pub(crate) fn floats(source: &Source) -> Vec<String> {
    look(source).floats
}

/// Index expressions, which can panic.
pub(crate) fn indexing(source: &Source) -> Vec<String> {
    look(source).indexing
}

/// Paths that start in `std` or `alloc`, and `extern crate` of either.
pub(crate) fn std_or_alloc(source: &Source) -> Vec<String> {
    crate::arrows::names(source, &["std", "alloc"])
}

/// `#![no_std]` and `#![forbid(unsafe_code)]`, both without a condition.
pub(crate) fn crate_attributes(root: &Source) -> Vec<String> {
    let plain = |name: &str| {
        root.ast
            .attrs
            .iter()
            .any(|a| a.path().is_ident(name) && matches!(a.meta, syn::Meta::Path(_)))
    };
    let forbids = root.ast.attrs.iter().any(|attr| match &attr.meta {
        syn::Meta::List(list) if list.path.is_ident("forbid") => list
            .tokens
            .clone()
            .into_iter()
            .any(|t| t.to_string() == "unsafe_code"),
        _ => false,
    });
    let mut findings = Vec::new();
    if !plain("no_std") {
        findings.push(format!(
            "{}: no `#![no_std]` without a condition",
            root.path
        ));
    }
    if !forbids {
        findings.push(format!("{}: no `#![forbid(unsafe_code)]`", root.path));
    }
    findings
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::snippet;

    fn counts(text: &str) -> (usize, usize, usize) {
        let found = look(&snippet("g/src/lib.rs", text));
        (found.casts.len(), found.floats.len(), found.indexing.len())
    }

    #[test]
    fn plain_code_is_seen() {
        assert_eq!(counts("fn f(a: u8) -> u16 { a as u16 }"), (1, 0, 0));
        assert_eq!(counts("fn f(a: f32) -> bool { a > 1.0 }"), (0, 2, 0));
        assert_eq!(
            counts("const A: u8 = B[0]; fn f(a: &[u8]) -> &[u8] { &a[1..] }"),
            (0, 0, 2)
        );
        assert_eq!(
            counts("fn f() { let _ = u64::from(2e3); let _ = f64::MAX; }"),
            (0, 2, 0)
        );
    }

    #[test]
    fn macros_are_seen_into() {
        assert_eq!(counts("fn f(a: u8) { assert!(a as u16 > 3); }"), (1, 0, 0));
        assert_eq!(
            counts("fn f(a: &[u8]) { assert_eq!(a[0], g()[1]); }"),
            (0, 0, 2)
        );
        assert_eq!(
            counts("macro_rules! m { ($t:ty) => { fn g(a: $t) -> f64 { 0.5 } } }"),
            (0, 2, 0)
        );
        assert_eq!(
            counts("macro_rules! m { ($t:ty) => { fn g(a: u8) -> $t { a as $t } } }"),
            (1, 0, 0)
        );
    }

    #[test]
    fn what_only_looks_alike_passes() {
        let text = "use core::fmt as f; #[derive(Debug)] struct S([u8; 2]); \
                    fn g(x: &[u8]) -> Option<u8> { for i in [1, 2] { let _ = <u8 as Into<u16>>::into(i); } \
                    let [a, ..] = x else { return None }; assert!(matches!(x, [1, ..])); Some(*a) } \
                    macro_rules! m { () => { vec![1]; use a as b; <T as Trait>::X } }";
        assert_eq!(counts(text), (0, 0, 0));
    }

    #[test]
    fn missing_or_conditional_attributes_are_seen() {
        let found = |text: &str| crate_attributes(&snippet("g/src/lib.rs", text)).len();
        assert_eq!(found("#![no_std]\n#![forbid(unsafe_code)]"), 0);
        assert_eq!(
            found("#![cfg_attr(not(test), no_std)]\n#![deny(unsafe_code)]"),
            2
        );
        assert_eq!(found(""), 2);
    }

    #[test]
    fn std_and_alloc_are_seen() {
        let found = |text: &str| std_or_alloc(&snippet("g/src/lib.rs", text)).len();
        assert_eq!(found("extern crate alloc;"), 1);
        assert_eq!(
            found("use std::vec::Vec; fn f() { let _ = ::alloc::vec::Vec::<u8>::new(); }"),
            2
        );
        assert_eq!(found("use core::fmt; fn alloc_nothing() {}"), 0);
    }
}
