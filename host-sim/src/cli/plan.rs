//! `dosewarden plan`.

use std::path::PathBuf;

use clap::Args;

use super::failed::Failed;
use super::output;
use super::{BROKEN, HELD};
use crate::campaign::{Moved, Subject};
use crate::plan::{Plan, Site, page};
use crate::scenario::text_of;

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
    /// Adds how far faults moved this site's water, from what `campaign --site SITE --json` wrote.
    #[arg(long, value_name = "FILE.json", num_args = 1..)]
    campaign: Vec<PathBuf>,
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
    let mut plan =
        Plan::of(&site).map_err(|error| format!("{}: {error}", arguments.site.display()))?;
    plan.tried = tried(arguments)?;
    let mut words = vec!["plan".to_owned(), arguments.site.display().to_string()];
    if !arguments.campaign.is_empty() {
        words.push("--campaign".to_owned());
    }
    words.extend(
        arguments
            .campaign
            .iter()
            .map(|file| file.display().to_string()),
    );
    let words: Vec<&str> = words.iter().map(String::as_str).collect();
    let command = output::command(&words);
    let page = page(&site, &plan, &command).map_err(|error| format!("{error:#}"))?;
    let mut inputs = vec![arguments.site.as_path()];
    inputs.extend(arguments.campaign.iter().map(PathBuf::as_path));
    let wrote = output::write_all(
        &inputs,
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

/// What campaigns of this site came to.
fn tried(arguments: &PlanArguments) -> Result<Vec<Moved>, Failed> {
    if arguments.campaign.is_empty() {
        return Ok(Vec::new());
    }
    let site = arguments.site.display().to_string();
    let subject = Subject::of_site(&site, &text_of(&arguments.site)?, None)
        .map_err(|error| format!("{site}: {error}"))?;
    let mut tried = Vec::new();
    for file in &arguments.campaign {
        let report = super::campaign::report_of(file)?;
        let moved = Moved::of(&report, &subject);
        tried.push(moved.map_err(|error| format!("{}: {error}", file.display()))?);
    }
    Ok(tried)
}
