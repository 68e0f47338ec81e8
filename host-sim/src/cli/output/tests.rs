//! Files that are written, and where.

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

#[cfg(unix)]
fn wrote(path: &Path, text: &str) -> Result<PathBuf, String> {
    let mut out = begin(path)?;
    out.write_all(text.as_bytes()).expect("written");
    out.keep()
}

#[cfg(unix)]
#[test]
fn a_link_stays_and_the_file_that_it_leads_to_is_replaced() {
    use std::os::unix::fs::symlink;
    let folder = tempfile::tempdir().expect("a folder");
    let at = |name: &str| folder.path().join(name);
    fs::create_dir(at("below")).expect("made");
    fs::write(at("below/old.txt"), "old").expect("written");
    symlink("below/old.txt", at("to-old")).expect("linked");
    symlink("to-old", at("to-link")).expect("linked");
    symlink("below/new.txt", at("to-new")).expect("linked");
    for (link, file) in [("to-link", "below/old.txt"), ("to-new", "below/new.txt")] {
        wrote(&at(link), "whole").expect("kept");
        let still = fs::symlink_metadata(at(link)).expect("there");
        assert!(still.is_symlink(), "{link} was replaced");
        assert_eq!(fs::read_to_string(at(file)).expect("there"), "whole");
    }
    assert_eq!(fs::read_dir(at("below")).expect("read").count(), 2);
    symlink("round", at("round")).expect("linked");
    let error = wrote(&at("round"), "x").expect_err("a circle");
    assert!(error.contains("links lead in a circle"), "{error}");
}

#[cfg(unix)]
#[test]
fn a_pipe_gets_all_of_it_at_the_end_and_stays_a_pipe() {
    use std::os::unix::fs::FileTypeExt;
    let folder = tempfile::tempdir().expect("a folder");
    let pipe = folder.path().join("pipe");
    let made = std::process::Command::new("mkfifo").arg(&pipe).status();
    assert!(made.expect("mkfifo").success());
    let other = folder.path().join("other");
    let made = std::process::Command::new("mkfifo").arg(&other).status();
    assert!(made.expect("mkfifo").success());
    let error = begin(&other).expect_err("no reader");
    assert!(error.contains("nobody reads this pipe; start"), "{error}");
    let read = || {
        let pipe = pipe.clone();
        std::thread::spawn(move || fs::read_to_string(pipe).expect("read"))
    };
    // One that is dropped writes nothing, and its reader is not left waiting.
    let reader = read();
    drop(begin(&pipe).expect("begun"));
    assert_eq!(reader.join().expect("read"), "");
    let reader = read();
    wrote(&pipe, "whole").expect("kept");
    // Before the reader is waited for: of a file in its place it would never hear.
    let still = fs::symlink_metadata(&pipe).expect("there");
    assert!(still.file_type().is_fifo(), "was replaced");
    assert_eq!(reader.join().expect("read"), "whole");
    assert_eq!(fs::read_dir(folder.path()).expect("read").count(), 2);
}

/// What a device got cannot be taken back, so that nothing may fail after it that could have failed before.
#[cfg(target_os = "linux")]
#[test]
fn no_file_is_replaced_where_a_device_takes_nothing() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("a.txt");
    let full = Path::new("/dev/full");
    fs::write(&path, "old").expect("written");
    let files = [(Some(&*path), "new"), (Some(full), "new")];
    let error = write_all(&[], &files).expect_err("full");
    assert!(error.starts_with("/dev/full: cannot be written"), "{error}");
    assert_eq!(fs::read_to_string(&path).expect("there"), "old");
    assert_eq!(fs::read_dir(folder.path()).expect("read").count(), 1);
    let nothing = Path::new("/dev/null");
    let files = [(Some(&*path), "new"), (Some(nothing), "new")];
    let told = write_all(&[], &files).expect("kept");
    assert_eq!(told, [&path, nothing], "in the order of asking");
}

#[test]
fn two_names_of_one_file_are_seen_also_before_it_is_there() {
    let folder = tempfile::tempdir().expect("a folder");
    let at = |name: &str| folder.path().join(name);
    let apart = |read: &[&str], written: &[&str]| {
        let read: Vec<PathBuf> = read.iter().map(|name| at(name)).collect();
        let written: Vec<PathBuf> = written.iter().map(|name| at(name)).collect();
        all_apart(&read, written.iter())
    };
    assert_eq!(apart(&["a"], &["b", "c"]), Ok(()));
    for (read, written) in [
        (&["a"][..], &["a"][..]),
        (&[], &["new", "./new"]),
        (&["./part"], &["b", "part"]),
    ] {
        let told = apart(read, written).expect_err("one file");
        assert!(told.contains("over another file of this run"), "{told}");
    }
    #[cfg(unix)]
    {
        std::os::unix::fs::symlink("new", at("link")).expect("linked");
        assert!(apart(&[], &["link", "new"]).is_err());
    }
    assert!(all_apart(&[], [PathBuf::from("-"), PathBuf::from("-")].iter()).is_err());
}
