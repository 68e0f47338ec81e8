//! `state_sealed`: the state is what the guard left
//!
//! Hazard: H-14
//! Statement: the state still matches the checksum made at the end of the last judgement
//! Source: IEC 60730-1 annex H asks for RAM checks of class B software (second-hand)
//! Clears: lockout; a person, the day counts as used
//! Parameters: none

use crate::answer::Answer;
use crate::lockout::Lockout;

/// Locks out if the state changed between two judgements.
pub(super) const fn judge(intact: bool) -> Answer {
    if intact {
        Answer::ALLOW
    } else {
        Answer::lock(Lockout::StateSeal)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_changed_state_locks_out() {
        assert_eq!(judge(true), Answer::ALLOW);
        assert_eq!(judge(false), Answer::lock(Lockout::StateSeal));
    }
}
