//! `dosewarden explore`.

use std::collections::BTreeSet;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Instant;

use clap::Args;
use indicatif::{ProgressBar, ProgressStyle};

use super::failed::Failed;
use super::output::{self, Output};
use super::{BROKEN, HELD, STOPPED, listed, stop};
use crate::explore::{self as walks, Ended, PartSummary, Progress, Report, Walking};
use crate::scenario::text_of;

/// What `explore` is told.
#[derive(Debug, Args)]
pub(super) struct ExploreArguments {
    /// x1: ledger, record and power; x2: exclusion; x3: lockouts, persons, fallback, two bodies; all.
    #[arg(
        long,
        value_name = "CONFIG",
        default_value = "all",
        hide_possible_values = true
    )]
    #[arg(value_parser = listed::text_of(configs))]
    config: String,
    /// States of one part after which it ends unfinished. One takes about 50 bytes of memory.
    #[arg(long, value_name = "N", default_value_t = 100_000_000)]
    #[arg(value_parser = clap::value_parser!(u32).range(1..=4_000_000_000))]
    states_max: u32,
    /// Threads; the result is the same for any number.
    #[arg(long, value_name = "N", default_value_t = 2)]
    #[arg(value_parser = clap::value_parser!(u8).range(1..=64))]
    jobs: u8,
    /// Writes what it comes to as JSON.
    #[arg(long, value_name = "FILE.json")]
    json: Option<PathBuf>,
    /// Writes what it comes to as one HTML page.
    #[arg(long, value_name = "FILE.html")]
    report: Option<PathBuf>,
    /// Writes the way to a property that does not hold, if there is one, for --replay.
    #[arg(long, value_name = "FILE")]
    trail: Option<PathBuf>,
    /// Tells the way in such a file again, tick by tick, instead of walking; `dosewarden run FILE` does the same.
    #[arg(long, value_name = "FILE", conflicts_with_all = ["config", "states_max", "jobs", "json", "report", "trail"])]
    replay: Option<PathBuf>,
}

/// Every configuration, and every part.
fn configs() -> Vec<&'static str> {
    let parts = walks::parts("all").unwrap_or_default();
    let all = ["all", "x1", "x2", "x3"].iter().chain(parts);
    // x2 is a configuration of one part.
    let all: BTreeSet<&str> = all.copied().collect();
    all.into_iter().collect()
}

/// Walks or replays; gives the exit status.
pub(super) fn explore(arguments: &ExploreArguments) -> u8 {
    let code = match &arguments.replay {
        Some(path) => replay(path),
        None => walk(arguments).map_err(Failed::from),
    };
    code.unwrap_or_else(|failed| failed.tell())
}

/// Tells the way in a file again; gives the exit status.
pub(super) fn replay(path: &Path) -> Result<u8, Failed> {
    let trail = walks::replay_file(&path.display().to_string(), &text_of(path)?)?;
    output::print(&trail.text())?;
    Ok(if trail.broken.is_some() { BROKEN } else { HELD })
}

fn walk(arguments: &ExploreArguments) -> Result<u8, String> {
    let config = &arguments.config;
    let parts = walks::parts(config)
        .ok_or_else(|| format!("--config {config}: there is none; take x1, x2, x3 or all"))?;
    let begin = |path: &Option<PathBuf>| path.as_deref().map(output::begin).transpose();
    let named = [&arguments.json, &arguments.report, &arguments.trail];
    let named: Vec<&PathBuf> = named.into_iter().flatten().collect();
    for (at, one) in named.iter().enumerate() {
        if named[..at].iter().any(|other| output::same(one, other)) {
            return Err(format!("{}: named twice", one.display()));
        }
    }
    let stop = stop::catch("");
    let outputs = Outputs {
        json: begin(&arguments.json)?,
        report: begin(&arguments.report)?,
        trail: begin(&arguments.trail)?,
    };
    let mut reports = Vec::new();
    for part in parts {
        let report = one(part, arguments, stop)?;
        output::print(&report.to_string())?;
        reports.push(report);
        if stop.load(Ordering::Relaxed) {
            break;
        }
    }
    write(outputs, config, &command(arguments), &reports)?;
    output::print(&format!("Verdict: {}.\n", walks::verdict(parts, &reports)))?;
    Ok(if reports.iter().any(|report| !report.holds()) {
        BROKEN
    } else if reports.iter().any(|report| report.ended == Ended::Stopped) {
        eprintln!("stopped before the end; the above is what was done");
        STOPPED
    } else {
        HELD
    })
}

/// Walks one part, telling how it goes on standard error.
fn one(part: &str, arguments: &ExploreArguments, stop: &AtomicBool) -> Result<Report, String> {
    let begun = Instant::now();
    // Hidden by itself where standard error is not a terminal.
    let bar = ProgressBar::new_spinner();
    if let Ok(style) = ProgressStyle::with_template("{spinner} {msg}") {
        bar.set_style(style);
    }
    let rate = |judgements: u64| judgements as f64 / begun.elapsed().as_secs_f64().max(1e-3) / 1e6;
    let mut progress = |now: Progress| {
        bar.set_message(format!(
            "{part}: {} states, {} still to expand, tick {}, {:.2} million judgements a second",
            now.states,
            now.frontier,
            now.depth,
            rate(now.judgements)
        ));
        bar.tick();
    };
    let report = walks::explore(
        part,
        &mut Walking {
            states_max: arguments.states_max as usize,
            jobs: usize::from(arguments.jobs),
            fed_only: false,
            stop,
            progress: &mut progress,
        },
    );
    bar.finish_and_clear();
    let report = report.map_err(|error| format!("{part}: {error}"))?;
    eprintln!(
        "{part}: {:.1} s, {:.2} million judgements a second",
        begun.elapsed().as_secs_f64(),
        rate(report.judgements)
    );
    Ok(report)
}

/// Files to write, begun before the walk so that a path that cannot be is told at once.
struct Outputs {
    json: Option<Output>,
    report: Option<Output>,
    trail: Option<Output>,
}

/// What walks the same again.
fn command(arguments: &ExploreArguments) -> String {
    let ExploreArguments {
        config, states_max, ..
    } = arguments;
    output::command(&[
        "explore",
        "--config",
        config,
        "--states-max",
        &states_max.to_string(),
    ])
}

fn write(outputs: Outputs, config: &str, command: &str, reports: &[Report]) -> Result<(), String> {
    let broken = reports.iter().find_map(|report| report.broken.as_ref());
    let mut begun = Vec::new();
    if let Some(out) = outputs.json {
        let all: Vec<PartSummary> = reports.iter().map(PartSummary::from).collect();
        begun.push((out, output::json(&all)?));
    }
    if let Some(out) = outputs.report {
        let page = walks::page(config, reports, command).map_err(|error| format!("{error:#}"))?;
        begun.push((out, page));
    }
    let kept_way = outputs.trail.zip(broken);
    let has_kept = kept_way.is_some();
    begun.extend(kept_way.map(|(out, way)| (out, way.file())));
    let mut filled = Vec::new();
    for (mut out, text) in begun {
        out.write_all(text.as_bytes())
            .map_err(|error| error.to_string())?;
        filled.push(out);
    }
    let mut wrote = output::keep_all(filled)?;
    let way = if has_kept { wrote.pop() } else { None };
    for path in wrote {
        output::print(&format!("Wrote {}\n", path.display()))?;
    }
    match (broken, way) {
        (_, Some(path)) => output::print(&format!(
            "Tell it again with: dosewarden explore --replay {}\n",
            path.display()
        )),
        (Some(_), None) => output::print("To keep this way for --replay: add --trail FILE\n"),
        (None, None) => Ok(()),
    }
}
