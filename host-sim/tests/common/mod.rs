//! The program as a person runs it.

use std::path::Path;
use std::process::{Command, Output};

/// Runs a command of it in a folder: its exit status, what it said, and what it told beside that.
pub(crate) fn dosewarden(
    folder: &Path,
    command: &str,
    arguments: &[&str],
) -> (Option<i32>, String, String) {
    let run: Output = Command::new(env!("CARGO_BIN_EXE_dosewarden"))
        .arg(command)
        .args(arguments)
        .current_dir(folder)
        .output()
        .expect("it runs");
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    (run.status.code(), text(&run.stdout), text(&run.stderr))
}
