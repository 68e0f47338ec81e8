//! The real controller and the simulated pool behind a page: `examples/browser/build` compiles them to wasm and puts
//! them with the page into one HTML file.
//!
//! Invariant: nothing here decides. What the page shows is what the crates `dosewarden` and `dosewarden-sim` say, and a
//! page and `dosewarden run` that are given the same scenario, seed and unit write the same trace, to the bit.
//!
//! ```
//! use dosewarden_browser::Play;
//!
//! let mut play = Play::quiet(7);
//! play.ticks(3_600);
//! play.act("fault = \"pump_trips\"")?;
//! play.ticks(120);
//! let seen = play.look();
//! assert!(!seen.feeders[0].obstacles.is_empty());
//! assert!(play.saved().contains("fault = \"pump_trips\"")); // `dosewarden run` replays it
//! # Ok::<(), String>(())
//! ```
//!
//! | module | what |
//! |---|---|
//! | `play` | a pool with its unit, what was done to it, and its trace |
//! | `seen` | what the page shows |
//! | `since` | since when something stands |
//! | `tried` | the unit on trial |
//! | `way` | a way through the guard's states, call by call |
//! | `door` | the functions that the page calls |

mod digest;
mod door;
mod play;
mod request;
mod seen;
mod since;
mod tried;
mod way;

pub use play::{Play, QUIET_NAME};
pub use request::answer;
pub use seen::{CapUsed, FeederSeen, InTheWay, Seen, StandingAlarm, Water};
