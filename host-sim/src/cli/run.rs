//! `dosewarden run`.

use std::io::Write;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Instant;

use clap::Args;
use indicatif::{ProgressBar, ProgressStyle};

use super::failed::Failed;
use super::output::{self, Output};
use super::{BROKEN, HELD, STOPPED, boards, explore, stop};
use crate::plan::Site;
use crate::report;
use crate::run::{self as runs, Observer, RunError, RunResult};
use crate::scenario::{InputError, Scenario};
use crate::unit::{Canary, DosewardenUnit, UnguardedUnit};

/// Where the report of a run without any arguments goes.
const BARE_REPORT: &str = "dosewarden-report.html";

/// What `run` is told.
#[derive(Debug, Default, Args)]
pub(super) struct RunArguments {
    /// A scenario file; without it the built-in week. Copy examples/scenarios/first-pool.toml. A way that `explore --trail`
    /// kept is told again instead, as by `explore --replay`, and takes no option.
    scenario: Option<PathBuf>,
    /// Days to run, instead of what the scenario says.
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=3650))]
    days: Option<u32>,
    /// Seed of all chance, instead of what the scenario says.
    #[arg(long, value_name = "N")]
    seed: Option<u64>,
    /// Tries another unit than ours: one that is broken on purpose, as in a campaign, or one without any guard.
    #[arg(long, value_name = "NAME", value_parser = units())]
    canary: Option<String>,
    /// Writes a row a minute as CSV.
    #[arg(long, value_name = "FILE.csv")]
    trace: Option<PathBuf>,
    /// Writes what the run comes to as JSON.
    #[arg(long, value_name = "FILE.json")]
    json: Option<PathBuf>,
    /// Writes a report as one HTML page.
    #[arg(long, value_name = "FILE.html")]
    report: Option<PathBuf>,
    /// Gives the board away at the end, and writes its image, which `dosewarden board` reads.
    #[arg(long, value_name = "FILE.bin")]
    board: Option<PathBuf>,
    /// Begins on a new board that has taken up this image; regulators stay the scenario's.
    #[arg(long, value_name = "FILE.bin")]
    take_up: Option<PathBuf>,
    /// How long ago the image was written, such as "2 h", by a clock that both boards trust; without it nobody knows, and
    /// the day counts as used.
    #[arg(long, value_name = "TIME", requires = "take_up")]
    away: Option<String>,
}

/// Feeds whatever its regulators ask for.
const UNGUARDED: &str = "no-guard";

fn units() -> Vec<&'static str> {
    let canaries = Canary::ALL.iter().map(|(name, _)| *name);
    canaries.chain([UNGUARDED]).collect()
}

/// Files to write, begun before the run so that a path that cannot be is told at once.
struct Outputs {
    trace: Option<Output>,
    json: Option<Output>,
    report: Option<Output>,
    board: Option<Output>,
}

struct Watcher {
    bar: ProgressBar,
    stop: &'static AtomicBool,
}

impl Watcher {
    fn new() -> Self {
        // Hidden by itself where standard error is not a terminal.
        let bar = ProgressBar::new(1000);
        if let Ok(style) = ProgressStyle::with_template("{bar:40} {percent} % done, {eta} left") {
            bar.set_style(style);
        }
        let stop = stop::catch("");
        Self { bar, stop }
    }
}

impl Observer for Watcher {
    fn progress(&mut self, share: f64) {
        self.bar.set_position((share * 1000.0) as u64);
    }

    fn stop(&self) -> bool {
        self.stop.load(Ordering::Relaxed)
    }
}

/// Runs the built-in week; its report stands in the current folder.
pub(super) fn bare() -> u8 {
    let arguments = RunArguments {
        report: Some(PathBuf::from(BARE_REPORT)),
        ..RunArguments::default()
    };
    if let Err(why) = output::begin(Path::new(BARE_REPORT)) {
        eprintln!("note: no report: {why}");
        return run(&RunArguments::default());
    }
    run(&arguments)
}

/// Runs, prints and writes; gives the exit status.
pub(super) fn run(arguments: &RunArguments) -> u8 {
    match try_run(arguments) {
        Ok(code) => code,
        Err(Failure::Input(failed)) => failed.tell(),
        Err(Failure::Stopped) => {
            eprintln!("stopped before the end; nothing was written");
            STOPPED
        }
    }
}

enum Failure {
    Input(Failed),
    Stopped,
}

impl<E: Into<Failed>> From<E> for Failure {
    fn from(error: E) -> Self {
        Self::Input(error.into())
    }
}

fn try_run(arguments: &RunArguments) -> Result<u8, Failure> {
    if let Some(path) = arguments.scenario.as_deref().filter(|path| is_way(path)) {
        no_option_beside(path, arguments)?;
        return Ok(explore::replay(path)?);
    }
    let scenario = scenario(arguments)?;
    if arguments.canary.as_deref() == Some(UNGUARDED)
        && (arguments.board.is_some() || arguments.take_up.is_some())
    {
        let what =
            format!("--board and --take-up are about our unit's board; {UNGUARDED} has none");
        return Err(Failure::from(what));
    }
    // Ctrl-C is caught before there is a part file that it could leave behind.
    let mut watcher = Watcher::new();
    let mut outputs = begin(arguments)?;
    let trace = outputs.trace.as_mut().map(|out| out as &mut dyn Write);
    let began = Instant::now();
    let mut took_up = None;
    let ended = match arguments.canary.as_deref() {
        Some(UNGUARDED) => {
            let unit = UnguardedUnit::for_scenario(&scenario);
            runs::run(&scenario, unit, trace, &mut watcher).map(|result| (result, None))
        }
        name => {
            let mut unit = match name.and_then(Canary::named) {
                Some(canary) => DosewardenUnit::canary(&scenario, canary),
                None => DosewardenUnit::for_scenario(&scenario),
            };
            if let Some(path) = &arguments.take_up {
                let told = boards::take_up(&mut unit, path, arguments.away.as_deref())?;
                took_up = Some(told);
            }
            let ended = runs::run_to_end(&scenario, unit, trace, &mut watcher);
            ended.map(|(result, pool)| (result, Some(pool)))
        }
    };
    watcher.bar.finish_and_clear();
    let took_s = began.elapsed().as_secs_f64();
    let (result, pool) = ended.map_err(|error| match error {
        RunError::Stopped => Failure::Stopped,
        other => Failure::from(other.to_string()),
    })?;
    // Not on standard output: what stands there is the same in every run.
    eprintln!("{}", pace(scenario.days, took_s));
    let command = command(arguments, &scenario);
    fill(&mut outputs, &scenario, &result, &command)?;
    if let (Some(out), Some(mut pool)) = (&mut outputs.board, pool) {
        let image = boards::give_away(&mut pool)?;
        out.write_all(&image).map_err(|error| error.to_string())?;
    }
    let wrote = keep(outputs)?;
    if let Some(told) = &took_up {
        output::print(&format!("{told}\n"))?;
    }
    print(&result, &command, &wrote, arguments)?;
    Ok(if result.summary.held { HELD } else { BROKEN })
}

/// How fast simulated time passed.
fn pace(days: u32, took_s: f64) -> String {
    let times = f64::from(days) * 86_400.0 / took_s.max(1e-9);
    let year_s = 365.0 * 86_400.0 / times;
    format!(
        "note: {days} days in {took_s:.2} s, {times:.0} times as fast as the clock; a pool-year in {year_s:.1} s"
    )
}

/// Whether a file is a way through the guard's states and no scenario: by its first line.
fn is_way(path: &Path) -> bool {
    std::fs::read(path).is_ok_and(|bytes| crate::explore::is_way(&String::from_utf8_lossy(&bytes)))
}

/// A way has its ticks, its limits and its guard: there is nothing to choose.
fn no_option_beside(path: &Path, arguments: &RunArguments) -> Result<(), String> {
    let named = [
        ("--days", arguments.days.is_some()),
        ("--seed", arguments.seed.is_some()),
        ("--canary", arguments.canary.is_some()),
        ("--trace", arguments.trace.is_some()),
        ("--json", arguments.json.is_some()),
        ("--report", arguments.report.is_some()),
        ("--board", arguments.board.is_some()),
        ("--take-up", arguments.take_up.is_some()),
    ];
    match named.iter().find(|(_, given)| *given) {
        None => Ok(()),
        Some((option, _)) => Err(format!(
            "{}: is a way that `explore --trail` kept, which is told again as it is; {option} is for a scenario",
            path.display()
        )),
    }
}

/// A site's file in the place of a scenario is told as that, and where it belongs.
fn is_a_site(path: &Path, error: InputError) -> Failed {
    if Site::load(path).is_err() {
        return error.into();
    }
    let path = path.display();
    Failed::Words(format!(
        "{path}: is a site, which is for `dosewarden plan`; `dosewarden plan {path} --scenario FILE.toml` writes a scenario of it"
    ))
}

fn scenario(arguments: &RunArguments) -> Result<Scenario, Failed> {
    let mut scenario = match &arguments.scenario {
        Some(path) => Scenario::load(path).map_err(|error| is_a_site(path, error))?,
        None => Scenario::first_pool(),
    };
    if let Some(days) = arguments.days {
        scenario.days = days;
        scenario.ends_at_ms = None;
    }
    if let Some(seed) = arguments.seed {
        scenario.seed = seed;
    }
    Ok(scenario)
}

/// Begins every file; two may not stand in one place, nor in that of the scenario.
fn begin(arguments: &RunArguments) -> Result<Outputs, String> {
    let asked = [
        &arguments.trace,
        &arguments.json,
        &arguments.report,
        &arguments.board,
    ];
    let read = arguments.scenario.iter().chain(&arguments.take_up);
    let read: Vec<PathBuf> = read.cloned().collect();
    output::all_apart(&read, asked.into_iter().flatten())?;
    let open = |path: &Option<PathBuf>| path.as_deref().map(output::begin).transpose();
    Ok(Outputs {
        trace: open(&arguments.trace)?,
        json: open(&arguments.json)?,
        report: open(&arguments.report)?,
        board: open(&arguments.board)?,
    })
}

fn fill(
    outputs: &mut Outputs,
    scenario: &Scenario,
    result: &RunResult,
    command: &str,
) -> Result<(), String> {
    if let Some(out) = &mut outputs.json {
        serde_json::to_writer_pretty(&mut *out, &result.summary).map_err(|e| e.to_string())?;
        out.write_all(b"\n").map_err(|error| error.to_string())?;
    }
    if let Some(out) = &mut outputs.report {
        let page = report::page(scenario, result, command).map_err(|error| format!("{error:#}"))?;
        out.write_all(page.as_bytes())
            .map_err(|error| error.to_string())?;
    }
    Ok(())
}

fn keep(outputs: Outputs) -> Result<Vec<PathBuf>, String> {
    let all = [outputs.trace, outputs.json, outputs.report, outputs.board];
    output::keep_all(all.into_iter().flatten())
}

/// What repeats the run, for a shell.
fn command(arguments: &RunArguments, scenario: &Scenario) -> String {
    let path = arguments
        .scenario
        .as_ref()
        .map(|path| path.display().to_string());
    let words: Vec<&str> = ["run"].into_iter().chain(path.as_deref()).collect();
    let mut command = output::command(&words);
    // Days would take the place of the moment at which a scenario ends.
    if scenario.ends_at_ms.is_none() {
        command.push_str(&format!(" --days {}", scenario.days));
    }
    command.push_str(&format!(" --seed {}", scenario.seed));
    if let Some(canary) = &arguments.canary {
        command.push_str(&format!(" --canary {canary}"));
    }
    if let Some(path) = &arguments.take_up {
        let path = path.display().to_string();
        let words = ["--take-up", &*path].into_iter();
        let away = arguments.away.iter().flat_map(|away| ["--away", away]);
        let more = output::command(&words.chain(away).collect::<Vec<_>>());
        command.push_str(more.trim_start_matches("dosewarden"));
    }
    command
}

fn print(
    result: &RunResult,
    command: &str,
    wrote: &[PathBuf],
    arguments: &RunArguments,
) -> Result<(), String> {
    let mut text = result.summary.to_string();
    text.push_str(&format!("Repeat it with: {command}\n"));
    for path in wrote {
        text.push_str(&format!("Wrote {}\n", path.display()));
    }
    if arguments.report.is_none() {
        text.push_str("A page with curves and lanes: add --report FILE.html\n");
    }
    text.push_str(
        "Simulated, not certified: the hard-wired interlock stays. Never mix acid and hypochlorite.\n",
    );
    output::print(&text)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_pace_is_told_in_figures_that_agree() {
        let told = pace(73, 6.0);
        assert!(
            told.starts_with("note: 73 days in 6.00 s, 1051200 times"),
            "{told}"
        );
        assert!(told.ends_with("a pool-year in 30.0 s"), "{told}");
    }
}
