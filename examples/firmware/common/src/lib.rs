//! What the example boards share. Each board adds its registers: a counter, five pins, a dead man
//! and flash.
//!
//! ```text
//!  counter ──now_ms──▶ Unit::tick ──permits──▶ drive, master lines (pins of the board)
//!  pins ──Contacts───▶     │  ▲
//!  probes ───────────▶     │  └─ticket── Records ◀─sealed record─┐
//!                          ├─────────────────────────────────────┘  (NOR flash, two ranges)
//!                          └─what persons did and found──▶ Keeper  (two ranges of its own)
//! ```
//!
//! Invariants: no unsafe code, no allocation, nothing that panics; a line is on only by a permit;
//! what is printed is the same on every board.
#![no_std]
#![forbid(unsafe_code)]

pub mod acts;
pub mod board;
pub mod counter;
pub mod cut_nor;
pub mod cuts;
pub mod diary;
pub mod fault;
#[cfg(feature = "front")]
pub mod front;
pub mod keeper;
pub mod link;
pub mod nor;
pub mod records;
#[cfg(feature = "front")]
pub mod simulated_adc;
pub mod site;
pub mod unit;
pub mod world;
