//! Times as people write them: `"14:05"`, `"08:00-20:00"`, `"day 2 14:05"`.

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

/// Day (from 1) and minute of the day.
fn day_and_minute(text: &str) -> Option<(u64, u16)> {
    let (day, at) = text.strip_prefix("day ")?.trim().split_once(' ')?;
    let day: u64 = day.parse().ok()?;
    let at = minute(at.trim()).filter(|at| *at < 1440)?;
    (1..=10_000).contains(&day).then_some((day, at))
}

/// Milliseconds from the start of day 1 as `"day 2 14:05"`.
#[must_use]
pub fn show(clock_ms: u64) -> String {
    let minutes = clock_ms / 60_000;
    let (day, minute) = (minutes / 1440 + 1, minutes % 1440);
    format!("day {day} {:02}:{:02}", minute / 60, minute % 60)
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
        let read = day_and_minute(text).ok_or_else(|| {
            self.error(format!(
                "\"{text}\" is not a moment; write it as \"day 2 14:05\""
            ))
        })?;
        Ok((read.0 - 1) * DAY_MS + u64::from(read.1) * 60_000)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn moments() {
        assert_eq!(day_and_minute("day 1 00:00"), Some((1, 0)));
        assert_eq!(day_and_minute("day 12 23:59"), Some((12, 1439)));
        for text in [
            "day 0 10:00",
            "day 1 24:00",
            "day 1 9:00",
            "2 14:05",
            "day 1",
            "day 1 10:60",
        ] {
            assert_eq!(day_and_minute(text), None, "{text}");
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
