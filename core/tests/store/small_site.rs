//! Limits for the small record: one feeder, one body.

use dosewarden::guard::{FeederLimits, Limits, LimitsSpec, units::Fitted};

use crate::life::SPEC;

pub(crate) fn limits() -> Limits<1, 1> {
    let FeederLimits::Enabled(acid) = SPEC.feeders[0] else {
        panic!("the first feeder is in use");
    };
    Limits::try_new(LimitsSpec {
        feeders: [FeederLimits::Enabled(acid)],
        orp_probe: Fitted::NotFitted,
        tick_gap_max: SPEC.tick_gap_max,
        power_on_delay: SPEC.power_on_delay,
        power_on_delay_new_probe: SPEC.power_on_delay_new_probe,
        restart_after_power_loss: SPEC.restart_after_power_loss,
        flow_switch: SPEC.flow_switch,
        flow_meter: SPEC.flow_meter,
        pump_contact: SPEC.pump_contact,
        witness_age_max: SPEC.witness_age_max,
        flow_prove: SPEC.flow_prove,
        stuck_flow_max: SPEC.stuck_flow_max,
        ph_probe: SPEC.ph_probe,
        probe_age_max: SPEC.probe_age_max,
        probe_settle: SPEC.probe_settle,
        probe_failure_max: SPEC.probe_failure_max,
        body_valves: SPEC.body_valves,
        purge: SPEC.purge,
        resume_within: SPEC.resume_within,
        save_max: SPEC.save_max,
        manual_max: SPEC.manual_max,
        hours: SPEC.hours,
        response: SPEC.response,
        fallback: Fitted::NotFitted,
        off_credit_max: SPEC.off_credit_max,
        off_credit_ratio: SPEC.off_credit_ratio,
    })
    .unwrap()
}
