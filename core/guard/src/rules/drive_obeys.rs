//! `drive_obeys`: the drive does what it was told
//!
//! Hazard: H-13, H-01
//! Statement: drive feedback, if fitted, is fresh and matches the command; while a drive runs against command, and until a person has released it, no feeder runs
//! Source: common practice, no source
//! Clears: lockout; feedback off for a while, and a person. Hold; feedback is known
//! Parameters: feeder.feedback, feeder.feedback_clear, feeder.drive_off, witness_age_max

use crate::answer::{Answer, Clear};
use crate::lockout::Lockout;
use crate::units::Millis;

/// What feedback has shown: time against command, and commanded time without any.
#[derive(Clone, Copy)]
pub(super) struct Obedience {
    pub(super) known: bool,
    pub(super) against: Millis,
    pub(super) deaf: Millis,
    /// Some drive of the site ran against command, and nobody has released that.
    pub(super) master_open: bool,
}

/// Locks out when the drive ran for more than `drive_off` against command, or did not run for more
/// than `start_max` of command; holds while a fitted feedback is not known, and, with or without
/// feedback of its own, while another drive keeps the contact in series open.
pub(super) fn judge(seen: Obedience, drive_off: Millis, start_max: Option<Millis>) -> Answer {
    let others = Answer::hold_unless(!seen.master_open, Clear::Person);
    let Some(start_max) = start_max else {
        return others;
    };
    if seen.against > drive_off || seen.deaf > start_max {
        return Answer::lock(Lockout::Drive);
    }
    if seen.master_open {
        return others;
    }
    Answer::hold_unless(seen.known, Clear::FeedbackKnown)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn seen(known: bool, against: u32, deaf: u32) -> Obedience {
        Obedience {
            known,
            against: Millis(against),
            deaf: Millis(deaf),
            master_open: false,
        }
    }

    #[test]
    fn a_drive_that_does_not_obey_locks_out() {
        let judge = |seen| judge(seen, Millis(200), Some(Millis(3000)));
        assert_eq!(judge(seen(true, 200, 3000)), Answer::ALLOW);
        assert_eq!(judge(seen(true, 201, 0)), Answer::lock(Lockout::Drive));
        assert_eq!(judge(seen(true, 0, 3001)), Answer::lock(Lockout::Drive));
        assert_eq!(judge(seen(false, 0, 0)), Answer::hold(Clear::FeedbackKnown));
    }

    #[test]
    fn another_drive_that_does_not_obey_stops_this_one() {
        let mut fine = seen(true, 0, 0);
        fine.master_open = true;
        for start_max in [None, Some(Millis(3000))] {
            let answer = judge(fine, Millis(200), start_max);
            assert_eq!(answer, Answer::hold(Clear::Person));
        }
    }

    #[test]
    fn without_feedback_there_is_nothing_to_compare() {
        assert_eq!(judge(seen(false, 999, 999), Millis(0), None), Answer::ALLOW);
    }
}
