//! Files that are whole or not there: written beside their place, and moved there at the end.
//!
//! Invariant: only a regular file is ever replaced, and it is the one that a link leads to. What is none (a pipe, a device)
//! is opened at the beginning and written straight into, at the end and in one go, and stays what it is; no regular file is
//! replaced before that has been done. `-` is standard output; what is meant for the screen then goes to standard error.
//! Nothing here waits for a reader without an end: Ctrl-C ends it, and one that does not come is told.

use std::fs::{self, File, Metadata, OpenOptions};
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{self, RecvTimeoutError};
use std::thread;
use std::time::{Duration, Instant};

use serde::Serialize;
use tempfile::NamedTempFile;

use super::stop;

/// What stands for standard output in place of a file's name.
const STANDARD_OUTPUT: &str = "-";

/// Links that are followed at most: they may lead in a circle. As on Linux (path_resolution(7)).
const LINKS_MAX: usize = 40;

/// How long a pipe may be without a reader: a shell starts both ends at once. Our choice.
const READER_WITHIN: Duration = Duration::from_secs(3);

/// How often it is looked whether a person wants an end. Our choice.
const LOOK_EACH: Duration = Duration::from_millis(50);

/// Standard output belongs to data: nothing else is printed there any more.
static IS_TAKEN: AtomicBool = AtomicBool::new(false);

/// A file that is being written.
#[derive(Debug)]
pub(super) struct Output {
    /// As it was named.
    path: PathBuf,
    place: Place,
}

#[derive(Debug)]
enum Place {
    /// A file that moves to its place.
    Replaces {
        target: PathBuf,
        file: BufWriter<NamedTempFile>,
    },
    /// What is no regular file, and standard output: they get all of it at the end.
    Straight { to: Straight, bytes: Vec<u8> },
}

#[derive(Debug)]
enum Straight {
    StandardOutput,
    Opened(PathBuf, File),
}

/// Begins a file that will stand at `path`. It goes away by itself unless it is kept.
///
/// # Errors
/// In words: a folder stands there, nothing can be written beside it, or nobody reads a pipe.
pub(super) fn begin(path: &Path) -> Result<Output, String> {
    let cannot =
        |why: &dyn core::fmt::Display| format!("{}: cannot be written: {why}", path.display());
    let straight = |to: Straight| {
        Ok(Output {
            path: path.to_owned(),
            place: Place::Straight {
                to,
                bytes: Vec::new(),
            },
        })
    };
    let there = fs::metadata(path).ok();
    if is_standard_output(path, there.as_ref()) {
        IS_TAKEN.store(true, Ordering::Relaxed);
        return straight(Straight::StandardOutput);
    }
    match there {
        Some(there) if there.is_dir() => {
            return Err(cannot(&"a folder stands there; name a file"));
        }
        Some(there) if !there.is_file() => {
            let file = opened(path).map_err(|error| cannot(&error))?;
            return straight(Straight::Opened(path.to_owned(), file));
        }
        _ => {}
    }
    let target = behind_links(path).map_err(|error| cannot(&error))?;
    let folder = match target.parent() {
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
        place: Place::Replaces {
            target,
            file: BufWriter::new(file),
        },
    })
}

/// What is no regular file, for writing; not made anew, should it be gone by now. To open a pipe waits for its reader.
fn opened(path: &Path) -> io::Result<File> {
    let path = path.to_owned();
    let open = move || OpenOptions::new().write(true).open(path);
    let none = "nobody reads this pipe; start what reads it first, or at the same time";
    let none = || io::Error::other(none);
    waited_for(open, Some(READER_WITHIN)).unwrap_or_else(|| Err(none()))
}

/// Does what may wait for others, beside this thread: until it is done, a time has passed (`None` then) or a person
/// wants an end.
fn waited_for<T: Send + 'static>(
    work: impl FnOnce() -> io::Result<T> + Send + 'static,
    within: Option<Duration>,
) -> Option<io::Result<T>> {
    let began = Instant::now();
    let (done, wait) = mpsc::channel();
    // Left to itself if it never ends: the program does, soon after.
    thread::spawn(move || done.send(work()));
    loop {
        match wait.recv_timeout(LOOK_EACH) {
            Ok(found) => return Some(found),
            Err(RecvTimeoutError::Disconnected) => {
                return Some(Err(io::Error::other("it was given up")));
            }
            Err(RecvTimeoutError::Timeout) if stop::is_asked() => {
                let what = "stopped while it waited for what reads it";
                return Some(Err(io::Error::other(what)));
            }
            Err(RecvTimeoutError::Timeout) => {}
        }
        if within.is_some_and(|within| began.elapsed() >= within) {
            return None;
        }
    }
}

/// Writes all of it, as long as the other end takes and nobody wants an end.
fn whole_of(mut to: impl Write + Send + 'static, bytes: Vec<u8>) -> io::Result<()> {
    waited_for(move || whole(&mut to, &bytes), None).unwrap_or(Ok(()))
}

/// Whether a name stands for standard output: as `-`, or by naming the same pipe, file or terminal.
fn is_standard_output(path: &Path, there: Option<&Metadata>) -> bool {
    path.as_os_str() == STANDARD_OUTPUT || there.is_some_and(is_where_output_goes)
}

#[cfg(unix)]
fn is_where_output_goes(there: &Metadata) -> bool {
    use std::os::fd::AsFd;
    use std::os::unix::fs::{FileTypeExt, MetadataExt};
    // What throws everything away is no place for data, also if it is both.
    let is_terminal = io::IsTerminal::is_terminal(&io::stdout());
    if there.file_type().is_char_device() && !is_terminal {
        return false;
    }
    let own = io::stdout().as_fd().try_clone_to_owned();
    let own = own.and_then(|own| File::from(own).metadata());
    own.is_ok_and(|own| (own.dev(), own.ino()) == (there.dev(), there.ino()))
}

#[cfg(not(unix))]
fn is_where_output_goes(_: &Metadata) -> bool {
    false
}

/// Where a path leads through links, also where nothing stands at their end yet.
fn behind_links(path: &Path) -> io::Result<PathBuf> {
    let mut at = path.to_owned();
    for _ in 0..LINKS_MAX {
        match fs::symlink_metadata(&at) {
            Ok(there) if there.is_symlink() => {
                let to = fs::read_link(&at)?;
                at = at.parent().unwrap_or(Path::new("")).join(to);
            }
            _ => return Ok(at),
        }
    }
    Err(io::Error::other("its links lead in a circle"))
}

impl Output {
    /// Moves the file to its place. Gives what to tell of it.
    ///
    /// # Errors
    /// In words.
    pub(super) fn keep(self) -> Result<PathBuf, String> {
        let shown = self.path.display().to_string();
        let cannot = |error: &io::Error| format!("{shown}: cannot be written: {error}");
        match self.place {
            Place::Straight { to, bytes } => {
                let (told, wrote) = match to {
                    Straight::StandardOutput => {
                        let told = PathBuf::from("to standard output");
                        (told, whole_of(io::stdout(), bytes))
                    }
                    Straight::Opened(path, file) => (path, whole_of(file, bytes)),
                };
                wrote.map_err(|error| cannot(&error))?;
                Ok(told)
            }
            Place::Replaces { target, file } => {
                let file = file.into_inner().map_err(|error| cannot(error.error()))?;
                file.as_file().sync_all().map_err(|error| cannot(&error))?;
                file.persist(&target)
                    .map_err(|error| cannot(&error.error))?;
                Ok(self.path)
            }
        }
    }
}

/// Writes all of it. Whoever closed the other end has read enough.
fn whole(to: &mut dyn Write, bytes: &[u8]) -> io::Result<()> {
    match to.write_all(bytes).and_then(|()| to.flush()) {
        Err(error) if error.kind() != io::ErrorKind::BrokenPipe => Err(error),
        _ => Ok(()),
    }
}

impl Write for Output {
    fn write(&mut self, new: &[u8]) -> io::Result<usize> {
        match &mut self.place {
            Place::Replaces { file, .. } => file.write(new),
            Place::Straight { bytes, .. } => bytes.write(new),
        }
    }

    fn flush(&mut self) -> io::Result<()> {
        match &mut self.place {
            Place::Replaces { file, .. } => file.flush(),
            Place::Straight { .. } => Ok(()),
        }
    }
}

/// Keeps several: pipes, devices and standard output first, for what they got cannot be taken back; no regular file is
/// replaced before all of them took theirs. Gives what to tell, in the order in which they came.
///
/// # Errors
/// In words: of the first that failed. Those before it stand, and no later one does.
pub(super) fn keep_all(all: impl IntoIterator<Item = Output>) -> Result<Vec<PathBuf>, String> {
    let mut all: Vec<(usize, Output)> = all.into_iter().enumerate().collect();
    all.sort_by_key(|(_, out)| matches!(out.place, Place::Replaces { .. }));
    let mut kept = Vec::new();
    for (at, out) in all {
        kept.push((at, out.keep()?));
    }
    kept.sort_by_key(|(at, _)| *at);
    Ok(kept.into_iter().map(|(_, path)| path).collect())
}

/// Writes each text to its path, where one is named, and none over a file that was read or over another of them. None is
/// written before all can be; then as [`keep_all`] does it.
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
    keep_all(begun)
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

/// Prints for the screen: to standard output, or to standard error where data goes to the former.
///
/// # Errors
/// In words.
pub(super) fn print(text: &str) -> Result<(), String> {
    let wrote = if IS_TAKEN.load(Ordering::Relaxed) {
        whole(&mut io::stderr().lock(), text.as_bytes())
    } else {
        whole(&mut io::stdout().lock(), text.as_bytes())
    };
    wrote.map_err(|error| error.to_string())
}

/// Refuses to write over what is read, or two outputs into one file.
pub(super) fn all_apart<'a>(
    read: &[PathBuf],
    written: impl Iterator<Item = &'a PathBuf>,
) -> Result<(), String> {
    let mut taken: Vec<&Path> = read.iter().map(PathBuf::as_path).collect();
    for path in written {
        if taken.iter().any(|other| same(other, path)) {
            let path = path.display();
            return Err(format!(
                "{path}: would be written over another file of this run"
            ));
        }
        taken.push(path);
    }
    Ok(())
}

/// Whether two paths are the same file, as far as can be told.
pub(super) fn same(one: &Path, other: &Path) -> bool {
    let stands_for = |path: &Path| is_standard_output(path, fs::metadata(path).ok().as_ref());
    if stands_for(one) && stands_for(other) {
        return true;
    }
    match (whole_path(one), whole_path(other)) {
        (Ok(one), Ok(other)) => one == other,
        _ => one == other,
    }
}

/// Without links, also of a file that is still to be made.
fn whole_path(path: &Path) -> io::Result<PathBuf> {
    if let Ok(found) = fs::canonicalize(path) {
        return Ok(found);
    }
    let path = behind_links(path)?;
    let folder = match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    };
    Ok(fs::canonicalize(folder)?.join(path.file_name().unwrap_or_default()))
}

#[cfg(test)]
mod tests;
