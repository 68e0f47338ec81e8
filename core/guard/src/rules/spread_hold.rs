//! `spread_hold`: the last dose has spread
//!
//! Hazard: H-03, H-04, H-11
//! Statement: `spread_hold` of flowing time has passed since the last cycle of this product in this body; it stands still while water does, and does not bind an open cycle
//! Source: common practice, no source
//! Clears: hold; after the rest of the flowing time
//! Parameters: body.spread_hold, resume_within

use crate::answer::{Answer, Clear};
use crate::units::Millis;

/// Holds until the last dose has spread, and while another feeder of the product has a cycle.
pub(super) fn judge(
    in_cycle: bool,
    other_in_cycle: bool,
    since_cycle: Millis,
    spread_hold: Millis,
) -> Answer {
    if in_cycle {
        return Answer::ALLOW;
    }
    if other_in_cycle {
        return Answer::hold(Clear::CycleEnds);
    }
    let rest = Millis(spread_hold.0.saturating_sub(since_cycle.0));
    Answer::hold_unless(rest.0 == 0, Clear::AfterFlow(rest))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_dose_is_given_time_to_spread() {
        let hold = Millis(1000);
        assert_eq!(
            judge(false, false, Millis(999), hold),
            Answer::hold(Clear::AfterFlow(Millis(1)))
        );
        assert_eq!(judge(false, false, Millis(1000), hold), Answer::ALLOW);
        assert_eq!(judge(true, false, Millis(0), hold), Answer::ALLOW);
        assert_eq!(
            judge(false, true, Millis(1000), hold),
            Answer::hold(Clear::CycleEnds)
        );
    }
}
