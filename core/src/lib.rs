//! The controller around [`dosewarden_guard`]: what asks for feed, takes turns, alarms, keeps stock
//! and says why.
//!
//! ```text
//!  probes, switches ─Facts──┐                       ┌─Permit<F>────▶ DriveLine<F>
//!  persons ──────────Act────┤    Controller::tick   ├─MasterPermit─▶ MasterLine
//!  pump's timetable ────────┼──▶ regulators ask     ├─phases, alarms, events, why()
//!  TickClock ───Elapsed─────┤    turns are taken    └─save: seal_record(), two places in flash
//!  record read back ─Ticket─┘    the guard disposes
//! ```
//!
//! # Invariants
//! - Only the [guard] makes permits. All that stands in this crate can do to the water is not to
//!   ask: a wrong regulator, turn or alarm never feeds past a limit.
//! - No allocation, no unsafe code, no float in a decision; time and inputs are arguments. Same
//!   inputs, same outputs, on every machine.
//! - Every act of a person carries an [`Authority`](guard::Authority), and none feeds past a
//!   cap. Caps grow by a stage, or by [`Controller::change_limits`].
//!
//! # A firmware's loop
//! `board` stands for what the maker of a board writes: a counter, probes, a record store. Pins are
//! those of `embedded-hal` (feature `hal`).
#![cfg_attr(feature = "hal", doc = "```")]
#![cfg_attr(not(feature = "hal"), doc = "```text")]
//! use dosewarden::guard::{Limits, Record, TickClock, Ticket};
//! use dosewarden::hal::{DriveLine, FlowSwitch, MasterLine, Wiring};
//! use dosewarden::{Inputs, PoolController, Settings};
//! use board::{ACID_AND_CHLORINE, ALARMS, Board, CARE, Error, FLOW_DEBOUNCE, Pins, regulators};
//!
//! fn run(mut board: Board, pins: Pins) -> Result<(), Error> {
//!     let limits = Limits::try_new(ACID_AND_CHLORINE)?; // every broken relation is an error here
//!     let settings = Settings::try_new(ALARMS)?;
//!     let [first, second] = board.store.copies().map(|copy| Record::decode(copy).ok());
//!     let (mut pool, _) =
//!         PoolController::restore(limits, settings, regulators()?, first.as_ref(), second.as_ref());
//!     pool.set_care(CARE); // a new unit only observes; so does each start to which no KeptRecord is put back
//!     let mut acid = DriveLine::<0, _>::new(pins.acid, Wiring::ActiveHigh);
//!     let mut chlorine = DriveLine::<1, _>::new(pins.chlorine, Wiring::ActiveHigh);
//!     let mut master = MasterLine::new(pins.master, Wiring::ActiveHigh);
//!     let mut flow = FlowSwitch::new(pins.flow, Wiring::ActiveLow, FLOW_DEBOUNCE);
//!     let mut clock = TickClock::new();
//!     let mut inputs = Inputs::UNKNOWN; // what nobody sets is not known, and unknown is no
//!     while let Some(now_ms) = board.next_tick() {
//!         flow.sample(now_ms);
//!         inputs.facts = board.probes.facts();
//!         inputs.facts.flow_switch = flow.read(now_ms);
//!         inputs.facts.saved = board.store.read_back().and_then(Ticket::of);
//!         let mut outputs = pool.tick(clock.step(now_ms), &inputs);
//!         acid.apply(outputs.permit::<0>(), now_ms);
//!         chlorine.apply(outputs.permit::<1>(), now_ms);
//!         master.apply(outputs.master(), now_ms);
//!         if outputs.save {
//!             pool.seal_record(board.store.buffer())?; // written to both places by the store
//!         }
//!     }
//!     Ok(())
//! }
#![cfg_attr(feature = "hal", doc = include_str!("board.md"))]
//! ```
//! [`Controller::why`] says for each feeder what stands in the way, what clears it, and where to
//! look first; [`Obstacle`] and [`ClearWords`] have words that fit a display of 4 x 20 letters.
//!
//! New here? The [tour] goes from the first build to the pool.
//!
//! # What it is not
//! Not a certified safety function. A hard-wired interlock in series with the feed pumps stays, and
//! so does a hardware dead man that drops the master line when the program hangs. Local codes and
//! licensed practice come first. Never mix acid with hypochlorite.
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
mod care;
pub mod commission;
mod controller;
pub mod day_log;
pub mod event;
mod follow;
#[cfg(feature = "hal")]
pub mod hal;
mod handover;
mod io;
#[cfg(test)]
mod live;
mod look;
pub mod machine;
mod odd_ticks;
mod persons;
pub mod probe;
pub mod proof;
pub mod regulate;
pub mod response;
mod restraint;
pub mod season;
#[cfg(feature = "serde")]
mod serial;
pub mod settings;
pub mod stages;
pub mod stock;
#[cfg(feature = "store")]
pub mod store;
pub mod tour;
mod turns;
mod under;
pub mod upkeep;
pub mod visit;
#[cfg(feature = "water")]
pub mod water;
pub mod water_tests;
mod why;
mod words;

pub use act::{Act, ActKind, ActResult, HAND_WAITS, Person};
pub use care::{COLDEST, Care, CareSettings, FROST_BELOW, TEMPERATURE_AGE_MAX};
pub use controller::{Controller, LimitsRefused, PoolController};
pub use handover::Handover;
pub use io::{Inputs, Outputs};
pub use look::{Look, look_at, look_at_lockout};
pub use machine::Phase;
pub use restraint::{HandDoses, PAUSE_MAX, Restraints};
pub use settings::{Settings, SettingsSpec};
pub use under::Under;
pub use why::{Obstacle, Why};
pub use words::{ClearWords, TimeWords, lockout_words, rule_words};
