//! Campaigns: faults tried on a planned site, one by one, in pairs and at random, each judged by the oracles and by
//! bounds. Some of these were written down before the first campaign; most are there because a campaign was outside
//! without them, and say so.
//!
//! Invariant: a trial depends on the site, the seed and its number only. So shards and jobs change nothing, and
//! what shards found can be put together again.

mod allowance;
#[cfg(test)]
mod allowance_tests;
mod annunciation;
mod bounds;
#[cfg(test)]
mod bounds_tests;
mod case;
#[cfg(test)]
mod case_tests;
mod control;
mod draw;
mod live;
mod mode;
mod moved;
mod page;
mod plan;
mod replay;
mod report;
mod row;
mod shrink;
mod subject;
mod table;
mod trial;
#[cfg(test)]
mod trial_tests;

pub use annunciation::{Annunciations, Gravest, Told, Untold};
pub use bounds::{Allowance, Bounds};
pub use case::{Case, Passed, Pressed};
pub use live::{Shard, live, run};
pub use mode::Mode;
pub use moved::{Extreme, Moved};
pub use page::page;
pub use plan::{Group, Planned, Trials};
pub use replay::{Replay, ReplayError, replays};
pub use report::Report;
pub use shrink::{Failure, shrunk};
pub use subject::{Pool, Subject, label};
#[cfg(feature = "cli")]
pub(crate) use table::simulated;
pub use table::{bounds_told, markdown, summary};
pub use trial::{Outcome, SIX_HOURS_MS};

use core::fmt;

use crate::plan::PlanError;
use crate::plant::PlantError;
use crate::scenario::InputError;

/// Why a campaign cannot be.
#[derive(Debug)]
pub enum CampaignError {
    /// A mistake in a file.
    Input(InputError),
    /// The site cannot be planned.
    Plan(PlanError),
    /// Its sheet has an error finding.
    Unplanned,
    /// The plant cannot be built.
    Plant(PlantError),
    /// Nothing is fed in two days of the healthy pool.
    NoDose,
    /// No threads can be had.
    Threads,
    /// Reports that do not belong together, or to a site.
    Merge(String),
}

impl fmt::Display for CampaignError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Input(error) => write!(f, "{error}"),
            Self::Plan(error) => write!(f, "{error}"),
            Self::Unplanned => {
                write!(
                    f,
                    "the site's sheet has an error finding; see `dosewarden plan`"
                )
            }
            Self::Plant(error) => write!(f, "{error}"),
            Self::NoDose => write!(f, "nothing is fed on days 6 and 7 of the healthy pool"),
            Self::Threads => write!(f, "no threads can be had"),
            Self::Merge(what) => write!(f, "{what}"),
        }
    }
}

impl std::error::Error for CampaignError {}

impl From<InputError> for CampaignError {
    fn from(error: InputError) -> Self {
        Self::Input(error)
    }
}

impl From<PlanError> for CampaignError {
    fn from(error: PlanError) -> Self {
        Self::Plan(error)
    }
}

impl From<PlantError> for CampaignError {
    fn from(error: PlantError) -> Self {
        Self::Plant(error)
    }
}
