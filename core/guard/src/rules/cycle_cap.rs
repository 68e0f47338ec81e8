//! `cycle_cap`: the cycle's dose is not used up
//!
//! Hazard: H-03, H-04, H-11
//! Statement: the dose of the cycle is not used up and stays within its cap, with what is kept back for a tick and for the drive to go off
//! Source: common practice, no source
//! Clears: ends the cycle
//! Parameters: body.cycle_cap, body.reduced_share, feeder.rate, feeder.rate_tolerance, feeder.rate_any_tube, feeder.catch_test_on_record, feeder.slice_max, feeder.dose_min, feeder.cut_timer, feeder.drive_off, tick_gap_max

use crate::answer::{Answer, Clear};
use crate::units::{Dose, Millis};

/// Without an open cycle: charges at most `cap`. In one: refuses once less than `grain` is left to
/// run or `cap` was lowered below what is charged, and lets slices be charged up to `cap`.
pub(super) fn judge(open: bool, left: Millis, grain: Millis, charged: Dose, cap: Dose) -> Answer {
    let more = Dose(cap.0.saturating_sub(charged.0));
    if charged > cap || (open && (left < grain || left.0 == 0)) {
        return Answer::hold(Clear::CycleEnds);
    }
    Answer::ALLOW
        .dose(more)
        .run(if open { left } else { Millis(u32::MAX) })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_used_up_cycle_ends() {
        let open = |left| judge(true, Millis(left), Millis(2000), Dose(10), Dose(10));
        assert_eq!(open(2000), Answer::ALLOW.dose(Dose(0)).run(Millis(2000)));
        assert_eq!(open(1999), Answer::hold(Clear::CycleEnds));
        assert!(judge(true, Millis(0), Millis(0), Dose(10), Dose(10)).refuses);
    }

    #[test]
    fn a_cap_lowered_below_the_charge_ends_the_cycle() {
        let at = |cap| judge(true, Millis(9), Millis(1), Dose(30), Dose(cap)).refuses;
        assert!(at(29) && !at(30));
    }

    #[test]
    fn no_more_than_the_cap_is_charged() {
        let idle = judge(false, Millis(0), Millis(1), Dose(0), Dose(45));
        assert_eq!(idle, Answer::ALLOW.dose(Dose(45)));
        let slice = judge(true, Millis(9), Millis(1), Dose(30), Dose(45));
        assert_eq!(slice.most_dose, Dose(15));
    }
}
