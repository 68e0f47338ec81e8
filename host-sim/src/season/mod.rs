//! Closing a pool for winter and opening it again: what to balance, with amounts, and what has to be
//! entered before its controller feeds.
//!
//! Invariant: advice to the person who stands there. Amounts come from the tests of the log and from
//! nothing else; what the log does not have is asked for, not assumed. What the controller asks for
//! stands in [`dosewarden::season`]; here it is a list for paper.

mod close;
mod open;

pub use close::{Closing, DrumAhead, Winter};
pub use open::{Item, OpeningSheet, State};

use core::fmt;

use crate::plan::{Plan, Site, Step};
use crate::scenario::InputError;
use crate::visit::{CAUTIONS, Log, Today};

/// A site, worked out, and its log.
///
/// # Errors
/// The first mistake in one of the files.
pub fn load(
    site_path: &std::path::Path,
    log_path: &std::path::Path,
) -> Result<(Site, Plan, Log), InputError> {
    let site = Site::load(site_path)?;
    let plan = Plan::of(&site).map_err(|error| {
        InputError::of_file(&site_path.display().to_string(), error.to_string())
    })?;
    let log = Log::load(log_path, &site, &plan)?;
    Ok((site, plan, log))
}

/// Rows of another body of water, where there are some.
fn left_out(f: &mut fmt::Formatter<'_>, rows: Option<&str>) -> fmt::Result {
    match rows {
        None => Ok(()),
        Some(rows) => writeln!(
            f,
            "  Not used: {rows}. This is the pool alone; that water has to be balanced and tested by itself.\n"
        ),
    }
}

fn by_hand(f: &mut fmt::Formatter<'_>, today: &Today) -> fmt::Result {
    if today.steps.is_empty() {
        writeln!(f, "  nothing, by the tests in the log")?;
    }
    for (number, step) in (1..).zip(&today.steps) {
        let Step {
            what,
            amount,
            why,
            wait_h,
            care,
            ..
        } = step;
        writeln!(f, "  {number}. {what}: {amount}")?;
        writeln!(f, "     {why}; then wait {wait_h:.0} h with the pump on")?;
        writeln!(f, "     {care}")?;
    }
    for why in &today.withheld {
        writeln!(f, "  not now: {why}")?;
    }
    if !today.withheld.is_empty() {
        writeln!(f, "  what is in doubt, and what to ask: dosewarden visit")?;
    }
    writeln!(f)
}

fn cautions(f: &mut fmt::Formatter<'_>) -> fmt::Result {
    for caution in CAUTIONS {
        writeln!(f, "{caution}")?;
    }
    Ok(())
}
