//! The day log of a pool that the public uses: which test is due, late or missing, and which published
//! condition for closing it was met, from when to when.
//!
//! # Invariants
//! - Your local code decides. The [`LIMITS`] are those of six published codes as far as they were read;
//!   what they have no figure for (clarity, combined chlorine, the water of a spa) a person looks at.
//! - A pool is never called open here. A figure that nobody knows is [`Judged::CannotTell`], and so is
//!   one of a test whose next is overdue.
//! - pH by the probe and by the kit both count: either of them beyond a limit is enough.
//! - Nothing here feeds, or keeps anything from being fed.
//!
//! ```
//! use dosewarden::day_log::{Code, Judged, LIMITS, Place, Seen, TestsDue};
//! use dosewarden::guard::units::MilliPh;
//! use dosewarden::probe::MicrogramsPerL;
//!
//! let place = Place { is_spa: false, chlorine_min: MicrogramsPerL(1000) };
//! let mut seen = Seen { ph_probe: Some(MilliPh(7900)), ..Seen::NOTHING };
//! let met = |seen: &Seen| {
//!     let met = LIMITS.iter().filter(|limit| limit.judge(&place, seen) == Judged::Met);
//!     met.map(|limit| limit.code).collect::<Vec<_>>()
//! };
//! assert_eq!(met(&seen), [Code::Delaware, Code::Quebec]); // over 7.8
//! seen.ph_kit = Some(MilliPh(8050));
//! assert_eq!(met(&seen), [Code::Mahc, Code::Delaware, Code::Quebec]); // and over 8.0
//!
//! // Opened at 7:00 with an automatic controller: tested then, again within 12 h.
//! let mut due = TestsDue::opening(7 * 60, None);
//! due.step(7 * 60, true, true);
//! assert_eq!(due.due_min(), 19 * 60);
//! due.step(13 * 60, false, false); // its recording fails: 4 h after the last test are long past
//! assert_eq!(due.due_min(), 13 * 60);
//! ```

mod code;
mod due;
mod judge;
mod limit;
mod stretch;
#[cfg(test)]
mod tests;

pub use code::{Asks, Code};
pub use due::{EVERY_MIN, EVERY_WITH_CONTROLLER_MIN, TestEvent, TestsDue};
pub use judge::{Judged, Place, Seen};
pub use limit::{Bound, Figure, LIMITS, Limit, Past, When};
pub use stretch::{Stretch, Watch};
