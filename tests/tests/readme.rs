//! The README shows the loop that compiles and runs as a doc test of the crate `dosewarden`.

use dosewarden_tests::sources::root;

fn read(path: &str) -> String {
    std::fs::read_to_string(root().join(path)).expect(path)
}

/// The code block that begins with `first`, without the marks of a doc comment and the lines that
/// the docs hide.
fn block(text: &str, first: &str, mark: &str) -> Vec<String> {
    let lines = text.lines().map(|line| {
        let line = line.strip_prefix(mark).unwrap_or(line);
        line.strip_prefix(' ')
            .filter(|_| !mark.is_empty())
            .unwrap_or(line)
            .to_owned()
    });
    lines
        .skip_while(|line| line != first)
        .take_while(|line| line != "```" && !line.starts_with("#!["))
        .filter(|line| !line.starts_with("# "))
        .collect()
}

const FIRST: &str = "use dosewarden::guard::{Limits, Record, TickClock, Ticket};";

#[test]
fn the_readme_shows_the_loop_that_runs_as_a_doc_test() {
    let shown = block(&read("README.md"), FIRST, "");
    let run = block(&read("core/src/lib.rs"), FIRST, "//!");
    assert!(run.len() > 20, "the crate's loop was not found");
    assert_eq!(shown, run);
}

#[test]
fn a_changed_line_is_seen() {
    let text = format!("//! {FIRST}\n//! let a = 1;\n//! ```\n");
    let other = text.replace("= 1", "= 2");
    assert_eq!(block(&text, FIRST, "//!").len(), 2);
    assert_ne!(block(&text, FIRST, "//!"), block(&other, FIRST, "//!"));
}

/// The lines from one that begins so to the end of what is shown, without their indent.
fn shown(text: &str, first: &str) -> String {
    let mut lines = text
        .lines()
        .skip_while(|line| !line.trim_start().starts_with(first));
    let begin = lines.next().expect(first);
    let indent = begin.len() - begin.trim_start().len();
    let rest = lines.take_while(|line| line.trim() != "// Shown so far.");
    let all: Vec<&str> = [begin]
        .into_iter()
        .chain(rest)
        .map(|line| &line[indent..])
        .collect();
    all.join("\n")
}

#[test]
fn the_readme_shows_how_the_kept_record_is_lived_in_a_test() {
    let (readme, own) = (read("README.md"), read("core/tests/store/kept_loop.rs"));
    let parts = ["// Before the first tick.", "// After each tick without"];
    let [start, tick] = parts.map(|first| shown(&own, first));
    let block = format!("```rust\n{start}\n\n{tick}\n```\n");
    assert!(start.lines().count() > 4 && tick.lines().count() > 5);
    assert!(
        readme.contains(&block),
        "the README shows something else than\n{block}"
    );
}
