//! The controller around [`dosewarden_guard`]: regulators that ask, turn-taking between products,
//! alarms, stock and events. The guard alone decides what may be fed.
#![no_std]
#![forbid(unsafe_code)]
#![cfg_attr(
    test,
    allow(
        clippy::unwrap_used,
        clippy::expect_used,
        clippy::panic,
        clippy::indexing_slicing,
        clippy::arithmetic_side_effects,
        clippy::as_conversions
    )
)]

#[cfg(test)]
extern crate std;
// So that what the docs and the tests call `dosewarden` is this crate.
#[cfg(test)]
extern crate self as dosewarden;

pub use dosewarden_guard as guard;

mod act;
pub mod alarm;
mod around;
mod ask;
#[cfg(test)]
mod bench;
mod controller;
pub mod event;
#[cfg(feature = "hal")]
pub mod hal;
mod io;
#[cfg(test)]
mod live;
mod look;
pub mod machine;
mod persons;
pub mod regulate;
#[cfg(feature = "serde")]
mod serial;
pub mod settings;
pub mod stock;
mod turns;
mod why;

pub use act::{Act, ActKind, ActResult, HAND_WAITS, Person};
pub use controller::{Controller, PoolController};
pub use io::{Inputs, Outputs};
pub use look::{Look, look_at, look_at_lockout};
pub use machine::Phase;
pub use settings::{Settings, SettingsSpec};
pub use why::{Obstacle, Why};
