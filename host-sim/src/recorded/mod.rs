//! Recorded logs of any controller, read by a map of their columns, and the bounds of a site to judge them by.
//!
//! Invariant: what a map does not name is not in the log, and an empty field is not known. Nothing is guessed: a field
//! that is no number, no yes or no or no time is an error at its line.
//!
//! ```
//! use dosewarden_sim::audit::{Verdict, audit};
//! use dosewarden_sim::recorded::{LogMap, bounds, read_log};
//! use dosewarden_sim::scenario::Scenario;
//!
//! let map = LogMap::parse(
//!     "map.toml",
//!     r#"
//!     time = { column = "s", form = "seconds" }
//!     flow = { switch = "flow" }
//!     [[feeder]]
//!     name = "acid"
//!     drive = "acid"
//!     "#,
//! )?;
//! let site = bounds(&Scenario::first_pool());
//! let csv = "s,flow,acid\n0,1,0\n10,0,0\n20,0,1\n30,0,1\n";
//! let log = read_log("log.csv", csv.as_bytes(), &map, &site)?;
//! let found = audit(&log, &site);
//! assert_eq!(found.finding("flow_present").map(|f| f.breaks[0].line), Some(4));
//! // The log has nothing of chlorine, so most cannot be told.
//! assert_eq!(found.finding("hour_cap").map(|f| f.verdict), Some(Verdict::CannotTell));
//! # Ok::<(), dosewarden_sim::scenario::InputError>(())
//! ```

mod log;
mod map;
mod site;
#[cfg(test)]
mod tests;
mod time;

pub use log::read_log;
pub use map::{FeederMap, LogMap, Measured, ProbeMap};
pub use site::{bounds, load_site};
pub use time::Form;
