//! The files of `examples`, for tests: read, since what lies outside a package cannot be built into it.

/// The text of one, by its path there.
pub(crate) fn text(path: &str) -> String {
    let file = format!("{}/../examples/{path}", env!("CARGO_MANIFEST_DIR"));
    std::fs::read_to_string(&file).unwrap_or_else(|error| panic!("{file}: {error}"))
}
