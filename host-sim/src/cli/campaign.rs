//! `dosewarden campaign`.

use std::io::Write;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Instant;

use clap::{Args, ValueEnum};
use indicatif::{ProgressBar, ProgressStyle};
use serde::Deserialize;

use super::failed::Failed;
use super::listed::Listed;
use super::output;
use super::replay::{self, Found};
use super::{BROKEN, HELD, STOPPED, stop};
use crate::campaign::{self, Bounds, CampaignError, Mode, Report, Shard, Subject, Trials};
use crate::fault::{self, Fault};
use crate::plan;
use crate::scenario::{InputError, text_of};
use crate::unit::Canary;

/// What is tried.
#[derive(Clone, Copy, Debug, ValueEnum)]
enum Faults {
    /// Each fault by itself, with a reset at ticks of one dose.
    Single,
    /// Each pair of faults, with one reset.
    Pairs,
    /// One to four faults at any time of a day.
    Random,
}

/// What `campaign` is told.
#[derive(Debug, Args)]
pub(super) struct CampaignArguments {
    /// A site's file, as for `plan`; without it the built-in pool at a house.
    #[arg(long, value_name = "FILE.toml")]
    site: Option<PathBuf>,
    /// What is tried.
    #[arg(long, value_enum, default_value = "single")]
    faults: Faults,
    /// Single: ticks of the dose at which each fault sees a reset (all without it). Random: trials (2000).
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u64).range(1..=10_000_000))]
    runs: Option<u64>,
    /// Prints the catalogue of faults (id, sort, words, where each acts), and tries nothing.
    #[arg(long, exclusive = true)]
    list: bool,
    /// Only these faults of the catalogue (--list), such as H1,K10; without it all.
    #[arg(
        long,
        value_name = "IDS",
        value_delimiter = ',',
        hide_possible_values = true
    )]
    #[arg(value_parser = Listed { all: fault_ids, read: fault })]
    only: Vec<&'static Fault>,
    /// Seed of all chance.
    #[arg(long, value_name = "N", default_value_t = 1)]
    seed: u64,
    /// Threads; without it as many as the machine has.
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=1024))]
    jobs: Option<u32>,
    /// Lives only part K of N.
    #[arg(long, value_name = "K/N", value_parser = shard)]
    shard: Option<Shard>,
    /// Puts the JSON files of parts together, and tries nothing.
    #[arg(long, value_name = "FILE.json", num_args = 1.., conflicts_with_all = ["site", "faults", "only", "runs", "seed", "jobs", "shard", "canary", "replay_dir"])]
    merge: Vec<PathBuf>,
    /// Tries a unit that is broken on purpose, which has to be caught.
    #[arg(long, value_name = "NAME", value_parser = Canary::ALL.map(|(name, _)| name))]
    canary: Option<String>,
    /// Writes what was found as JSON.
    #[arg(long, value_name = "FILE.json")]
    json: Option<PathBuf>,
    /// Shrinks a failure of each case that is outside to the least that still fails, tells it as a timeline, and writes it
    /// into this folder as a scenario file for `run`.
    #[arg(long, value_name = "FOLDER", conflicts_with = "merge")]
    replay_dir: Option<PathBuf>,
    /// Writes the table as Markdown.
    #[arg(long, value_name = "FILE.md")]
    table: Option<PathBuf>,
    /// Writes all of it as one page.
    #[arg(long, value_name = "FILE.html")]
    report: Option<PathBuf>,
}

fn fault_ids() -> Vec<&'static str> {
    fault::catalogue().map(|fault| fault.id).collect()
}

fn fault(text: &str) -> Result<&'static Fault, String> {
    fault::find(text)
        .ok_or_else(|| format!("no fault is called {text}; `dosewarden campaign --list` has all"))
}

fn shard(text: &str) -> Result<Shard, String> {
    let wrong = || format!("\"{text}\" is no part such as 1/4");
    let (part, of) = text.split_once('/').ok_or_else(wrong)?;
    let number = |text: &str| text.parse::<u64>().map_err(|_| wrong());
    let shard = Shard {
        part: number(part)?,
        of: number(of)?,
    };
    if shard.of == 0 || shard.part == 0 || shard.part > shard.of {
        return Err(wrong());
    }
    Ok(shard)
}

/// Lives it.
pub(super) fn campaign(arguments: &CampaignArguments) -> u8 {
    match of(arguments) {
        Ok(code) => code,
        Err(error) => Failed::from(error).tell(),
    }
}

fn of(arguments: &CampaignArguments) -> Result<u8, Box<dyn std::error::Error>> {
    if arguments.list {
        output::print(&fault::listed())?;
        return Ok(HELD);
    }
    // Before there is a part file that it could leave behind.
    let stop = stop::catch("stopping: the trials under way are lived to their end first");
    let outputs = [&arguments.json, &arguments.table, &arguments.report];
    output::all_apart(&arguments.merge, outputs.into_iter().flatten())?;
    let mut json = arguments.json.as_deref().map(output::begin).transpose()?;
    let mut table = arguments.table.as_deref().map(output::begin).transpose()?;
    let mut page = arguments.report.as_deref().map(output::begin).transpose()?;
    if let Some(folder) = arguments.replay_dir.as_deref().filter(|f| !f.is_dir()) {
        return Err(format!("{}: is no folder; make it first", folder.display()).into());
    }
    if arguments.runs.is_some() && matches!(arguments.faults, Faults::Pairs) {
        return Err("--runs is for single and random faults: a pair has one trial".into());
    }
    // What was found is kept before failures are shrunk: that may fail by itself.
    let mut keep = |report: &Report| -> Result<(), Box<dyn std::error::Error>> {
        let (json, table, page) = (json.take(), table.take(), page.take());
        let mut begun = Vec::new();
        if let Some(mut json) = json {
            serde_json::to_writer_pretty(&mut json, report)?;
            json.write_all(b"\n")?;
            begun.push(json);
        }
        if let Some(mut table) = table {
            table.write_all(campaign::markdown(report).as_bytes())?;
            begun.push(table);
        }
        if let Some(mut page) = page {
            page.write_all(campaign::page(report)?.as_bytes())?;
            begun.push(page);
        }
        for path in output::keep_all(begun)? {
            eprintln!("wrote {}", path.display());
        }
        Ok(output::print(&campaign::summary(report))?)
    };
    let report = if arguments.merge.is_empty() {
        lived(arguments, stop, &mut keep)?
    } else {
        let report = merged(&arguments.merge)?;
        keep(&report)?;
        report
    };
    Ok(if !report.is_inside() {
        BROKEN
    } else if report.stopped {
        STOPPED
    } else {
        HELD
    })
}

fn merged(files: &[PathBuf]) -> Result<Report, Box<dyn std::error::Error>> {
    let parts = files
        .iter()
        .map(|file| report_of(file))
        .collect::<Result<_, _>>()?;
    Ok(Report::merge(parts)?)
}

/// What `--json` wrote.
pub(super) fn report_of(file: &Path) -> Result<Report, InputError> {
    let name = file.display().to_string();
    let text = std::fs::read_to_string(file)
        .map_err(|error| InputError::of_file(&name, format!("cannot be read: {error}")))?;
    let layout: Layout =
        serde_json::from_str(&text).map_err(|error| not_of_a_campaign(&name, &text, &error))?;
    if layout.version != Report::VERSION {
        let what = format!(
            "has layout {}, and this program reads {}: make it anew with this program's `campaign --json`",
            layout.version,
            Report::VERSION
        );
        return Err(InputError::of_file(&name, what));
    }
    serde_json::from_str(&text).map_err(|error| not_of_a_campaign(&name, &text, &error))
}

/// Of any layout.
#[derive(Deserialize)]
struct Layout {
    version: u32,
}

/// Where and why a file is not what `--json` writes; serde counts columns in bytes.
fn not_of_a_campaign(file: &str, text: &str, error: &serde_json::Error) -> InputError {
    let said = error.to_string();
    let place = format!(" at line {} column {}", error.line(), error.column());
    let said = said.strip_suffix(&place).unwrap_or(&said);
    let what = format!("is no campaign's JSON: {said}; name files that `campaign --json` wrote");
    let line = text.lines().nth(error.line().saturating_sub(1));
    let before = line.and_then(|line| line.get(..error.column().saturating_sub(1)));
    InputError {
        column: before.map_or(0, |before| before.chars().count() + 1),
        ..InputError::of_line(file, error.line(), what)
    }
}

fn subject(arguments: &CampaignArguments) -> Result<Subject, Box<dyn std::error::Error>> {
    let canary = arguments.canary.as_deref().and_then(Canary::named);
    let (file, text) = match &arguments.site {
        None => ("home-pool.toml".to_owned(), plan::HOME_POOL.to_owned()),
        Some(path) => (path.display().to_string(), text_of(path)?),
    };
    Subject::of_site(&file, &text, canary).map_err(|error| match error {
        CampaignError::Input(error) => error.into(),
        other => format!("{file}: {other}").into(),
    })
}

/// What lives the same trials again.
fn command(arguments: &CampaignArguments, mode: Mode) -> String {
    let mut command = format!("dosewarden campaign --faults {}", mode.name());
    if let Some(site) = &arguments.site {
        command.push_str(&format!(" --site {}", site.display()));
    }
    if !arguments.only.is_empty() {
        let ids: Vec<&str> = arguments.only.iter().map(|fault| fault.id).collect();
        command.push_str(&format!(" --only {}", ids.join(",")));
    }
    if let Some(runs) = arguments.runs {
        command.push_str(&format!(" --runs {runs}"));
    }
    command.push_str(&format!(" --seed {}", arguments.seed));
    if let Some(canary) = &arguments.canary {
        command.push_str(&format!(" --canary {canary}"));
    }
    command
}

/// Keeps or shows what was found.
type Keep<'a> = &'a mut dyn FnMut(&Report) -> Result<(), Box<dyn std::error::Error>>;

/// What was found; failures are shrunk and told where a folder for them is named.
fn lived(
    arguments: &CampaignArguments,
    stop: &AtomicBool,
    keep: Keep<'_>,
) -> Result<Report, Box<dyn std::error::Error>> {
    let subject = subject(arguments)?;
    let mode = match arguments.faults {
        Faults::Single => Mode::Single,
        Faults::Pairs => Mode::Pairs,
        Faults::Random => Mode::Random,
    };
    let only = arguments.only.clone();
    let trials = Trials::new(mode, arguments.seed, arguments.runs, only, &subject);
    if !trials.numbers().any(|number| trials.get(number).is_some()) {
        return Err("nothing to try: this site cannot have these faults".into());
    }
    let shard = arguments.shard.unwrap_or(Shard::ALL);
    let threads = arguments.jobs.unwrap_or(0) as usize;
    let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build();
    let Ok(pool) = pool else {
        return Err(CampaignError::Threads.into());
    };
    let bar = ProgressBar::new((trials.numbers().count() as u64).div_ceil(shard.of));
    let style = "{bar:40} {pos} of {len} trials, {per_sec}, {eta} left";
    if let Ok(style) = ProgressStyle::with_template(style) {
        bar.set_style(style);
    }
    let begun = Instant::now();
    let bounds = Bounds::committed();
    let mut report = pool.install(|| {
        campaign::run(&subject, &trials, &bounds, shard, |done| {
            bar.set_position(done);
            !stop.load(Ordering::Relaxed)
        })
    })?;
    report.command = command(arguments, mode);
    bar.finish_and_clear();
    let seconds = begun.elapsed().as_secs_f64();
    eprintln!(
        "{} trials, {:.2} simulated years in {seconds:.0} s: {:.0} times real time",
        report.lived,
        report.simulated_s as f64 / 31_557_600.0,
        report.simulated_s as f64 / seconds.max(1e-3)
    );
    keep(&report)?;
    let Some(folder) = &arguments.replay_dir else {
        return Ok(report);
    };
    let found = Found {
        subject: &subject,
        trials: &trials,
        report: &report,
        command: &report.command,
    };
    match replay::write(&found, folder, || !stop.load(Ordering::Relaxed)) {
        Ok(told) => output::print(&told)?,
        // What the campaign found stands all the same.
        Err(error) => eprintln!("error: not every failure was written: {error}"),
    }
    Ok(report)
}
