//! `dosewarden explore`.

use std::io::Write;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Instant;

use clap::Args;
use indicatif::{ProgressBar, ProgressStyle};

use super::output::{self, Output};
use super::{BAD_INPUT, BROKEN, HELD, STOPPED};
use crate::explore::{self as walks, Ended, PartSummary, Progress, Report, Walking};

/// What `explore` is told.
#[derive(Debug, Args)]
pub(super) struct ExploreArguments {
    /// x1: ledger, record and power; x2: exclusion; x3: lockouts, persons, fallback, two bodies; all.
    #[arg(long, value_name = "CONFIG", default_value = "all")]
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
    /// Tells the way in such a file again, tick by tick, instead of walking.
    #[arg(long, value_name = "FILE", conflicts_with_all = ["config", "states_max", "jobs", "json", "report", "trail"])]
    replay: Option<PathBuf>,
}

/// Walks or replays; gives the exit status.
pub(super) fn explore(arguments: &ExploreArguments) -> u8 {
    let code = match &arguments.replay {
        Some(path) => replay(path),
        None => walk(arguments),
    };
    code.unwrap_or_else(|why| {
        eprintln!("error: {why}");
        BAD_INPUT
    })
}

fn replay(path: &Path) -> Result<u8, String> {
    let shown = path.display();
    let text = std::fs::read_to_string(path).map_err(|error| format!("{shown}: {error}"))?;
    let trail = walks::replay_file(&text).map_err(|why| format!("{shown}: {why}"))?;
    output::print(&format!(
        "{}, from the first power-on:\n{trail}",
        trail.part
    ))?;
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
    let stop = Arc::new(AtomicBool::new(false));
    let flag = Arc::clone(&stop);
    if ctrlc::set_handler(move || flag.store(true, Ordering::Relaxed)).is_err() {
        eprintln!("note: Ctrl-C cannot be caught here");
    }
    let outputs = Outputs {
        json: begin(&arguments.json)?,
        report: begin(&arguments.report)?,
        trail: begin(&arguments.trail)?,
    };
    let mut reports = Vec::new();
    for part in parts {
        let report = one(part, arguments, &stop)?;
        output::print(&report.to_string())?;
        reports.push(report);
        if stop.load(Ordering::Relaxed) {
            break;
        }
    }
    write(outputs, config, &command(arguments), &reports)?;
    output::print(&format!("Verdict: {}.\n", walks::verdict(&reports)))?;
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
    let Outputs {
        json,
        report,
        trail,
    } = outputs;
    if let Some(mut out) = json {
        let all: Vec<PartSummary> = reports.iter().map(PartSummary::from).collect();
        out.write_all(output::json(&all)?.as_bytes())
            .map_err(|error| error.to_string())?;
        out.keep()?;
    }
    if let Some(mut out) = report {
        let page = walks::page(config, reports, command).map_err(|error| format!("{error:#}"))?;
        out.write_all(page.as_bytes())
            .map_err(|error| error.to_string())?;
        let path = out.keep()?;
        output::print(&format!("Wrote {}\n", path.display()))?;
    }
    let broken = reports.iter().find_map(|report| report.broken.as_ref());
    match (broken, trail) {
        (Some(way), Some(mut out)) => {
            out.write_all(way.file().as_bytes())
                .map_err(|error| error.to_string())?;
            let path = out.keep()?;
            output::print(&format!(
                "Tell it again with: dosewarden explore --replay {}\n",
                path.display()
            ))
        }
        (Some(_), None) => output::print("To keep this way for --replay: add --trail FILE\n"),
        (None, _) => Ok(()),
    }
}
