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
