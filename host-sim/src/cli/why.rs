//! `dosewarden why`.

use std::fs::File;
use std::io::BufReader;
use std::path::PathBuf;

use clap::Args;

use super::HELD;
use super::failed::Failed;
use super::output;
use crate::why::{Moment, TraceFile, explain};

/// What `why` is told.
#[derive(Debug, Args)]
pub(super) struct WhyArguments {
    /// A trace, as `dosewarden run --trace FILE.csv` writes it.
    trace: PathBuf,
    /// The moment: "day 2 14:05", or seconds since the start; without it the last row.
    #[arg(long, value_name = "TIME")]
    at: Option<String>,
    /// One feeder, by its name; without it all.
    #[arg(long, value_name = "NAME")]
    feeder: Option<String>,
    /// Writes the same, and all that kept a feeder from feeding, as JSON.
    #[arg(long, value_name = "FILE.json")]
    json: Option<PathBuf>,
}

/// Explains; gives the exit status.
pub(super) fn why(arguments: &WhyArguments) -> u8 {
    match try_why(arguments) {
        Ok(()) => HELD,
        Err(failed) => failed.tell(),
    }
}

fn try_why(arguments: &WhyArguments) -> Result<(), Failed> {
    let trace = &arguments.trace;
    let path = trace.display().to_string();
    let moment = arguments
        .at
        .as_deref()
        .map_or(Ok(Moment::Last), Moment::parse);
    let moment = moment.map_err(|why| format!("--at {why}"))?;
    let file = File::open(trace).map_err(|error| format!("{path}: cannot be read: {error}"))?;
    let trace = TraceFile::read(&path, BufReader::new(file))?;
    let told = explain(&trace, moment, arguments.feeder.as_deref());
    let told = told?;
    let mut text = told.to_string();
    let json = arguments.json.as_deref();
    for path in output::write_all(&[&arguments.trace], &[(json, &output::json(&told)?)])? {
        text.push_str(&format!("Wrote {}\n", path.display()));
    }
    Ok(output::print(&text)?)
}
