//! The program as a person runs it: what each command prints and writes, its exit status, and that a wrong input leaves
//! nothing behind.
//!
//! One binary for all of them: most of the time of a test of its own goes into linking it.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    reason = "a test that panics has failed, as it should"
)]

mod audit;
mod board;
mod body_words;
mod campaign;
mod common;
mod day;
mod explore;
#[cfg(unix)]
mod files;
mod pages;
mod plan;
mod run;
mod schemas;
mod season;
mod visit;
mod water;
mod why;
