//! Probes: from a converter's counts to a value with its age and health.

pub mod front;
