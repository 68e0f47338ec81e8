//! Scenario files of a campaign's failures.

use std::collections::BTreeSet;
use std::fmt::Write as _;
use std::io::Write as _;
use std::path::Path;
use std::time::Instant;

use super::output;
use crate::campaign::{
    Bounds, CampaignError, Case, Failure, Gravest, Passed, Replay, Report, Subject, Trials, label,
    replays, shrunk,
};
use crate::unit::Canary;

/// What a campaign was, for those who look at what it found.
pub(super) struct Found<'a> {
    pub(super) subject: &'a Subject,
    pub(super) trials: &'a Trials,
    pub(super) report: &'a Report,
    pub(super) command: &'a str,
}

/// A failure that was written: its oracle, its faults, its file.
struct Written {
    oracle: &'static str,
    faults: BTreeSet<String>,
    file: String,
    cases: u32,
}

/// What is furthest outside in a case, by share of its bound.
fn furthest(case: &Case) -> Option<&Passed> {
    let past = |p: &Passed| (p.worst - p.bound).abs() / p.bound.abs().max(1e-9);
    let outside = case.passed.values().filter(|p| !p.inside);
    outside.max_by(|a, b| past(a).total_cmp(&past(b)))
}

/// Shrinks one failure of each case that is outside, and writes it as a scenario file into `folder`. A case whose
/// faults are those of a file that was written before, and more, is counted with that one. `go_on` is asked before
/// each. Gives what is to be told.
///
/// # Errors
/// A file cannot be written, or does not replay what the trial found.
pub(super) fn write(
    found: &Found<'_>,
    folder: &Path,
    mut go_on: impl FnMut() -> bool,
) -> Result<String, Box<dyn std::error::Error>> {
    let (subject, bounds) = (found.subject, Bounds::committed());
    let mut all: Vec<Written> = Vec::new();
    let mut told = String::new();
    for case in found.report.cases.iter().filter(|case| !case.is_inside()) {
        if !go_on() {
            told.push_str("stopped: not every failure was shrunk\n");
            break;
        }
        let Some(passed) = furthest(case) else {
            let late = case
                .gravest
                .as_ref()
                .map_or_else(String::new, Gravest::words);
            let _ = writeln!(
                told,
                "{}: {late}: nothing to shrink",
                case.faults.join(" x ")
            );
            continue;
        };
        let oracle = &passed.oracle;
        let faults: BTreeSet<String> = case.faults.iter().cloned().collect();
        let like = |one: &&mut Written| one.oracle == oracle && one.faults.is_subset(&faults);
        if let Some(known) = all.iter_mut().find(like) {
            known.cases += 1;
            continue;
        }
        let began = Instant::now();
        let Some(failure) = again(found, &bounds, passed.trial, oracle)? else {
            return Err(format!("trial {} does not fail again", passed.trial).into());
        };
        let (failure, lived) = shrunk(subject, &bounds, failure);
        let found_by = format!("Found by: {}, trial {}", found.command, passed.trial);
        let replay = Replay::of(subject, &failure, &found_by)?;
        replays(subject, &failure, &replay)?;
        let path = folder.join(format!("{}.toml", replay.name));
        let mut file = output::begin(&path)?;
        file.write_all(replay.text.as_bytes())?;
        file.keep()?;
        tell(&mut told, subject, &replay, &path);
        let seconds = began.elapsed().as_secs_f64();
        eprintln!(
            "{}: shrunk in {lived} trials, {seconds:.1} s",
            path.display()
        );
        let labels = failure.chosen.iter();
        all.push(Written {
            oracle: failure.broken.oracle,
            faults: labels
                .map(|one| label(one.fault, one.part, &subject.scenario))
                .collect(),
            file: path.display().to_string(),
            cases: 1,
        });
    }
    for one in all.iter().filter(|one| one.cases > 1) {
        let more = one.cases - 1;
        let _ = writeln!(told, "{more} more cases have what {} has", one.file);
    }
    Ok(told)
}

fn again(
    found: &Found<'_>,
    bounds: &Bounds,
    trial: u64,
    oracle: &str,
) -> Result<Option<Failure>, CampaignError> {
    let Some(planned) = found.trials.get(trial) else {
        return Ok(None);
    };
    Failure::of(found.subject, bounds, &planned, oracle)
}

fn tell(told: &mut String, subject: &Subject, replay: &Replay, path: &Path) {
    let _ = writeln!(told, "\n{}", replay.what);
    for line in &replay.timeline {
        let _ = writeln!(told, "  {line}");
    }
    let all = Canary::ALL.iter();
    let canary = all
        .filter(|(_, canary)| subject.canary == Some(*canary))
        .map(|(name, _)| format!(" --canary {name}"));
    let canary: String = canary.collect();
    let _ = writeln!(
        told,
        "Replay it with: dosewarden run {}{canary}",
        path.display()
    );
}
