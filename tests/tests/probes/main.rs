//! Probes over a year of healthy water, and with each of the plant's faults.

mod calibrations;
mod delays;
mod healthy;
#[path = "../../../core/tests/probes/rig.rs"]
mod rig;
mod water;

/// What a check of the lead finds of a probe of the plant.
fn wires(sense: &dosewarden_sim::plant::ProbeSense) -> rig::Wires {
    rig::Wires {
        is_open: sense.open,
        is_dry: sense.is_dry,
    }
}
