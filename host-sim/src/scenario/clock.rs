//! Times as people write them: `"14:05"`, `"08:00-20:00"`, `"day 2 14:05"`, `"day 2 14:05:07.200"`.

use super::entry::Entry;
use super::error::InputError;
use crate::plant::DayWindow;

/// Milliseconds in a day.
pub const DAY_MS: u64 = 86_400_000;

/// Minute of the day, 0 to 1440; `24:00` is the end of the day.
fn minute(text: &str) -> Option<u16> {
    let (hours, minutes) = text.split_once(':')?;
    let digits = |part: &str| part.len() == 2 && part.bytes().all(|b| b.is_ascii_digit());
    if !digits(hours) || !digits(minutes) {
        return None;
    }
    let (hours, minutes): (u16, u16) = (hours.parse().ok()?, minutes.parse().ok()?);
    let whole = hours * 60 + minutes;
    (minutes < 60 && whole <= 1440).then_some(whole)
}

fn window(text: &str) -> Option<DayWindow> {
    let (from, to) = text.split_once('-')?;
    let (from_min, to_min) = (minute(from.trim())?, minute(to.trim())?);
    let sound = from_min < 1440 && to_min > 0 && from_min != to_min;
    sound.then_some(DayWindow { from_min, to_min })
}

/// Seconds and up to three places, in ms: `07`, `07.2`.
fn seconds(text: &str) -> Option<u64> {
    let (whole, places) = text.split_once('.').unwrap_or((text, "0"));
    let digits = |part: &str| part.bytes().all(|b| b.is_ascii_digit());
    let sound = whole.len() == 2 && (1..=3).contains(&places.len());
    if !sound || !digits(whole) || !digits(places) {
        return None;
    }
    let (seconds, ms): (u64, u64) = (whole.parse().ok()?, format!("{places:0<3}").parse().ok()?);
    (seconds < 60).then_some(seconds * 1000 + ms)
}

/// A moment, in ms from midnight before day 1.
pub(crate) fn moment(text: &str) -> Option<u64> {
    let (day, at) = text.strip_prefix("day ")?.trim().split_once(' ')?;
    let day: u64 = day.parse().ok().filter(|day| (1..=10_000).contains(day))?;
    let at = at.trim();
    let (at, ms) = match at.match_indices(':').nth(1) {
        Some((cut, _)) => (&at[..cut], seconds(&at[cut + 1..])?),
        None => (at, 0),
    };
    let minute = minute(at).filter(|at| *at < 1440)?;
    Some((day - 1) * DAY_MS + u64::from(minute) * 60_000 + ms)
}

/// Milliseconds from the start of day 1 as `"day 2 14:05"`.
#[must_use]
pub fn show(clock_ms: u64) -> String {
    let minutes = clock_ms / 60_000;
    let (day, minute) = (minutes / 1440 + 1, minutes % 1440);
    format!("day {day} {:02}:{:02}", minute / 60, minute % 60)
}

/// The same to the millisecond: `"day 2 14:05:07"`, or `"day 2 14:05"` where that is all of it.
#[must_use]
pub fn show_exactly(clock_ms: u64) -> String {
    let minutes = show(clock_ms);
    match (clock_ms / 1000 % 60, clock_ms % 1000) {
        (0, 0) => minutes,
        (seconds, 0) => format!("{minutes}:{seconds:02}"),
        (seconds, ms) => format!("{minutes}:{seconds:02}.{ms:03}"),
    }
}

impl Entry<'_, '_> {
    /// A minute of the day, 0 to 1439.
    pub(super) fn time_of_day(&self) -> Result<u16, InputError> {
        let text = self.words()?;
        minute(text).filter(|at| *at < 1440).ok_or_else(|| {
            self.error(format!(
                "\"{text}\" is not a time of day; write it as \"14:05\""
            ))
        })
    }

    /// A window of the day.
    pub(crate) fn window(&self) -> Result<DayWindow, InputError> {
        let text = self.words()?;
        window(text).ok_or_else(|| {
            self.error(format!(
                "\"{text}\" is not a window of the day; write it as \"08:00-20:00\", \"22:00-06:00\" \
                 over midnight, \"00:00-24:00\" for always"
            ))
        })
    }

    /// A moment, in ms from midnight before day 1.
    pub(super) fn moment(&self) -> Result<u64, InputError> {
        let text = self.words()?;
        moment(text).ok_or_else(|| {
            self.error(format!(
                "\"{text}\" is not a moment; write it as \"day 2 14:05\""
            ))
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn moments() {
        assert_eq!(moment("day 1 00:00"), Some(0));
        assert_eq!(moment("day 12 23:59"), Some(11 * DAY_MS + 1439 * 60_000));
        assert_eq!(moment("day 1 00:01:07"), Some(67_000));
        assert_eq!(moment("day 1 00:00:59.2"), Some(59_200));
        assert_eq!(moment("day 1 00:00:00.004"), Some(4));
        for text in [
            "day 0 10:00",
            "day 1 24:00",
            "day 1 9:00",
            "2 14:05",
            "day 1",
            "day 1 10:60",
            "day 1 10:00:60",
            "day 1 10:00:5",
            "day 1 10:00:05.",
            "day 1 10:00:05.0001",
            "day 1 10:00:05:01",
        ] {
            assert_eq!(moment(text), None, "{text}");
        }
        for ms in [0, 845 * 60_000, 845 * 60_000 + 7_000, DAY_MS + 59_004] {
            assert_eq!(moment(&show_exactly(ms)), Some(ms));
        }
        assert_eq!(show(DAY_MS + 845 * 60_000 + 59_999), "day 2 14:05");
    }

    #[test]
    fn windows() {
        let of = |from_min, to_min| Some(DayWindow { from_min, to_min });
        assert_eq!(window("08:00-20:00"), of(480, 1200));
        assert_eq!(window("22:00 - 06:30"), of(1320, 390));
        assert_eq!(window("00:00-24:00"), of(0, 1440));
        for text in [
            "08:00",
            "08:00-08:00",
            "24:00-08:00",
            "08:00-00:00",
            "8-20",
            "08:00-24:01",
        ] {
            assert_eq!(window(text), None, "{text}");
        }
    }
}
