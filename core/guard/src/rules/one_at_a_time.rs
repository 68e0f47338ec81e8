//! `one_at_a_time`: products that must not meet do not
//!
//! Hazard: H-02, H-01
//! Statement: no incompatible product is driven, or has been within `purge` of flowing time; judged on drives and requests, never on grants
//! Source: CDC MMWR 2017;66(19):498-501
//! Clears: hold; the other is off and the line has flowed
//! Parameters: purge, feeder.product

use crate::answer::{Answer, Clear};
use crate::units::Millis;

/// All incompatible products together.
#[derive(Clone, Copy)]
pub(super) struct Others {
    /// One of them is driven, or may be.
    pub(super) driven: bool,
    /// One of them asks, and goes first.
    pub(super) asks_first: bool,
    /// Least flowing time since one of them was driven.
    pub(super) since: Millis,
}

/// Holds while an incompatible product is driven, stands in the line, or has the turn.
pub(super) fn judge(others: Others, purge: Millis) -> Answer {
    if others.driven {
        return Answer::hold(Clear::OtherOffThen(purge));
    }
    let rest = Millis(purge.0.saturating_sub(others.since.0));
    if rest.0 > 0 {
        return Answer::hold(Clear::AfterFlow(rest));
    }
    Answer::hold_unless(!others.asks_first, Clear::TurnPasses)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn others(driven: bool, asks_first: bool, since: u32) -> Others {
        Others {
            driven,
            asks_first,
            since: Millis(since),
        }
    }

    #[test]
    fn products_that_must_not_meet_keep_a_purge_apart() {
        let purge = Millis(90);
        assert_eq!(judge(others(false, false, 90), purge), Answer::ALLOW);
        assert_eq!(
            judge(others(false, false, 89), purge),
            Answer::hold(Clear::AfterFlow(Millis(1)))
        );
        assert_eq!(
            judge(others(true, false, 90), purge),
            Answer::hold(Clear::OtherOffThen(purge))
        );
        assert_eq!(
            judge(others(false, true, 90), purge),
            Answer::hold(Clear::TurnPasses)
        );
    }
}
