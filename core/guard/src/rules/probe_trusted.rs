//! `probe_trusted`: the probe that governs the feeder can be believed
//!
//! Hazard: H-12, H-03, H-04
//! Statement: the governing probe is fresh and its health is Normal (NE 107); not fitted only with a timed share
//! Source: NAMUR NE 107, as in OPC 10000-100 table 22; Ohio OAC 3701-31-07(A)(3)
//! Clears: hold, when it is trusted again; lockout if Failure lasts over `probe_failure_max`
//! Parameters: ph_probe, orp_probe, feeder.governor, probe_age_max, probe_failure_max

use crate::answer::{Answer, Clear};
use crate::lockout::Lockout;
use crate::units::Millis;

/// Holds while the governing probe is not trusted; locks out once it has failed for longer than
/// `failure_max`. Waived in manual and fallback, and where no probe governs.
pub(super) fn judge(waived: bool, trusted: bool, failed: Millis, failure_max: Millis) -> Answer {
    if waived {
        return Answer::ALLOW;
    }
    if failed > failure_max {
        return Answer::lock(Lockout::Probe);
    }
    Answer::hold_unless(trusted, Clear::ProbeTrusted)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_untrusted_probe_holds_and_one_that_stays_failed_locks_out() {
        let max = Millis(100);
        assert_eq!(judge(false, true, Millis(0), max), Answer::ALLOW);
        assert_eq!(
            judge(false, false, Millis(100), max),
            Answer::hold(Clear::ProbeTrusted)
        );
        assert_eq!(
            judge(false, false, Millis(101), max),
            Answer::lock(Lockout::Probe)
        );
        assert_eq!(judge(true, false, Millis(101), max), Answer::ALLOW);
    }
}
