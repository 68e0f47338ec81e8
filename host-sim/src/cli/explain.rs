//! `dosewarden explain`.

use std::path::PathBuf;

use clap::Args;

use super::HELD;
use super::failed::Failed;
use super::output;
use crate::explain::{ExplainError, Explained, page};
use crate::plan::{Plan, Site};
use crate::visit::Log;

/// What `explain` is told.
#[derive(Debug, Args)]
pub(super) struct ExplainArguments {
    /// The log of visits, as for `visit`.
    log: PathBuf,
    /// Time of the visit with the first test, as 2031-05-02 10:10; the nearest within 12 h is taken.
    #[arg(long, value_name = "TIME")]
    from: String,
    /// Time of the visit with the second test.
    #[arg(long, value_name = "TIME")]
    to: String,
    /// The site, as for `plan`.
    #[arg(long, value_name = "SITE.toml")]
    site: PathBuf,
    /// Writes everything as JSON.
    #[arg(long, value_name = "FILE.json")]
    json: Option<PathBuf>,
    /// Writes everything as one HTML page.
    #[arg(long, value_name = "FILE.html")]
    report: Option<PathBuf>,
}

/// Explains, prints and writes; gives the exit status.
pub(super) fn explain(arguments: &ExplainArguments) -> u8 {
    match try_explain(arguments) {
        Ok(()) => HELD,
        Err(failed) => failed.tell(),
    }
}

fn try_explain(arguments: &ExplainArguments) -> Result<(), Failed> {
    let ExplainArguments {
        log,
        from,
        to,
        site,
        ..
    } = arguments;
    let (site_path, log_path) = (site.display().to_string(), log.display().to_string());
    let site = Site::load(site)?;
    let plan = Plan::of(&site).map_err(|error| format!("{site_path}: {error}"))?;
    let log = Log::load(log, &site, &plan)?.of_pool(&site)?;
    let found = Explained::of(&site, &plan, &log, from, to).map_err(|error| match error {
        ExplainError::NoTime { .. } | ExplainError::Order => error.to_string(),
        of_log => format!("{log_path}: {of_log}"),
    })?;
    let mut text = found.to_string();
    let command = output::command(&[
        "explain", &log_path, "--from", from, "--to", to, "--site", &site_path,
    ]);
    let page = page(&found, &command).map_err(|error| format!("{error:#}"))?;
    let wrote = output::write_all(
        &[&arguments.site, &arguments.log],
        &[
            (arguments.json.as_deref(), &output::json(&found)?),
            (arguments.report.as_deref(), &page),
        ],
    )?;
    for path in wrote {
        text.push_str(&format!("Wrote {}\n", path.display()));
    }
    Ok(output::print(&text)?)
}
