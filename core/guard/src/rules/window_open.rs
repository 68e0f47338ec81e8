//! `window_open`: it is within the operating hours
//!
//! Hazard: H-15, H-16
//! Statement: if operating hours are set, the clock is known and inside them
//! Source: common practice, no source
//! Clears: hold; the hours begin, or the clock is known
//! Parameters: hours.open, hours.close

use crate::answer::{Answer, Clear};
use crate::limits::Hours;
use crate::units::{Millis, MinuteOfDay};

const DAY_MIN: u16 = 1440;
const MINUTE_MS: u32 = 60_000;

/// Holds outside the operating hours and while the clock is not known. `None`: no hours are set.
pub(super) fn judge(hours: Option<Hours>, minute: Option<MinuteOfDay>) -> Answer {
    let Some(hours) = hours else {
        return Answer::ALLOW;
    };
    let Some(minute) = minute.filter(|minute| minute.0 < DAY_MIN) else {
        return Answer::hold(Clear::ClockKnown);
    };
    let (open, close, now) = (hours.open.0, hours.close.0, minute.0);
    let inside = if open < close {
        now >= open && now < close
    } else {
        now >= open || now < close
    };
    let wait = if now <= open {
        open.saturating_sub(now)
    } else {
        open.saturating_add(DAY_MIN).saturating_sub(now)
    };
    Answer::hold_unless(
        inside,
        Clear::HoursOpen(Millis(u32::from(wait).saturating_mul(MINUTE_MS))),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn hours(open: u16, close: u16) -> Option<Hours> {
        Some(Hours {
            open: MinuteOfDay(open),
            close: MinuteOfDay(close),
        })
    }

    fn at(minute: u16) -> Option<MinuteOfDay> {
        Some(MinuteOfDay(minute))
    }

    #[test]
    fn hours_hold_outside_and_may_span_midnight() {
        assert_eq!(judge(hours(480, 1200), at(480)), Answer::ALLOW);
        assert_eq!(judge(hours(480, 1200), at(1199)), Answer::ALLOW);
        let wait = |min: u32| Answer::hold(Clear::HoursOpen(Millis(min * MINUTE_MS)));
        assert_eq!(judge(hours(480, 1200), at(1200)), wait(720));
        assert_eq!(judge(hours(480, 1200), at(479)), wait(1));
        assert_eq!(judge(hours(1200, 300), at(1300)), Answer::ALLOW);
        assert_eq!(judge(hours(1200, 300), at(299)), Answer::ALLOW);
        assert_eq!(judge(hours(1200, 300), at(300)), wait(900));
    }

    #[test]
    fn an_unknown_clock_is_outside() {
        assert_eq!(
            judge(hours(480, 1200), None),
            Answer::hold(Clear::ClockKnown)
        );
        assert_eq!(
            judge(hours(480, 1200), at(1440)),
            Answer::hold(Clear::ClockKnown)
        );
        assert_eq!(judge(None, None), Answer::ALLOW);
    }
}
