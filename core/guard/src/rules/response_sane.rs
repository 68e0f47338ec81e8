//! `response_sane`: the water answers as it should
//!
//! Hazard: H-11, H-12, H-03, H-15
//! Statement: water has not answered the wrong way or far too strongly after one full cycle; without an answer after several, one probing cycle each `probe_cycle_every`
//! Source: common practice, no source
//! Clears: lockout; a person says what was done. Hold; after the rest of the interval
//! Parameters: response.wrong_way_max, response.answer_max, response.answer_min, response.unanswered_max, response.probe_cycle_every

use crate::answer::{Answer, Clear};
use crate::lockout::Lockout;
use crate::units::Millis;

/// Locks out after a wrong answer; holds between probing cycles when there is none.
pub(super) fn judge(
    wrong: bool,
    in_cycle: bool,
    unanswered_out: bool,
    since_cycle: Millis,
    probe_cycle_every: Millis,
) -> Answer {
    if wrong {
        return Answer::lock(Lockout::Response);
    }
    if in_cycle || !unanswered_out {
        return Answer::ALLOW;
    }
    let rest = Millis(probe_cycle_every.0.saturating_sub(since_cycle.0));
    Answer::hold_unless(rest.0 == 0, Clear::After(rest))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_wrong_answer_locks_out() {
        let every = Millis(100);
        assert_eq!(
            judge(true, true, false, every, every),
            Answer::lock(Lockout::Response)
        );
    }

    #[test]
    fn without_answers_only_probing_cycles_are_allowed() {
        let every = Millis(100);
        assert_eq!(judge(false, false, false, Millis(0), every), Answer::ALLOW);
        assert_eq!(
            judge(false, false, true, Millis(99), every),
            Answer::hold(Clear::After(Millis(1)))
        );
        assert_eq!(judge(false, false, true, every, every), Answer::ALLOW);
        assert_eq!(judge(false, true, true, Millis(0), every), Answer::ALLOW);
    }
}
