//! Seeded days of a controller's life, and one figure of everything that came out of them.
//!
//! Invariant: a day is drawn from its number alone, with integers only, and every output of every
//! tick goes into the sum: permits, refusals and what clears each, phases, alarms, events, what
//! became of a person's act, why a feeder stands, and the bytes of each record. So two machines
//! that say the same figure have decided the same, bit for bit.
//!
//! ```
//! let tally = days::run(0, 1);
//! assert_eq!(tally.ticks, days::TICKS);
//! assert_eq!(tally.sum, days::run(0, 1).sum);
//! assert_ne!(tally.sum, days::run(1, 1).sum);
//! ```
#![no_std]
#![forbid(unsafe_code)]

#[cfg(test)]
extern crate std;

mod day;
pub mod draw;
mod person;
pub mod site;
pub mod sum;
mod world;

pub use day::{Day, TICKS, Tally, Watch, run};
