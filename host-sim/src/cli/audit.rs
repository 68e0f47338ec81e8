//! `dosewarden audit`.

use std::fs::File;
use std::io::BufReader;
use std::path::{Path, PathBuf};

use clap::Args;
use minijinja::value::{Serde, Value};
use minijinja::{Environment, context};

use super::failed::Failed;
use super::output;
use super::{BROKEN, CANNOT_TELL, HELD};
use crate::audit::{Audit, audit as judge};
use crate::recorded::{LogMap, load_site, read_log};
use crate::report::CAUTIONS;

const PAGE: &str = include_str!("../../templates/audit.html");

/// What `audit` is told.
#[derive(Debug, Args)]
pub(super) struct AuditArguments {
    /// A log with a line of names, as CSV.
    log: PathBuf,
    /// The site: a file that `plan` reads, whose limits are worked out, or a scenario.
    #[arg(long, value_name = "FILE.toml")]
    site: PathBuf,
    /// Which column is what. Copy examples/audit/map.toml; without it the log is one of `run --trace`.
    #[arg(long, value_name = "FILE.toml")]
    map: Option<PathBuf>,
    /// Ends with status 3 where no rule was broken but the log cannot tell of one, such as for want of a column.
    #[arg(long)]
    strict: bool,
    /// Writes what was found as JSON.
    #[arg(long, value_name = "FILE.json")]
    json: Option<PathBuf>,
    /// Writes what was found as one HTML page.
    #[arg(long, value_name = "FILE.html")]
    report: Option<PathBuf>,
}

/// Judges and prints; gives the exit status.
pub(super) fn audit(arguments: &AuditArguments) -> u8 {
    match try_audit(arguments) {
        Ok(code) => code,
        Err(failed) => failed.tell(),
    }
}

fn try_audit(arguments: &AuditArguments) -> Result<u8, Failed> {
    let site = load_site(&arguments.site)?;
    let map = match &arguments.map {
        Some(path) => LogMap::load(path)?,
        None => LogMap::of_trace(&site),
    };
    let path = arguments.log.display().to_string();
    let file = File::open(&arguments.log);
    let file = file.map_err(|error| format!("{path}: cannot be read: {error}"))?;
    let log = read_log(&path, BufReader::new(file), &map, &site);
    let found = judge(&log?, &site);
    let mut text = found.to_string();
    for path in write(arguments, &found)? {
        text.push_str(&format!("Wrote {}\n", path.display()));
    }
    output::print(&text)?;
    let unsure = found.unsure().next().is_some();
    Ok(if found.broken().next().is_some() {
        BROKEN
    } else if arguments.strict && unsure {
        CANNOT_TELL
    } else {
        HELD
    })
}

/// Writes what was asked for; no file over another one.
fn write(arguments: &AuditArguments, found: &Audit) -> Result<Vec<PathBuf>, String> {
    let read = [
        Some(&arguments.log),
        Some(&arguments.site),
        arguments.map.as_ref(),
    ];
    let read: Vec<&Path> = read.into_iter().flatten().map(PathBuf::as_path).collect();
    let page = page(found).map_err(|error| format!("{error:#}"))?;
    output::write_all(
        &read,
        &[
            (arguments.json.as_deref(), &output::json(found)?),
            (arguments.report.as_deref(), &page),
        ],
    )
}

fn page(found: &Audit) -> Result<String, minijinja::Error> {
    let mut engine = Environment::new();
    crate::report::tables::taught(&mut engine)?;
    engine.add_template("audit.html", PAGE)?;
    engine.get_template("audit.html")?.render(context! {
        audit => Value::from(Serde(found)),
        verdict => found.verdict_words(),
        broken => found.broken().next().is_some(),
        unsure => found.unsure().next().is_some(),
        cautions => CAUTIONS,
    })
}
