//! Simulator.

pub mod plant;
