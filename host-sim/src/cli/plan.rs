//! `dosewarden plan`.

use std::path::PathBuf;

use clap::Args;

use super::failed::Failed;
use super::output;
use super::{BROKEN, HELD};
use crate::plan::{Plan, Site, page};

/// What `plan` is told.
#[derive(Debug, Args)]
pub(super) struct PlanArguments {
    /// What was measured at the site. Copy examples/sites/home-pool.toml.
    site: PathBuf,
    /// Writes figures, findings and steps as JSON.
    #[arg(long, value_name = "FILE.json")]
    json: Option<PathBuf>,
    /// Writes the sheet as one HTML page.
    #[arg(long, value_name = "FILE.html")]
    report: Option<PathBuf>,
    /// Writes the scenario for `dosewarden run` here, and not behind the sheet.
    #[arg(long, value_name = "FILE.toml")]
    scenario: Option<PathBuf>,
    /// Writes the limits as Rust constants here, and not behind the sheet.
    #[arg(long, value_name = "FILE.rs")]
    rust: Option<PathBuf>,
}

/// Plans, prints and writes; gives the exit status.
pub(super) fn plan(arguments: &PlanArguments) -> u8 {
    match try_plan(arguments) {
        Ok(code) => code,
        Err(failed) => failed.tell(),
    }
}

fn try_plan(arguments: &PlanArguments) -> Result<u8, Failed> {
    let site = Site::load(&arguments.site)?;
    let plan = Plan::of(&site).map_err(|error| format!("{}: {error}", arguments.site.display()))?;
    let command = output::command(&["plan", &arguments.site.display().to_string()]);
    let page = page(&site, &plan, &command).map_err(|error| format!("{error:#}"))?;
    let wrote = output::write_all(
        &[&arguments.site],
        &[
            (arguments.json.as_deref(), &output::json(&plan)?),
            (arguments.report.as_deref(), &page),
            (arguments.scenario.as_deref(), &plan.scenario),
            (arguments.rust.as_deref(), &plan.rust),
        ],
    )?;
    let shown = plan.shown(arguments.scenario.is_none(), arguments.rust.is_none());
    let mut text = shown.to_string();
    for path in wrote {
        text.push_str(&format!("Wrote {}\n", path.display()));
    }
    if plan.has_errors() {
        text.push_str("There are error findings: do not feed before they are mended.\n");
    }
    output::print(&text)?;
    Ok(if plan.has_errors() { BROKEN } else { HELD })
}
