//! `clock_sane`: ticks come in time
//!
//! Hazard: H-14, H-01
//! Statement: time since the last tick is over 0 and at most `tick_gap_max`
//! Source: common practice, no source
//! Clears: ends the cycle; the next tick that comes in time, proving ages begin anew
//! Parameters: tick_gap_max

use crate::answer::{Answer, Clear};
use crate::units::Millis;

/// Holds unless 0 < `elapsed` <= `tick_gap_max`.
pub(super) fn judge(elapsed: Millis, tick_gap_max: Millis) -> Answer {
    Answer::hold_unless(elapsed.0 > 0 && elapsed <= tick_gap_max, Clear::NextTick)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_a_gap_in_range_is_sane() {
        let max = Millis(2000);
        assert!(judge(Millis(0), max).refuses);
        assert_eq!(judge(Millis(1), max), Answer::ALLOW);
        assert_eq!(judge(Millis(2000), max), Answer::ALLOW);
        assert!(judge(Millis(2001), max).refuses);
    }
}
