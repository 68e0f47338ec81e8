//! Float functions whose last bit depends on the platform's C library.

use dosewarden_tests::sources::Source;
use proc_macro2::{TokenStream, TokenTree};
use syn::visit::{self, Visit};

/// Methods of `f32` and `f64` that are not exactly rounded. `sqrt`, `abs`, `floor` and the like are,
/// and may be used.
const INEXACT: [&str; 25] = [
    "exp", "exp2", "exp_m1", "ln", "ln_1p", "log2", "log10", "powf", "powi", "cbrt", "hypot",
    "sin", "cos", "tan", "sin_cos", "asin", "acos", "atan", "atan2", "sinh", "cosh", "tanh",
    "asinh", "acosh", "atanh",
];

struct Calls<'a> {
    path: &'a str,
    found: Vec<String>,
}

impl Calls<'_> {
    fn push(&mut self, ident: &proc_macro2::Ident) {
        let line = ident.span().start().line;
        self.found
            .push(format!("{}:{line}: std's `{ident}`; use libm's", self.path));
    }

    fn tokens(&mut self, stream: TokenStream) {
        let mut after = ' ';
        for tree in stream {
            match tree {
                TokenTree::Ident(ident) => {
                    if after == '.' && INEXACT.contains(&ident.to_string().as_str()) {
                        self.push(&ident);
                    }
                    after = ' ';
                }
                TokenTree::Punct(punct) => after = punct.as_char(),
                TokenTree::Group(group) => {
                    self.tokens(group.stream());
                    after = ' ';
                }
                TokenTree::Literal(_) => after = ' ',
            }
        }
    }
}

impl<'ast> Visit<'ast> for Calls<'_> {
    fn visit_expr_method_call(&mut self, call: &'ast syn::ExprMethodCall) {
        if INEXACT.contains(&call.method.to_string().as_str()) {
            self.push(&call.method);
        }
        visit::visit_expr_method_call(self, call);
    }

    /// `f64::exp(x)`, `f64::log(x, b)`, also passed as a function.
    fn visit_path(&mut self, path: &'ast syn::Path) {
        let mut back = path.segments.iter().rev();
        if let (Some(last), Some(of)) = (back.next(), back.next()) {
            let name = last.ident.to_string();
            let float = of.ident == "f64" || of.ident == "f32";
            if float && (name == "log" || INEXACT.contains(&name.as_str())) {
                self.push(&last.ident);
            }
        }
        visit::visit_path(self, path);
    }

    fn visit_macro(&mut self, mac: &'ast syn::Macro) {
        self.tokens(mac.tokens.clone());
        visit::visit_macro(self, mac);
    }
}

/// Calls of std's inexact float functions.
pub(crate) fn std_maths(source: &Source) -> Vec<String> {
    let mut calls = Calls {
        path: &source.path,
        found: Vec::new(),
    };
    calls.visit_file(&source.ast);
    calls.found
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::snippet;

    fn found(text: &str) -> usize {
        std_maths(&snippet("host-sim/src/a.rs", text)).len()
    }

    #[test]
    fn calls_paths_and_macros_are_seen() {
        assert_eq!(
            found("fn f(x: f64) -> f64 { x.exp() + (x + 1.0).powf(2.0) }"),
            2
        );
        assert_eq!(
            found("fn f(x: f64) -> f64 { f64::ln(x) + f64::log(x, 3.0) }"),
            2
        );
        assert_eq!(
            found("fn f(x: Option<f64>) -> Option<f64> { x.map(f64::sin) }"),
            1
        );
        assert_eq!(found("fn f(x: f64) { println!(\"{}\", x.tanh()); }"), 1);
    }

    #[test]
    fn libm_and_exact_functions_pass() {
        assert_eq!(
            found("fn f(x: f64) -> f64 { libm::exp(x).sqrt().abs().max(libm::pow(x, 2.0)) }"),
            0
        );
        assert_eq!(
            found("fn f(x: u32) -> u32 { x.pow(2).ilog10() } fn exp() {}"),
            0
        );
    }
}
