//! Which day, which hours, which codes.

use dosewarden::day_log::Code;
use jiff::civil::Date;

use super::record::RecordDays;
use crate::scenario::clock;
use crate::visit::Log;

/// What is asked for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Asked {
    /// The day.
    pub(super) date: Date,
    is_date_given: bool,
    /// From when people may be in the water, minutes of the day.
    pub(super) from_min: i64,
    /// As far as it is looked at.
    pub(super) to_min: i64,
    /// Until when people may be in the water.
    pub(super) closes_min: i64,
    /// Held to these, in the order of [`Code::ALL`].
    pub(super) codes: Vec<Code>,
}

fn minute(text: &str) -> Option<i64> {
    if text == "24:00" {
        return Some(1440);
    }
    let ms = clock::moment(&format!("day 1 {text}"))?;
    i64::try_from(ms / 60_000).ok()
}

/// A date as people write it.
///
/// # Errors
/// That it is none, and what would be right.
fn date_of(option: &str, text: &str) -> Result<Date, String> {
    text.parse()
        .map_err(|_| format!("{option} is `{text}`; write it as 2031-05-02"))
}

impl Asked {
    /// Reads what was asked for: a date (without one that of the log's last entry), hours as
    /// `07:00-21:00`, how far the day is, and codes by their names (none: all).
    ///
    /// # Errors
    /// What is wrong, and what would be right.
    pub fn parse(
        date: Option<&str>,
        hours: &str,
        until: Option<&str>,
        codes: &[String],
    ) -> Result<Self, String> {
        let pair = hours.split_once('-');
        let pair = pair.and_then(|(from, to)| minute(from.trim()).zip(minute(to.trim())));
        let Some((from_min, closes_min)) = pair.filter(|(from, to)| from < to) else {
            return Err(format!(
                "--hours is `{hours}`; write the hours in which people may be in the water as 07:00-21:00, within one day"
            ));
        };
        let to_min = match until {
            None => closes_min,
            Some(text) => minute(text)
                .filter(|at| (from_min..=closes_min).contains(at))
                .ok_or_else(|| {
                    format!("--until is `{text}`; it has to be a time within {hours}")
                })?,
        };
        for name in codes {
            if !Code::ALL.iter().any(|code| code.name() == name) {
                let all: Vec<&str> = Code::ALL.iter().map(|code| code.name()).collect();
                let all = all.join(", ");
                return Err(format!("--code is `{name}`; it has to be one of {all}"));
            }
        }
        let is_asked = |code: &Code| codes.is_empty() || codes.iter().any(|it| it == code.name());
        Ok(Self {
            date: date.map_or(Ok(Date::ZERO), |text| date_of("--date", text))?,
            is_date_given: date.is_some(),
            from_min,
            to_min,
            closes_min,
            codes: Code::ALL.into_iter().filter(is_asked).collect(),
        })
    }

    /// With the date of a log's last entry, if none was given.
    #[must_use]
    pub fn on(mut self, log: &Log) -> Self {
        if !self.is_date_given {
            self.date = log.last().date();
        }
        self
    }

    /// The last minute that is looked at: of the hours, or of the whole day once they are over.
    pub(super) const fn last_min(&self) -> i64 {
        if self.to_min < self.closes_min {
            self.to_min
        } else {
            24 * 60
        }
    }

    /// The days of a record; `day_1` is the date of a trace's first day, if it is another one.
    ///
    /// # Errors
    /// That it is no date.
    pub fn record_days(&self, day_1: Option<&str>) -> Result<RecordDays, String> {
        let day_1 = day_1.map_or(Ok(self.date), |text| date_of("--day-1", text))?;
        Ok(RecordDays {
            date: self.date,
            day_1,
        })
    }
}
