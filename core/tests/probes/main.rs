//! Probes against published values, their calibrations, checks and status.

#![allow(
    clippy::expect_used,
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::arithmetic_side_effects,
    clippy::as_conversions,
    reason = "a test that panics has failed, as it should"
)]

mod anchors;
mod calibrations;
mod orp_checks;
mod published;
mod rig;
mod status;
mod trims;
