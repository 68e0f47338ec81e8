//! Simulated pools, lived in for hours to months: what was fed, what was told, who was asked.
//!
//! One binary for all of them: most of the time of a test of its own goes into linking it.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    reason = "a test that panics has failed, as it should"
)]

mod board_change;
mod bounds;
mod common;
mod examples;
mod incidents;
mod persons;
mod plan_two;
mod public_day;
mod replay;
mod response;
mod rounds;
mod seasons;
mod shrink;
mod spa_ceiling;
mod stages;
mod two_bodies;
mod upkeep;
mod visit_plant;
mod visits;
mod winter;
mod wrong_units;
