//! `dosewarden plan`.

use std::io::Write;
use std::path::{Path, PathBuf};

use clap::Args;

use super::output::{self, Output};
use super::{BAD_INPUT, BROKEN, HELD};
use crate::plan::{Plan, Site};

/// What `plan` is told.
#[derive(Debug, Args)]
pub(super) struct PlanArguments {
    /// What was measured at the site. Copy examples/sites/home-pool.toml.
    site: PathBuf,
    /// Writes figures, findings and steps as JSON.
    #[arg(long, value_name = "FILE.json")]
    json: Option<PathBuf>,
    /// Writes the scenario that the sheet ends with, for `dosewarden run`.
    #[arg(long, value_name = "FILE.toml")]
    scenario: Option<PathBuf>,
    /// Writes the limits as Rust constants.
    #[arg(long, value_name = "FILE.rs")]
    rust: Option<PathBuf>,
}

/// Plans, prints and writes; gives the exit status.
pub(super) fn plan(arguments: &PlanArguments) -> u8 {
    match try_plan(arguments) {
        Ok(code) => code,
        Err(why) => {
            eprintln!("error: {why}");
            BAD_INPUT
        }
    }
}

fn try_plan(arguments: &PlanArguments) -> Result<u8, String> {
    let site = Site::load(&arguments.site).map_err(|error| error.to_string())?;
    let plan = Plan::of(&site).map_err(|error| format!("{}: {error}", arguments.site.display()))?;
    let json = serde_json::to_string_pretty(&plan).map_err(|error| error.to_string())?;
    let files = [
        (&arguments.json, json + "\n"),
        (&arguments.scenario, plan.scenario.clone()),
        (&arguments.rust, plan.rust.clone()),
    ];
    let mut taken: Vec<&Path> = vec![&arguments.site];
    let mut begun = Vec::new();
    for (path, text) in &files {
        let Some(path) = path else { continue };
        if taken.iter().any(|other| output::same(other, path)) {
            let path = path.display();
            return Err(format!("{path}: would be written over another file"));
        }
        taken.push(path);
        let mut out = output::begin(path)?;
        out.write_all(text.as_bytes())
            .map_err(|error| error.to_string())?;
        begun.push(out);
    }
    let wrote: Vec<PathBuf> = begun
        .into_iter()
        .map(Output::keep)
        .collect::<Result<_, _>>()?;
    let mut text = plan.to_string();
    for path in wrote {
        text.push_str(&format!("Wrote {}\n", path.display()));
    }
    if plan.has_errors() {
        text.push_str("There are error findings: do not feed before they are mended.\n");
    }
    output::print(&text)?;
    Ok(if plan.has_errors() { BROKEN } else { HELD })
}
