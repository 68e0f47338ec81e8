//! `dosewarden close` and `dosewarden open`.

use std::path::{Path, PathBuf};

use clap::Args;
use serde::Serialize;

use super::failed::Failed;
use super::output;
use super::{BROKEN, HELD};
use crate::season::{Closing, OpeningSheet, Winter, load};

/// What `close` is told.
#[derive(Debug, Args)]
pub(super) struct CloseArguments {
    /// The site, as for `plan`.
    site: PathBuf,
    /// The log of visits, as for `visit`; its last tests are those of the closing.
    log: PathBuf,
    /// Coldest water of the winter, C, 0.5 to 25.
    #[arg(long, value_name = "C", default_value_t = 4.0)]
    coldest: f64,
    /// Days until the opening, 1 to 365.
    #[arg(long, value_name = "DAYS", default_value_t = 180.0)]
    days: f64,
    /// Temperature at which hypochlorite is kept meanwhile, C, 0 to 45.
    #[arg(long, value_name = "C", default_value_t = 15.0)]
    store: f64,
    /// Time in which it loses half of its strength at 25 C, days; ask who sells it.
    #[arg(long, value_name = "DAYS", default_value_t = 120.0)]
    half_life: f64,
    /// Writes everything as JSON.
    #[arg(long, value_name = "FILE.json")]
    json: Option<PathBuf>,
}

/// What `open` is told.
#[derive(Debug, Args)]
pub(super) struct OpenArguments {
    /// The site, as for `plan`.
    site: PathBuf,
    /// The log of visits, as for `visit`.
    log: PathBuf,
    /// Entries from then on count: the day on which the opening began.
    #[arg(long, value_name = "DATE")]
    since: String,
    /// Writes everything as JSON.
    #[arg(long, value_name = "FILE.json")]
    json: Option<PathBuf>,
}

/// Prints what to do before a pool is laid up; gives the exit status.
pub(super) fn close(arguments: &CloseArguments) -> u8 {
    told(try_close(arguments))
}

/// Prints what an opening waits for; gives the exit status.
pub(super) fn open(arguments: &OpenArguments) -> u8 {
    told(try_open(arguments))
}

fn told(code: Result<u8, Failed>) -> u8 {
    code.unwrap_or_else(|failed| failed.tell())
}

fn within(name: &str, value: f64, (min, max): (f64, f64)) -> Result<(), String> {
    if (min..=max).contains(&value) {
        return Ok(());
    }
    Err(format!("--{name} is {value}; right is {min} to {max}"))
}

fn try_close(arguments: &CloseArguments) -> Result<u8, Failed> {
    let CloseArguments {
        coldest,
        days,
        store,
        half_life,
        ..
    } = *arguments;
    within("coldest", coldest, (0.5, 25.0))?;
    within("days", days, (1.0, 365.0))?;
    within("store", store, (0.0, 45.0))?;
    within("half-life", half_life, (1.0, 10_000.0))?;
    let winter = Winter {
        coldest_c: coldest,
        days,
        store_c: store,
        half_life_days: half_life,
    };
    let (site, plan, log) = load(&arguments.site, &arguments.log)?;
    let log = log.of_pool(&site)?;
    let found = Closing::of(&site, &plan, &log, winter)?;
    print(
        &found.to_string(),
        &found,
        arguments.json.as_deref(),
        [&arguments.site, &arguments.log],
    )?;
    Ok(HELD)
}

fn try_open(arguments: &OpenArguments) -> Result<u8, Failed> {
    let (site, plan, log) = load(&arguments.site, &arguments.log)?;
    let log = log.of_pool(&site)?;
    let found = OpeningSheet::of(&site, &plan, &log, &arguments.since)?;
    print(
        &found.to_string(),
        &found,
        arguments.json.as_deref(),
        [&arguments.site, &arguments.log],
    )?;
    Ok(if found.is_owed() { BROKEN } else { HELD })
}

/// Writes the file, if one is wanted, and prints.
fn print(
    text: &str,
    found: &impl Serialize,
    json: Option<&Path>,
    read: [&PathBuf; 2],
) -> Result<(), String> {
    let mut text = text.to_owned();
    let read = read.map(PathBuf::as_path);
    for path in output::write_all(&read, &[(json, &output::json(found)?)])? {
        text.push_str(&format!("Wrote {}\n", path.display()));
    }
    output::print(&text)
}
