//! `line_clear`: nothing stands in the injection line
//!
//! Hazard: H-01, H-02, H-09
//! Statement: after a stop in mid-dose the line has flowed for `purge`; more than the overrun, or two products, in standing water also need a person
//! Source: CDC MMWR 2017;66(19):498-501; WorkSafe Victoria safety alert 2021
//! Clears: hold; after a purge. Lockout; after a purge and by a person, with the pool empty
//! Parameters: purge, tick_gap_max, feeder.drive_off, feeder.rate

use crate::answer::{Answer, Clear};
use crate::lockout::Lockout;
use crate::units::Millis;

/// Locks out if `fouled` (more than the overrun, or two products, went into standing water); holds
/// until the line has flowed for `purge`.
pub(super) fn judge(fouled: bool, purged: Millis, purge: Millis) -> Answer {
    if fouled {
        return Answer::lock(Lockout::Line);
    }
    let rest = Millis(purge.0.saturating_sub(purged.0));
    Answer::hold_unless(rest.0 == 0, Clear::AfterFlow(rest))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_with_product_in_it_is_purged_first() {
        let purge = Millis(90);
        assert_eq!(judge(false, Millis(90), purge), Answer::ALLOW);
        assert_eq!(
            judge(false, Millis(89), purge),
            Answer::hold(Clear::AfterFlow(Millis(1)))
        );
        assert_eq!(judge(true, Millis(90), purge), Answer::lock(Lockout::Line));
    }
}
