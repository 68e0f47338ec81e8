//! `run_time_cap`: the cycle's drive-on time is not used up
//!
//! Hazard: H-11, H-13, H-03, H-04
//! Statement: the drive-on time of the cycle stays within `run_max`, whatever rate is configured
//! Source: tribal fluoride code 36891723 (a timer in series with the feed pump)
//! Clears: ends the cycle; lockout if the drive still runs
//! Parameters: feeder.run_max, feeder.drive_off, feeder.cut_timer, tick_gap_max

use crate::answer::{Answer, Clear};
use crate::lockout::Lockout;
use crate::units::Millis;

/// Refuses once less than `grain` is left of `run_max`; locks out if the drive ran past it by more
/// than `overrun`.
pub(super) fn judge(
    in_cycle: bool,
    run: Millis,
    run_max: Millis,
    grain: Millis,
    overrun: Millis,
) -> Answer {
    if run.0 > run_max.0.saturating_add(overrun.0) {
        return Answer::lock(Lockout::RunTime);
    }
    let left = Millis(run_max.0.saturating_sub(run.0));
    if in_cycle && (left < grain || left.0 == 0) {
        return Answer::hold(Clear::CycleEnds);
    }
    Answer::ALLOW.run(left)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn time_bounds_the_cycle_whatever_the_rate() {
        let at = |run| judge(true, Millis(run), Millis(100), Millis(10), Millis(5));
        assert_eq!(at(90), Answer::ALLOW.run(Millis(10)));
        assert_eq!(at(91), Answer::hold(Clear::CycleEnds));
        assert_eq!(at(105), Answer::hold(Clear::CycleEnds));
        assert_eq!(at(106), Answer::lock(Lockout::RunTime));
    }
}
