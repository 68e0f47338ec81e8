//! What a package includes has to be inside it, or what is published does not build.

use dosewarden_tests::sources::Source;

/// Files that a source of the package in `dir` includes from outside it.
pub(crate) fn outside(dir: &str, source: &Source) -> Vec<String> {
    let inside = source.path.strip_prefix(dir).unwrap_or(&source.path);
    let folders = inside.trim_start_matches('/').matches('/').count();
    let mut findings = Vec::new();
    for start in ["include_str!(\"", "include_bytes!(\"", "include!(\""] {
        for (_, rest) in source
            .text
            .match_indices(start)
            .map(|(at, _)| (at, &source.text[at + start.len()..]))
        {
            let file = rest.split('"').next().unwrap_or("");
            if file.matches("../").count() > folders || file.starts_with('/') {
                findings.push(format!(
                    "{} includes {file}, which is not in its package",
                    source.path
                ));
            }
        }
    }
    findings
}

#[test]
fn a_file_from_outside_is_seen_and_one_from_inside_is_not() {
    let found = |file: &str| {
        let text = format!("const A: &str = include_str!(\"{file}\");");
        outside("core", &crate::snippet("core/src/probe/mod.rs", &text)).len()
    };
    assert_eq!((found("delays.md"), found("../../a.md")), (0, 0));
    assert_eq!((found("../../../a.md"), found("/a.md")), (1, 1));
}
