//! `dosewarden explain`.

use std::io::Write;
use std::path::PathBuf;

use clap::Args;

use super::output;
use super::{BAD_INPUT, HELD};
use crate::explain::Explained;
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
}

/// Explains, prints and writes; gives the exit status.
pub(super) fn explain(arguments: &ExplainArguments) -> u8 {
    match try_explain(arguments) {
        Ok(()) => HELD,
        Err(why) => {
            eprintln!("error: {why}");
            BAD_INPUT
        }
    }
}

fn try_explain(arguments: &ExplainArguments) -> Result<(), String> {
    let ExplainArguments {
        log,
        from,
        to,
        site,
        json,
    } = arguments;
    let (site_path, log_path) = (site.display(), log.display());
    let site = Site::load(site).map_err(|error| error.to_string())?;
    let plan = Plan::of(&site).map_err(|error| format!("{site_path}: {error}"))?;
    let log = Log::load(log, &site, &plan).map_err(|error| error.to_string())?;
    let found = Explained::of(&site, &plan, &log, from, to)
        .map_err(|error| format!("{log_path}: {error}"))?;
    let mut text = found.to_string();
    if let Some(path) = json {
        for read in [&arguments.site, &arguments.log] {
            if output::same(read, path) {
                return Err(format!(
                    "{}: would be written over another file",
                    path.display()
                ));
            }
        }
        let mut out = output::begin(path)?;
        let json = serde_json::to_string_pretty(&found).map_err(|error| error.to_string())?;
        writeln!(out, "{json}").map_err(|error| error.to_string())?;
        text.push_str(&format!("Wrote {}\n", out.keep()?.display()));
    }
    output::print(&text)
}
