//! Nothing in the project points at a place outside it.

use dosewarden_tests::sources::{files, root};

/// Built from parts, so that this file does not hold what it looks for.
fn foreign() -> Vec<String> {
    let joined = [
        ["../sha", "red"],
        ["/work", "/"],
        ["DESIGN", ".md"],
        ["STYLE", ".md"],
        ["REFERENCES", ".md"],
        ["FAULTS", ".md"],
        ["/root", "/"],
        ["/home", "/"],
    ];
    joined.iter().map(|parts| parts.concat()).collect()
}

fn pointers(path: &str, text: &str, foreign: &[String]) -> Vec<String> {
    let mut findings = Vec::new();
    for (number, line) in text.lines().enumerate() {
        for word in foreign.iter().filter(|w| line.contains(w.as_str())) {
            findings.push(format!("{path}:{}: `{word}`", number + 1));
        }
    }
    findings
}

#[test]
fn nothing_points_outside_the_project() {
    let mut findings = Vec::new();
    let mut read = 0;
    for path in files("") {
        // Pictures and other files that are not text hold no pointers.
        if let Ok(text) = std::fs::read_to_string(root().join(&path)) {
            read += 1;
            findings.extend(pointers(&path, &text, &foreign()));
        }
    }
    assert!(read > 10, "only {read} files were read");
    assert!(
        findings.is_empty(),
        "points outside:\n  {}",
        findings.join("\n  ")
    );
}

#[test]
fn a_pointer_outside_is_seen() {
    let text = format!("fine\nsee {}/x and {}\n", foreign()[0], foreign()[2]);
    let findings = pointers("a.md", &text, &foreign());
    assert_eq!(findings.len(), 2);
    assert!(findings[0].starts_with("a.md:2: "));
    assert!(pointers("a.md", "a design, a style, work/x\n", &foreign()).is_empty());
}
