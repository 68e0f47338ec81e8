//! Which day, which hours, which codes, which body of water.

use dosewarden::day_log::Code;
use jiff::civil::Date;

use super::record::RecordDays;
use crate::plan::{ALL_CODES, Site};
use crate::scenario::clock;
use crate::visit::Log;

/// What a person asks for. Set what is by update syntax.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Wanted<'a> {
    /// The date; without one that of the log's last entry.
    pub date: Option<&'a str>,
    /// Hours in which people may be in the water, as `07:00-21:00`.
    pub hours: &'a str,
    /// How far the day is; without it all of the hours.
    pub until: Option<&'a str>,
    /// Codes by their names, or "all"; none: those of the site.
    pub codes: &'a [String],
    /// The body of water; without it the one of the site, or that which the log is about.
    pub body: Option<&'a str>,
}

/// What is asked for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Asked {
    /// The day.
    pub(super) date: Date,
    /// From when people may be in the water, minutes of the day.
    pub(super) from_min: i64,
    /// As far as it is looked at.
    pub(super) to_min: i64,
    /// Until when people may be in the water.
    pub(super) closes_min: i64,
    /// Held to these, in the order of [`Code::ALL`].
    pub(super) codes: Vec<Code>,
    /// Of a site with two bodies of water, the one that is looked at.
    pub(super) body: Option<usize>,
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

/// Names of the codes that are known.
fn known() -> String {
    let all: Vec<&str> = Code::ALL.iter().map(|code| code.name()).collect();
    format!("{}, {ALL_CODES}", all.join(", "))
}

/// The codes that were named, else those of the site.
fn codes(site: &Site, named: &[String]) -> Result<Vec<Code>, String> {
    if named.is_empty() && site.codes.is_empty() {
        let first = Code::California.name();
        return Err(format!(
            "no code is named: write `code = \"{first}\"` under [site] in the file of the site, or add --code {first}; \
             it has to be one of {}",
            known()
        ));
    }
    for name in named {
        if name != ALL_CODES && !Code::ALL.iter().any(|code| code.name() == name) {
            let all = known();
            return Err(format!("--code is `{name}`; it has to be one of {all}"));
        }
    }
    let is_asked = |code: &Code| {
        let mut named = named.iter();
        named.any(|it| it == code.name() || it == ALL_CODES)
    };
    Ok(if named.is_empty() {
        site.codes.clone()
    } else {
        Code::ALL.into_iter().filter(is_asked).collect()
    })
}

/// The body of water, of a site that has two.
fn body(site: &Site, log: &Log, named: Option<&str>) -> Result<Option<usize>, String> {
    let names = site.bodies();
    let all = names.join(", ");
    match (named, names.len()) {
        (None, 1) => Ok(None),
        (Some(name), 1) => Err(format!(
            "--body is `{name}`; the site has one body of water, so leave it out"
        )),
        (Some(name), _) => {
            let found = names.iter().position(|other| *other == name);
            let wrong = || format!("--body is `{name}`; it has to be one of {all}");
            found.map(Some).ok_or_else(wrong)
        }
        (None, _) => match log.bodies().as_slice() {
            [one] => Ok(Some(*one)),
            _ => Err(format!(
                "the site has two bodies of water, {all}, and a day is of one: add --body {}",
                names[0]
            )),
        },
    }
}

impl Asked {
    /// Reads what is wanted of a site and its log.
    ///
    /// # Errors
    /// What is wrong, and what would be right.
    pub fn parse(site: &Site, log: &Log, wanted: &Wanted<'_>) -> Result<Self, String> {
        let hours = wanted.hours;
        let pair = hours.split_once('-');
        let pair = pair.and_then(|(from, to)| minute(from.trim()).zip(minute(to.trim())));
        let Some((from_min, closes_min)) = pair.filter(|(from, to)| from < to) else {
            return Err(format!(
                "--hours is `{hours}`; write the hours in which people may be in the water as 07:00-21:00, within one day"
            ));
        };
        let to_min = match wanted.until {
            None => closes_min,
            Some(text) => minute(text)
                .filter(|at| (from_min..=closes_min).contains(at))
                .ok_or_else(|| {
                    format!("--until is `{text}`; it has to be a time within {hours}")
                })?,
        };
        let last = || Ok(log.last().date());
        Ok(Self {
            date: wanted
                .date
                .map_or_else(last, |text| date_of("--date", text))?,
            from_min,
            to_min,
            closes_min,
            codes: codes(site, wanted.codes)?,
            body: body(site, log, wanted.body)?,
        })
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
            body: self.body,
        })
    }

    /// The site as that of the body that is looked at, and what the sheet calls it.
    pub(super) fn of<'s>(&self, site: &'s Site) -> (&'s Site, String) {
        match (self.body, &site.second) {
            (Some(0), Some(_)) => (site, format!("{}, {}", site.name, site.bodies()[0])),
            (Some(_), Some(second)) => (&second.site, second.site.name.clone()),
            _ => (site, site.name.clone()),
        }
    }
}
