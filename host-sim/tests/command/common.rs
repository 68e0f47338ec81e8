//! The program as a person runs it.

use std::fs;
use std::path::Path;
use std::process::{Command, Output};

/// Runs it in a folder.
pub(crate) fn run(folder: &Path, arguments: &[&str]) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_dosewarden"));
    let command = command.current_dir(folder).args(arguments);
    command.output().expect("the binary runs")
}

/// What it printed.
pub(crate) fn told(output: &Output) -> String {
    String::from_utf8_lossy(&output.stdout).into_owned()
}

/// What it said beside that.
pub(crate) fn warned(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

/// Runs a command of it: its exit status, what it printed, and what it said beside that.
pub(crate) fn dosewarden(
    folder: &Path,
    command: &str,
    arguments: &[&str],
) -> (Option<i32>, String, String) {
    let all: Vec<&str> = [command].iter().chain(arguments).copied().collect();
    let output = run(folder, &all);
    (output.status.code(), told(&output), warned(&output))
}

/// What was said is one error, on one line; under it stands the line that is meant, and a mark.
#[track_caller]
pub(crate) fn one_error(told: &str) {
    let mut lines = told.lines();
    let first = lines.next().unwrap_or_default();
    assert!(first.starts_with("error: "), "{told}");
    let quotes = |line: &str| {
        line.trim_start_matches(|c: char| c.is_ascii_digit())
            .trim_start()
            .starts_with('|')
    };
    assert!(lines.all(quotes), "one error, on one line: {told}");
    assert!(!told.contains('\u{1b}'), "colour in a pipe: {told}");
}

/// A page that was written: whole, with a language and a title, loading nothing from elsewhere, each table with a caption
/// and each drawing with words for those who cannot see it.
#[track_caller]
pub(crate) fn page(path: &Path) -> String {
    let page = fs::read_to_string(path).expect("a page");
    let wrong = faults_of(&page);
    assert!(wrong.is_empty(), "{}: {wrong:?}", path.display());
    without_labels(&page)
}

/// A page without what only a narrow screen needs of its tables, which is tested where it is made.
fn without_labels(page: &str) -> String {
    let mut plain = page
        .replace("<table class=\"stack\" role=\"table\">", "<table>")
        .replace("<table role=\"table\" class=\"stack ", "<table class=\"");
    for role in ["row", "cell", "columnheader", "rowheader"] {
        plain = plain.replace(&format!(" role=\"{role}\""), "");
    }
    let mut parts = plain.split(" data-label=\"");
    let first = parts.next().unwrap_or_default().to_owned();
    let rest = parts.map(|part| part.split_once('"').map_or(part, |(_, rest)| rest));
    rest.fold(first, |all, part| all + part)
}

/// What is wrong with a page.
fn faults_of(page: &str) -> Vec<String> {
    let mut wrong = Vec::new();
    let mut need = |is: bool, what: &str| {
        if !is {
            wrong.push(what.to_owned());
        }
    };
    need(page.starts_with("<!doctype html>"), "no doctype");
    need(page.trim_end().ends_with("</html>"), "cut off");
    need(page.contains("<html lang=\"en\">"), "no language");
    need(page.contains("name=\"viewport\""), "not for a phone");
    need(
        page.contains("prefers-color-scheme: dark"),
        "not for the dark",
    );
    need(
        page.contains("<main>") && page.contains("<h1>"),
        "no main part",
    );
    let title = page.split("<title>").nth(1).unwrap_or("");
    let title = title.split("</title>").next().unwrap_or("").trim();
    need(!title.is_empty(), "no title");
    for outside in [
        "http:", "https:", "//", "<script", "<link", "<img", "@import", "url(",
    ] {
        let part = page.split(outside).nth(1).map(|rest| rest.get(..40));
        need(part.is_none(), &format!("loads {outside}{part:?}"));
    }
    for table in page.split("<table").skip(1) {
        let inside = table.split_once('>').map_or("", |(_, rest)| rest);
        need(
            inside.trim_start().starts_with("<caption>"),
            "a table without caption",
        );
        let heads = inside
            .split("</table>")
            .next()
            .unwrap_or("")
            .split("<th")
            .skip(1);
        let heads = heads.filter(|head| !head.starts_with("ead"));
        heads.for_each(|head| need(head.contains("scope="), "a head of no row or column"));
    }
    for place in page.split("<div class=\"scroll\"").skip(1) {
        let tag = place.split('>').next().unwrap_or("");
        let named = tag.contains("role=\"region\"") && tag.contains("aria-label=\"");
        need(
            named && tag.contains("tabindex=\"0\""),
            "a place to scroll that no keyboard reaches, or without a name",
        );
    }
    for drawing in page.split("<svg").skip(1) {
        let tag = drawing.split('>').next().unwrap_or("");
        need(
            tag.contains("role=\"img\"") && tag.contains("aria-label="),
            "a drawing without words",
        );
    }
    wrong
}

#[test]
fn a_page_with_something_wrong_is_found_out() {
    let good = "<!doctype html>\n<html lang=\"en\"><meta name=\"viewport\"><title>a</title>\
        prefers-color-scheme: dark<main><h1>a</h1><table>\n<caption>b</caption><thead><tr><th scope=\"col\">c</th></tr></thead></table>\
        <div class=\"scroll\" tabindex=\"0\" role=\"region\" aria-label=\"e\"></div><svg role=\"img\" aria-label=\"d\"></svg></main></html>";
    assert_eq!(faults_of(good), Vec::<String>::new());
    for (from, to) in [
        (" lang=\"en\"", ""),
        ("<title>a", "<title> "),
        ("<caption>b</caption>", ""),
        (" scope=\"col\"", ""),
        (" role=\"img\"", ""),
        (" tabindex=\"0\"", ""),
        (" aria-label=\"e\"", ""),
        ("<h1>a", "<h1><img src=\"https://a.example/b.png\">"),
        ("</html>", ""),
    ] {
        assert!(good.contains(from));
        assert!(!faults_of(&good.replacen(from, to, 1)).is_empty(), "{from}");
    }
}

/// The names in a folder, in order.
pub(crate) fn names(folder: &Path) -> Vec<String> {
    let entries = fs::read_dir(folder).expect("a folder");
    let name = |entry: std::io::Result<fs::DirEntry>| entry.expect("an entry").file_name();
    let mut names: Vec<String> = entries
        .map(|entry| name(entry).to_string_lossy().into_owned())
        .collect();
    names.sort();
    names
}
