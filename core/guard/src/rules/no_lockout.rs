//! `no_lockout`: nothing waits for a person
//!
//! Hazard: H-01, H-10, H-13, H-14, H-15
//! Statement: no lockout stands; acknowledging an alarm does not cure it
//! Source: WorkSafe Victoria safety alert 2021 (manual restart)
//! Clears: lockout; the cause gone and a person
//! Parameters: restart_after_power_loss

use crate::answer::{Answer, Clear};
use crate::lockout::{Lockout, LockoutSet};

/// Holds while any lockout stands. `probe_waived` (manual, fallback) waives the probe's with the
/// rule that entered it: otherwise nobody could feed by hand while a probe is replaced.
pub(super) const fn judge(standing: LockoutSet, probe_waived: bool) -> Answer {
    let binding = if probe_waived {
        standing.without(Lockout::Probe)
    } else {
        standing
    };
    Answer::hold_unless(binding.is_empty(), Clear::Person)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn any_lockout_holds() {
        assert_eq!(judge(LockoutSet::NONE, false), Answer::ALLOW);
        for lockout in Lockout::ALL {
            let standing = LockoutSet::NONE.with(lockout);
            assert_eq!(judge(standing, false), Answer::hold(Clear::Person));
            assert_eq!(judge(standing, true).refuses, lockout != Lockout::Probe);
        }
    }
}
