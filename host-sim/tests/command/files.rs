//! What becomes of what stands where a file is written.

use std::fs;
use std::io::{BufRead, BufReader};
use std::os::unix::fs::{FileTypeExt, symlink};
use std::path::Path;
use std::process::{Command, Output, Stdio};
use std::time::{Duration, Instant};

use crate::common::{names, run as dosewarden, told, warned};

const RUN: &str = "run --days 1 --seed 9";

/// A line for a shell in a folder, with the program as `$0`.
fn shell(folder: &Path, line: &str) -> Output {
    let mut command = Command::new("sh");
    let command = command.current_dir(folder).arg("-c").arg(line);
    let command = command.arg(env!("CARGO_BIN_EXE_dosewarden"));
    command.output().expect("a shell")
}

fn is_json(text: &str) -> bool {
    serde_json::from_str::<serde_json::Value>(text).is_ok_and(|value| value["seed"] == 9)
}

#[test]
fn a_dash_is_standard_output_and_the_screens_text_goes_beside_it() {
    let folder = tempfile::tempdir().expect("a folder");
    let output = dosewarden(
        folder.path(),
        &["run", "--days", "1", "--seed", "9", "--json", "-"],
    );
    assert_eq!(output.status.code(), Some(0), "{}", warned(&output));
    assert!(is_json(&told(&output)), "{}", told(&output));
    assert!(warned(&output).contains("Verdict: HELD"));
    assert!(warned(&output).contains("Wrote to standard output"));
    assert!(names(folder.path()).is_empty(), "a file called -");
    let twice = dosewarden(
        folder.path(),
        &["run", "--days", "1", "--json", "-", "--trace", "-"],
    );
    assert_eq!(twice.status.code(), Some(2));
    assert!(told(&twice).is_empty() && warned(&twice).contains("over another file"));
    let wrong = dosewarden(folder.path(), &["run", "no-such.toml", "--json", "-"]);
    assert_eq!((wrong.status.code(), told(&wrong).as_str()), (Some(2), ""));
}

#[test]
fn a_pipe_by_its_number_gets_the_data_and_nothing_else() {
    let folder = tempfile::tempdir().expect("a folder");
    let line = format!("{{ \"$0\" {RUN} --json /dev/fd/3 3>&1 >screen.txt 2>notes.txt; }} | cat");
    let output = shell(folder.path(), &line);
    assert!(
        is_json(&told(&output)),
        "{}{}",
        told(&output),
        warned(&output)
    );
    let screen = fs::read_to_string(folder.path().join("screen.txt")).expect("written");
    assert!(screen.contains("Verdict: HELD"), "{screen}");
    // Named by the number that standard output has, it is standard output.
    let line = format!("{{ \"$0\" {RUN} --json /dev/fd/1 2>notes.txt; }} | cat");
    let output = shell(folder.path(), &line);
    assert!(is_json(&told(&output)), "{}", told(&output));
    let notes = fs::read_to_string(folder.path().join("notes.txt")).expect("written");
    assert!(notes.contains("Verdict: HELD"), "{notes}");
}

#[test]
fn a_named_pipe_stays_one_and_a_link_stays_a_link() {
    let folder = tempfile::tempdir().expect("a folder");
    let at = |name: &str| folder.path().join(name);
    symlink("page.html", at("link.html")).expect("linked");
    let line = format!(
        "mkfifo pipe && {{ timeout 60 cat pipe >got.json & \"$0\" {RUN} --json pipe --report link.html; wait; }}"
    );
    let output = shell(folder.path(), &line);
    assert_eq!(output.status.code(), Some(0), "{}", warned(&output));
    assert!(is_json(
        &fs::read_to_string(at("got.json")).expect("written")
    ));
    assert!(
        fs::symlink_metadata(at("pipe"))
            .expect("there")
            .file_type()
            .is_fifo()
    );
    assert!(
        fs::symlink_metadata(at("link.html"))
            .expect("there")
            .is_symlink()
    );
    assert_eq!(
        names(folder.path()),
        ["got.json", "link.html", "page.html", "pipe"]
    );
}

/// It hung at the end of the run, and Ctrl-C did not end it.
#[test]
fn a_pipe_that_nobody_reads_is_told_before_the_run_begins() {
    let folder = tempfile::tempdir().expect("a folder");
    let line = format!("mkfifo pipe && exec timeout 60 \"$0\" {RUN} --json a.json --trace pipe");
    let output = shell(folder.path(), &line);
    assert_eq!(output.status.code(), Some(2), "{}", warned(&output));
    assert_eq!(
        warned(&output),
        "error: pipe: cannot be written: nobody reads this pipe; start what reads it first, or at the same time\n"
    );
    assert_eq!(told(&output), "");
    assert_eq!(names(folder.path()), ["pipe"], "a part stays");
}

/// A trace is more than a pipe holds, and its reader takes none of it.
#[test]
fn a_person_ends_a_pipe_whose_reader_does_not_read() {
    let folder = tempfile::tempdir().expect("a folder");
    let made = Command::new("mkfifo")
        .arg(folder.path().join("pipe"))
        .status();
    assert!(made.expect("mkfifo").success());
    let mut reader = Command::new("sh")
        .current_dir(folder.path())
        .args(["-c", "exec sleep 120 <pipe"])
        .spawn()
        .expect("a reader");
    let arguments: Vec<&str> = RUN.split(' ').collect();
    let mut run = Command::new(env!("CARGO_BIN_EXE_dosewarden"))
        .current_dir(folder.path())
        .args(arguments)
        .args(["--trace", "pipe", "--json", "a.json"])
        .stderr(Stdio::piped())
        .stdout(Stdio::null())
        .spawn()
        .expect("the binary runs");
    let mut said = BufReader::new(run.stderr.take().expect("a pipe")).lines();
    let pace = said.next().expect("a line").expect("text");
    assert!(pace.starts_with("note: 1 days in"), "{pace}");
    // Ended by nothing else: it waits for the reader.
    std::thread::sleep(Duration::from_millis(300));
    assert!(run.try_wait().expect("asked").is_none());
    let stop = Command::new("kill")
        .args(["-INT", &run.id().to_string()])
        .status();
    assert!(stop.expect("kill").success());
    let began = Instant::now();
    let ended = loop {
        match run.try_wait().expect("asked") {
            Some(ended) => break Some(ended),
            None if began.elapsed() > Duration::from_secs(20) => break None,
            None => std::thread::sleep(Duration::from_millis(20)),
        }
    };
    run.kill().expect("ended");
    reader.kill().expect("ended");
    let ended = ended.expect("Ctrl-C does not end it");
    assert_eq!(ended.code(), Some(130));
    let last = said.next().expect("a line").expect("text");
    assert_eq!(
        last,
        "error: pipe: cannot be written: stopped while it waited for what reads it"
    );
    assert_eq!(names(folder.path()), ["pipe"], "a file was replaced");
    run.wait().and_then(|_| reader.wait()).expect("gone");
}
