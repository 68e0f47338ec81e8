//! The stores against flash that tears, rots and wears: every cut of every write and erase, rot at
//! every byte, worn pages, any bytes at all.

#![allow(
    clippy::arithmetic_side_effects,
    clippy::as_conversions,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::panic,
    clippy::unwrap_used,
    reason = "a test that panics has failed, as it should"
)]

mod board;
mod cuts;
mod flash;
mod image_site;
mod kept;
mod kept_loop;
mod kept_record;
mod life;
mod refused;
mod rig;
mod rot;
mod script;
mod sealed;
mod settings;
mod slots;
mod small_site;
mod stall;
mod wear;
