//! Files that are whole or not there: written beside their place, and moved there at the end.

use std::fs;
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};

use serde::Serialize;
use tempfile::NamedTempFile;

/// A file that is being written.
#[derive(Debug)]
pub(super) struct Output {
    path: PathBuf,
    file: BufWriter<NamedTempFile>,
}

/// Begins a file that will stand at `path`. It goes away by itself unless it is kept.
///
/// # Errors
/// In words: a folder stands there, or nothing can be written beside it.
pub(super) fn begin(path: &Path) -> Result<Output, String> {
    let cannot =
        |why: &dyn core::fmt::Display| format!("{}: cannot be written: {why}", path.display());
    if path.is_dir() {
        return Err(cannot(&"a folder stands there; name a file"));
    }
    let folder = match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    };
    let mut builder = tempfile::Builder::new();
    builder.prefix(".dosewarden-").suffix(".part");
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        // What the person's own mask leaves of it, as for any new file.
        builder.permissions(fs::Permissions::from_mode(0o666));
    }
    let file = builder
        .tempfile_in(folder)
        .map_err(|error| cannot(&error))?;
    Ok(Output {
        path: path.to_owned(),
        file: BufWriter::new(file),
    })
}

impl Output {
    /// Moves the file to its place.
    ///
    /// # Errors
    /// In words.
    pub(super) fn keep(self) -> Result<PathBuf, String> {
        let cannot =
            |error: &io::Error| format!("{}: cannot be written: {error}", self.path.display());
        let file = self
            .file
            .into_inner()
            .map_err(|error| cannot(error.error()))?;
        file.as_file().sync_all().map_err(|error| cannot(&error))?;
        file.persist(&self.path)
            .map_err(|error| cannot(&error.error))?;
        Ok(self.path)
    }
}

impl Write for Output {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.file.write(bytes)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.file.flush()
    }
}

/// Writes each text to its path, where one is named: all of them or none, and none over a file that was read or over
/// another of them.
///
/// # Errors
/// In words.
pub(super) fn write_all(
    read: &[&Path],
    files: &[(Option<&Path>, &str)],
) -> Result<Vec<PathBuf>, String> {
    let mut taken = read.to_vec();
    let mut begun = Vec::new();
    for (path, text) in files {
        let Some(path) = *path else { continue };
        if taken.iter().any(|other| same(other, path)) {
            let path = path.display();
            return Err(format!("{path}: would be written over another file"));
        }
        taken.push(path);
        let mut out = begin(path)?;
        out.write_all(text.as_bytes())
            .map_err(|error| error.to_string())?;
        begun.push(out);
    }
    begun.into_iter().map(Output::keep).collect()
}

/// What `dosewarden` was told, for a shell: words with anything else than plain letters are quoted.
pub(super) fn command(words: &[&str]) -> String {
    let plain = |c: char| c.is_ascii_alphanumeric() || "._-/+:@\\".contains(c);
    let quoted = words.iter().map(|word| {
        if !word.is_empty() && word.chars().all(plain) {
            (*word).to_owned()
        } else {
            format!("'{}'", word.replace('\'', "'\\''"))
        }
    });
    let all: Vec<String> = core::iter::once("dosewarden".to_owned())
        .chain(quoted)
        .collect();
    all.join(" ")
}

/// Data as JSON with a line end.
///
/// # Errors
/// In words.
pub(super) fn json(of: &impl Serialize) -> Result<String, String> {
    let text = serde_json::to_string_pretty(of).map_err(|error| error.to_string())?;
    Ok(text + "\n")
}

/// Prints to standard output. Whoever closed it has read enough.
///
/// # Errors
/// In words.
pub(super) fn print(text: &str) -> Result<(), String> {
    match io::stdout().lock().write_all(text.as_bytes()) {
        Err(error) if error.kind() != io::ErrorKind::BrokenPipe => Err(error.to_string()),
        _ => Ok(()),
    }
}

/// Whether two paths are the same file, as far as can be told.
pub(super) fn same(one: &Path, other: &Path) -> bool {
    match (fs::canonicalize(one), fs::canonicalize(other)) {
        (Ok(one), Ok(other)) => one == other,
        _ => one == other,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_command_can_be_given_to_a_shell() {
        assert_eq!(
            command(&["run", "a/my pool's.toml", "--seed", "7"]),
            "dosewarden run 'a/my pool'\\''s.toml' --seed 7"
        );
        assert_eq!(command(&["plan", ""]), "dosewarden plan ''");
    }

    #[test]
    fn whole_or_not_there() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("a.txt");
        let mut dropped = begin(&path).expect("begun");
        dropped.write_all(b"half").expect("written");
        drop(dropped);
        assert_eq!(fs::read_dir(folder.path()).expect("read").count(), 0);
        let mut kept = begin(&path).expect("begun");
        kept.write_all(b"whole").expect("written");
        kept.keep().expect("kept");
        assert_eq!(fs::read_to_string(&path).expect("there"), "whole");
        assert!(
            begin(folder.path())
                .expect_err("a folder")
                .contains("name a file")
        );
        assert!(begin(&folder.path().join("no/such/a.txt")).is_err());
    }
}
