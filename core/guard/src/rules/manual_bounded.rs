//! `manual_bounded`: a manual feed stays short and in someone's hand
//!
//! Hazard: H-15, H-12
//! Statement: a manual feed runs only while its button is held, and for at most `manual_max`
//! Source: common practice, no source
//! Clears: ends the feed; the button is released
//! Parameters: manual_max, feeder.drive_off, feeder.cut_timer

use crate::answer::{Answer, Clear};
use crate::units::Millis;

/// Refuses a manual feed without its button, or with less than `grain` left of `manual_max`.
pub(super) fn judge(
    manual: bool,
    held: bool,
    run: Millis,
    manual_max: Millis,
    grain: Millis,
) -> Answer {
    if !manual {
        return Answer::ALLOW;
    }
    let left = Millis(manual_max.0.saturating_sub(run.0));
    if !held || left < grain || left.0 == 0 {
        return Answer::hold(Clear::Button);
    }
    Answer::ALLOW.run(left)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_manual_feed_needs_the_button_and_ends_by_itself() {
        let at = |held, run| judge(true, held, Millis(run), Millis(30), Millis(2));
        assert_eq!(at(true, 28), Answer::ALLOW.run(Millis(2)));
        assert_eq!(at(true, 29), Answer::hold(Clear::Button));
        assert_eq!(at(false, 0), Answer::hold(Clear::Button));
        assert_eq!(
            judge(false, false, Millis(99), Millis(30), Millis(2)),
            Answer::ALLOW
        );
    }
}
