//! `hour_cap`: the rolling hour is not used up
//!
//! Hazard: H-03, H-04, H-11
//! Statement: the rolling hour, with everything charged, stays within its cap
//! Source: common practice, no source
//! Clears: hold; when enough of the hour is over age
//! Parameters: body.hour_cap, body.reduced_share

use super::rolling::{Rolling, within_cap};
use crate::answer::Answer;
use crate::units::{Dose, Millis};

/// Holds while less than the smallest dose is left of the hour's cap; in a cycle, if the total with
/// its charge is above the cap (it was lowered).
pub(super) fn judge(total: Rolling, clears: impl FnOnce(Dose) -> Option<Millis>) -> Answer {
    within_cap(total, clears)
}

#[cfg(test)]
mod tests {
    use super::*;

    use crate::answer::Clear;

    fn total(in_cycle: bool, booked: u32, charged: u32) -> Rolling {
        let (booked, charged) = (Dose(booked), Dose(charged));
        Rolling {
            in_cycle,
            booked,
            charged,
            cap: Dose(100),
            dose_min: Dose(5),
        }
    }

    #[test]
    fn what_is_left_of_the_hour_may_be_charged() {
        let wait = |_| Some(Millis(7));
        assert_eq!(
            judge(total(false, 60, 35), wait),
            Answer::ALLOW.dose(Dose(5))
        );
        assert_eq!(
            judge(total(false, 96, 0), wait),
            Answer::hold(Clear::After(Millis(7)))
        );
        assert_eq!(
            judge(total(false, 0, 96), wait),
            Answer::hold(Clear::CycleEnds)
        );
    }

    #[test]
    fn an_open_cycle_goes_on_at_the_cap_and_not_above() {
        let wait = |_| Some(Millis(7));
        assert_eq!(
            judge(total(true, 60, 40), wait),
            Answer::ALLOW.dose(Dose(0))
        );
        assert_eq!(
            judge(total(true, 61, 40), wait),
            Answer::hold(Clear::CycleEnds)
        );
    }
}
