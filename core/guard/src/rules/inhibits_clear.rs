//! `inhibits_clear`: nobody wants the feed stopped
//!
//! Hazard: H-15, H-01, H-16
//! Statement: no inhibit stands: emergency stop, backwash, service, calibration, paused, laid up, too cold, observe only
//! Source: common practice, no source
//! Clears: hold; the inhibit ends. Emergency stop: lockout
//! Parameters: none

use crate::answer::{Answer, Clear};
use crate::facts::Inhibits;
use crate::lockout::Lockout;

/// Holds while any inhibit stands; the emergency stop locks out.
pub(super) const fn judge(inhibits: Inhibits) -> Answer {
    if inhibits.any_of(Inhibits::EMERGENCY_STOP) {
        return Answer::lock(Lockout::EmergencyStop);
    }
    Answer::hold_unless(inhibits.is_empty(), Clear::InhibitEnds)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_inhibit_holds_and_the_emergency_stop_locks_out() {
        assert_eq!(judge(Inhibits::NONE), Answer::ALLOW);
        for bit in 1..8 {
            let one = Inhibits::from_bits(1 << bit);
            assert_eq!(judge(one), Answer::hold(Clear::InhibitEnds));
        }
        assert_eq!(
            judge(Inhibits::EMERGENCY_STOP),
            Answer::lock(Lockout::EmergencyStop)
        );
        assert_eq!(judge(Inhibits::ALL), Answer::lock(Lockout::EmergencyStop));
    }
}
