//! Simulator.

pub mod oracle;
pub mod plant;
