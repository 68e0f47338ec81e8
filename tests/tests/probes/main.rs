//! Probes against published values, over a year of healthy water, and with each of the plant's
//! faults.

mod anchors;
mod calibrations;
mod delays;
mod healthy;
mod orp_checks;
mod published;
mod rig;
mod status;
mod trims;
mod water;
