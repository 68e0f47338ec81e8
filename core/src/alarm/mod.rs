//! Alarms: what calls for a person, each with its delays and its life cycle.
//!
//! An alarm stops nothing; the guard does. A *safety trip* (a lockout, a drive that runs against
//! its command, an output that cannot be switched) is never shelved, suppressed or taken out of
//! service.

mod delays;
mod id;
mod life;
mod marks;
mod set;
mod summary;
mod watch;

pub use id::{AlarmId, FeederAlarm, SiteAlarm};
pub use life::{AlarmState, Shelving};
pub use set::Alarms;
pub use summary::Summary;

pub(crate) use set::{Hand, NotMoved};
pub(crate) use watch::{Watched, WatchedFeeder, WatchedProbe};
