//! `limits_sealed`: the limits are those that were set
//!
//! Hazard: H-14, H-15
//! Statement: the limits match the checksum made when they were set
//! Source: IEC 60730-1 annex H asks for memory checks of class B software (second-hand)
//! Clears: lockout; a person applies the limits again and releases it
//! Parameters: none

use crate::answer::Answer;
use crate::lockout::Lockout;

/// Locks out if the limits changed by themselves.
pub(super) const fn judge(intact: bool) -> Answer {
    if intact {
        Answer::ALLOW
    } else {
        Answer::lock(Lockout::LimitsSeal)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn changed_limits_lock_out() {
        assert_eq!(judge(true), Answer::ALLOW);
        assert_eq!(judge(false), Answer::lock(Lockout::LimitsSeal));
    }
}
