//! Times of a log, as its controller writes them.

use toml::value::{Datetime, Offset};

use crate::scenario::clock;

const DAY_MS: f64 = 86_400_000.0;

/// How time is written.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Form {
    /// Date and time: `2026-05-03 14:05:00`; a zone may follow.
    Date,
    /// `day 2 14:05`.
    DayClock,
    /// A number that counts up, in units of so many ms.
    Count {
        /// ms in one.
        unit_ms: f64,
    },
}

/// A time that was read.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Time {
    /// ms since some moment.
    pub(super) at_ms: f64,
    /// Minute of the day.
    pub(super) minute: Option<u16>,
}

impl Form {
    /// What would be right.
    pub(super) const fn example(self) -> &'static str {
        match self {
            Self::Date => "a date and time such as 2026-05-03 14:05:00",
            Self::DayClock => "a moment such as day 2 14:05",
            Self::Count { .. } => "a number such as 136500",
        }
    }

    /// Reads a time; `None`: it is none in this form.
    pub(super) fn read(self, text: &str, decimal: char) -> Option<Time> {
        match self {
            Self::Date => date(text),
            Self::DayClock => {
                let at_ms = clock::moment(text)?;
                let minute = u16::try_from(at_ms / 60_000 % 1440).ok();
                Some(Time {
                    at_ms: at_ms as f64,
                    minute,
                })
            }
            Self::Count { unit_ms } => {
                let number: f64 = text.replace(decimal, ".").parse().ok()?;
                let at_ms = Some(number * unit_ms).filter(|ms| ms.is_finite())?;
                Some(Time {
                    at_ms,
                    minute: None,
                })
            }
        }
    }
}

fn date(text: &str) -> Option<Time> {
    let read: Datetime = text.parse().ok()?;
    let (date, time) = (read.date?, read.time?);
    let days = days_from_civil(
        i64::from(date.year),
        i64::from(date.month),
        i64::from(date.day),
    );
    let minute = u16::from(time.hour) * 60 + u16::from(time.minute);
    let seconds =
        f64::from(time.second.unwrap_or(0)) + f64::from(time.nanosecond.unwrap_or(0)) / 1e9;
    let local_ms = days as f64 * DAY_MS + f64::from(minute) * 60_000.0 + seconds * 1000.0;
    let offset_ms = match read.offset {
        Some(Offset::Custom { minutes }) => f64::from(minutes) * 60_000.0,
        Some(Offset::Z) | None => 0.0,
    };
    Some(Time {
        at_ms: local_ms - offset_ms,
        minute: Some(minute),
    })
}

/// Days from 1970-01-01 in the Gregorian calendar: years begin in March, so that the leap day is the last.
fn days_from_civil(year: i64, month: i64, day: i64) -> i64 {
    let year = if month <= 2 { year - 1 } else { year };
    let month = (month + 9) % 12;
    let (cycle, of_cycle) = (year.div_euclid(400), year.rem_euclid(400));
    let of_year = (153 * month + 2) / 5 + day - 1;
    cycle * 146_097 + of_cycle * 365 + of_cycle / 4 - of_cycle / 100 + of_year - 719_468
}

/// The time of the day at the end of a text, as minute.
pub(super) fn minute_of_day(text: &str) -> Option<u16> {
    let last = text.rsplit([' ', 'T']).next()?;
    let mut parts = last.split(':');
    let (hour, minute) = (parts.next()?, parts.next()?);
    let two = |part: &str| part.len() == 2 && part.bytes().all(|b| b.is_ascii_digit());
    if !two(hour) || !two(minute) {
        return None;
    }
    let (hour, minute): (u16, u16) = (hour.parse().ok()?, minute.parse().ok()?);
    (hour < 24 && minute < 60).then_some(hour * 60 + minute)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ms(text: &str) -> Option<f64> {
        Form::Date.read(text, '.').map(|time| time.at_ms)
    }

    /// Counts of days that are widely published: of the Unix epoch, of 2000-01-01 (10957) and of 2038-01-19 (24855).
    #[test]
    fn dates_count_days_over_leap_years() {
        assert_eq!(ms("1970-01-01 00:00:00"), Some(0.0));
        assert_eq!(ms("2000-01-01T00:00:00Z"), Some(10_957.0 * DAY_MS));
        assert_eq!(ms("2038-01-19 03:14:07"), Some(2_147_483_647_000.0));
        let day = |text: &str| ms(&format!("{text} 12:00:00")).expect(text) / DAY_MS;
        assert_eq!(day("2024-03-01") - day("2024-02-28"), 2.0);
        assert_eq!(day("2026-03-01") - day("2026-02-28"), 1.0);
        assert_eq!(day("2027-01-01") - day("2026-01-01"), 365.0);
        assert_eq!(
            ms("2026-05-03 14:05:00.250"),
            ms("2026-05-03 14:05:00").map(|ms| ms + 250.0)
        );
        assert_eq!(ms("2026-05-03 14:05:00+02:00"), ms("2026-05-03 12:05:00Z"));
        let time = Form::Date
            .read("2026-05-03 14:05:00+02:00", '.')
            .expect("a time");
        assert_eq!(time.minute, Some(845));
        for text in [
            "2026-02-30 10:00:00",
            "2026-05-03",
            "14:05",
            "03.05.2026 14:05",
            "",
        ] {
            assert_eq!(ms(text), None, "{text}");
        }
    }

    #[test]
    fn other_forms() {
        let count = Form::Count { unit_ms: 60_000.0 };
        assert_eq!(count.read("1,5", ',').map(|t| t.at_ms), Some(90_000.0));
        assert_eq!(count.read("noon", '.'), None);
        assert_eq!(count.read("inf", '.'), None);
        let clock = Form::DayClock.read("day 2 14:05", '.').expect("a moment");
        assert_eq!(
            (clock.at_ms, clock.minute),
            (DAY_MS + 845.0 * 60_000.0, Some(845))
        );
        assert_eq!(minute_of_day("day 2 14:05"), Some(845));
        assert_eq!(minute_of_day("2026-05-03T00:01:59"), Some(1));
        for text in ["24:00", "9:05", "", "noon"] {
            assert_eq!(minute_of_day(text), None, "{text}");
        }
    }
}
