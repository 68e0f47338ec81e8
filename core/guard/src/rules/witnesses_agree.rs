//! `witnesses_agree`: the flow witnesses and the pump contact do not contradict each other
//!
//! Hazard: H-01, H-15
//! Statement: flow is not reported for longer than `stuck_flow_max` while the pump contact says off: a stuck or bridged switch
//! Source: Michigan, Suggested Practices for Fluoride Design (1991 overfeed: a card reported the pump as running)
//! Clears: lockout; they agree again, and a person
//! Parameters: stuck_flow_max, pump_contact, flow_switch, flow_meter

use crate::answer::Answer;
use crate::lockout::Lockout;
use crate::units::Millis;

/// Locks out once flow without the pump has lasted longer than `stuck_flow_max`.
pub(super) fn judge(disagree: Millis, stuck_flow_max: Millis) -> Answer {
    if disagree > stuck_flow_max {
        Answer::lock(Lockout::Witnesses)
    } else {
        Answer::ALLOW
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_switch_that_sees_flow_without_the_pump_locks_out() {
        assert_eq!(judge(Millis(30), Millis(30)), Answer::ALLOW);
        assert_eq!(
            judge(Millis(31), Millis(30)),
            Answer::lock(Lockout::Witnesses)
        );
    }
}
