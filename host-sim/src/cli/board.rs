//! `dosewarden board`.

use std::io::Write;
use std::path::PathBuf;

use clap::Args;

use super::output;
use super::{BAD_INPUT, BROKEN, HELD};
use crate::board::BoardSheet;

/// What `board` is told.
#[derive(Debug, Args)]
pub(super) struct BoardArguments {
    /// The image that a board wrote after it was given away (`store::BoardImage`), or `run --board` at the end of a run.
    image: PathBuf,
    /// Compares its settings with those that `plan` works out for this site.
    #[arg(long, value_name = "SITE.toml")]
    site: Option<PathBuf>,
    /// Writes everything as JSON.
    #[arg(long, value_name = "FILE.json")]
    json: Option<PathBuf>,
}

/// Reads and prints; gives the exit status.
pub(super) fn board(arguments: &BoardArguments) -> u8 {
    match try_board(arguments) {
        Ok(code) => code,
        Err(why) => {
            eprintln!("error: {why}");
            BAD_INPUT
        }
    }
}

fn try_board(arguments: &BoardArguments) -> Result<u8, String> {
    let BoardArguments { image, site, json } = arguments;
    let mut found = BoardSheet::load(image).map_err(|error| error.to_string())?;
    if let Some(site) = site {
        found.compare(site).map_err(|error| error.to_string())?;
    }
    let mut text = found.to_string();
    if let Some(path) = json {
        let mut read = [Some(image), site.as_ref()].into_iter().flatten();
        if read.any(|other| output::same(other, path)) {
            let path = path.display();
            return Err(format!("{path}: would be written over another file"));
        }
        let mut out = output::begin(path)?;
        let json = serde_json::to_string_pretty(&found).map_err(|error| error.to_string())?;
        writeln!(out, "{json}").map_err(|error| error.to_string())?;
        text.push_str(&format!("Wrote {}\n", out.keep()?.display()));
    }
    output::print(&text)?;
    Ok(if found.has_something_wrong() {
        BROKEN
    } else {
        HELD
    })
}
