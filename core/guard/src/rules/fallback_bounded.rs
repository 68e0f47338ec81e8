//! `fallback_bounded`: fallback stays small, and ends
//!
//! Hazard: H-05, H-12, H-04
//! Statement: fallback was entered by a person with a chlorine test, is not over (72 h at most), and stays within its own caps
//! Source: common practice, no source
//! Clears: ends the feed; a person enters it again with a new test, or the day clears
//! Parameters: fallback.run_max, fallback.test_age_max, fallback.warn_before, body.fallback.cycle, body.fallback.day

use super::rolling::{Rolling, within_cap};
use crate::answer::{Answer, Clear};
use crate::units::{Dose, Millis};

/// Refuses in fallback mode when fallback does not stand for this feeder (`caps` is `None`), and
/// past its own caps. No bound in any other mode.
pub(super) fn judge(
    fallback: bool,
    left: Millis,
    caps: Option<(Dose, Rolling)>,
    clears: impl FnOnce(Dose) -> Option<Millis>,
) -> Answer {
    if !fallback {
        return Answer::ALLOW;
    }
    let Some((cycle_left, day)) = caps.filter(|_| left.0 > 0) else {
        return Answer::hold(Clear::Person);
    };
    within_cap(day, clears).and(Answer::ALLOW.dose(cycle_left))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(booked: u32) -> Rolling {
        Rolling {
            in_cycle: false,
            booked: Dose(booked),
            charged: Dose(0),
            cap: Dose(100),
            dose_min: Dose(5),
        }
    }

    #[test]
    fn fallback_has_an_end_and_caps_of_its_own() {
        let wait = |_| Some(Millis(9));
        let at = |left, caps| judge(true, Millis(left), caps, wait);
        assert_eq!(
            at(1, Some((Dose(20), day(0)))),
            Answer::ALLOW.dose(Dose(20))
        );
        assert_eq!(
            at(1, Some((Dose(20), day(90)))),
            Answer::ALLOW.dose(Dose(10))
        );
        assert_eq!(
            at(1, Some((Dose(20), day(96)))),
            Answer::hold(Clear::After(Millis(9)))
        );
        assert_eq!(at(0, Some((Dose(20), day(0)))), Answer::hold(Clear::Person));
        assert_eq!(at(1, None), Answer::hold(Clear::Person));
        assert_eq!(judge(false, Millis(0), None, wait), Answer::ALLOW);
    }
}
