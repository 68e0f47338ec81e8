//! `ledger_trusted`: it is known what was fed
//!
//! Hazard: H-10, H-11
//! Statement: the ledger was restored from a record, or begun by a person
//! Source: common practice, no source
//! Clears: hold; a person initialises, or releases the lost record after 24 h
//! Parameters: none

use crate::answer::{Answer, Clear};

/// Holds while nobody knows what was fed in the last day.
pub(super) const fn judge(trusted: bool) -> Answer {
    Answer::hold_unless(trusted, Clear::Person)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_lost_ledger_holds() {
        assert_eq!(judge(true), Answer::ALLOW);
        assert_eq!(judge(false), Answer::hold(Clear::Person));
    }
}
