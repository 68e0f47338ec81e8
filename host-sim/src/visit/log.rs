//! A log of visits, out of its file.

use std::path::Path;

use csv::{ReaderBuilder, StringRecord, Trim};
use jiff::civil::DateTime;

use super::entry::{Known, What};
use super::row::Row;
use crate::plan::{Plan, Site};
use crate::scenario::InputError;
use crate::scenario::text_of;

/// The columns, in any order; those of [`FREE`] may be left out.
const COLUMNS: [&str; 7] = ["time", "what", "of", "value", "with", "note", "body"];
const FREE: [&str; 2] = ["note", "body"];
/// Rows that are less than this apart from the first are one visit, min. Our choice.
const VISIT_MIN: i64 = 6 * 60;
const TIME: &str = "%Y-%m-%d %H:%M";

/// One row.
#[derive(Clone, Debug, PartialEq)]
pub struct Entry {
    /// Minutes from the log's first row.
    pub at_min: i64,
    /// Line in the file.
    pub line: u64,
    /// What it says.
    pub what: What,
    /// The body of water that it is about; `None`: the row names none.
    pub body: Option<usize>,
}

/// Rows that belong together.
#[derive(Clone, Debug, PartialEq)]
pub struct Visit {
    /// Time of the first row, as written.
    pub time: String,
    /// The same, minutes from the log's first row.
    pub at_min: i64,
    /// The rows.
    pub entries: Vec<Entry>,
}

impl Visit {
    /// The last figure of a kind on this visit.
    pub fn last<T>(&self, pick: impl Fn(&What) -> Option<T>) -> Option<T> {
        self.entries
            .iter()
            .rev()
            .find_map(|entry| pick(&entry.what))
    }

    /// All figures of a kind.
    pub fn all<T>(&self, pick: impl Fn(&What) -> Option<T>) -> impl Iterator<Item = T> {
        self.entries
            .iter()
            .filter_map(move |entry| pick(&entry.what))
    }

    /// Days from the log's first row.
    #[must_use]
    pub fn day(&self) -> f64 {
        self.at_min as f64 / 1440.0
    }
}

/// A log: visits in the order of time, at least one.
#[derive(Clone, Debug, PartialEq)]
pub struct Log {
    /// The file, for messages.
    pub file: String,
    /// Visits.
    pub visits: Vec<Visit>,
    /// Rows of another body of water that were left out, in words; `None`: none were.
    pub left_out: Option<String>,
    first: DateTime,
}

impl Log {
    /// Reads a log of a site from the text of a file; `file` is only for messages.
    ///
    /// # Errors
    /// The first mistake, with its line and what would be right.
    pub fn parse(file: &str, text: &str, site: &Site, plan: &Plan) -> Result<Self, InputError> {
        let mut reader = ReaderBuilder::new()
            .trim(Trim::All)
            .comment(Some(b'#'))
            .from_reader(text.as_bytes());
        let wrong = |line: u64, what: String| InputError {
            file: file.to_owned(),
            line: usize::try_from(line).unwrap_or(0),
            column: 1,
            width: 0,
            what,
        };
        let bad = |error: &csv::Error| {
            let line = error.position().map_or(1, csv::Position::line);
            wrong(line, of_csv(error))
        };
        let header = reader.headers().map_err(|error| bad(&error))?.clone();
        let head_line = header.position().map_or(1, csv::Position::line);
        let columns = Columns::of(&header).map_err(|what| wrong(head_line, what))?;
        let known = Known { site, plan };
        let mut visits: Vec<Visit> = Vec::new();
        let mut first: Option<DateTime> = None;
        let mut last_min = 0;
        for record in reader.records() {
            let record = record.map_err(|error| bad(&error))?;
            let line = record.position().map_or(0, csv::Position::line);
            let written = columns.get(&record, 0);
            let time = DateTime::strptime(TIME, written).map_err(|_| {
                let what = format!("time is `{written}`; write it as 2031-05-02 10:10");
                wrong(line, what)
            })?;
            let begin = *first.get_or_insert(time);
            let at_min = time.duration_since(begin).as_mins();
            if at_min < last_min {
                let what = "this time is before the row above; rows have to be in their order";
                return Err(wrong(line, what.to_owned()));
            }
            last_min = at_min;
            let row = columns.row(&record);
            let Some(what) = known.read(&row).map_err(|what| wrong(line, what))? else {
                continue;
            };
            let body = columns
                .body(&record, site, &what)
                .map_err(|what| wrong(line, what))?;
            let entry = Entry {
                at_min,
                line,
                what,
                body,
            };
            match visits.last_mut() {
                Some(visit) if at_min - visit.at_min < VISIT_MIN => visit.entries.push(entry),
                _ => visits.push(Visit {
                    time: written.to_owned(),
                    at_min,
                    entries: vec![entry],
                }),
            }
        }
        let (Some(first), false) = (first, visits.is_empty()) else {
            return Err(wrong(1, "there is no row under the header".to_owned()));
        };
        Ok(Self {
            file: file.to_owned(),
            visits,
            left_out: None,
            first,
        })
    }

    /// Reads a log from a file of at most 1 MB.
    ///
    /// # Errors
    /// As [`Log::parse`], or that the file cannot be read.
    pub fn load(path: &Path, site: &Site, plan: &Plan) -> Result<Self, InputError> {
        let text = text_of(path)?;
        Self::parse(&path.display().to_string(), &text, site, plan)
    }

    /// The rows about one body of water, and those that name none. `None`: there is no such row.
    #[must_use]
    pub fn of_body(&self, body: usize) -> Option<Self> {
        let own = |entry: &&Entry| entry.body.is_none_or(|other| other == body);
        let visits = self.visits.iter().map(|visit| Visit {
            entries: visit.entries.iter().filter(own).cloned().collect(),
            ..visit.clone()
        });
        let visits: Vec<Visit> = visits.filter(|visit| !visit.entries.is_empty()).collect();
        (!visits.is_empty()).then(|| Self {
            visits,
            ..self.clone()
        })
    }

    /// The rows about the pool: what looks at one body alone looks at that.
    ///
    /// # Errors
    /// That there is none.
    pub fn of_pool(&self, site: &Site) -> Result<Self, InputError> {
        let pool = self.of_body(0).ok_or_else(|| {
            let what = "no row is about the pool; this looks at the pool alone".to_owned();
            InputError::of_file(&self.file, what)
        })?;
        let entries = self.visits.iter().flat_map(|visit| &visit.entries);
        let others = entries.filter(|entry| entry.body.is_some_and(|body| body != 0));
        let left_out = match (others.count(), site.bodies().get(1)) {
            (0, _) | (_, None) => None,
            (1, Some(name)) => Some(format!("1 row of the {name}")),
            (rows, Some(name)) => Some(format!("{rows} rows of the {name}")),
        };
        Ok(Self { left_out, ..pool })
    }

    /// The rows that name a body of water, and no others. Visits without one stay, empty.
    #[must_use]
    pub(crate) fn rows_of(&self, body: usize) -> Self {
        let visits = self.visits.iter().map(|visit| Visit {
            entries: visit
                .entries
                .iter()
                .filter(|entry| entry.body == Some(body))
                .cloned()
                .collect(),
            ..visit.clone()
        });
        Self {
            visits: visits.collect(),
            ..self.clone()
        }
    }

    /// The bodies of water that rows name, each once.
    #[must_use]
    pub fn bodies(&self) -> Vec<usize> {
        let entries = self.visits.iter().flat_map(|visit| &visit.entries);
        let mut named: Vec<usize> = entries.filter_map(|entry| entry.body).collect();
        named.sort_unstable();
        named.dedup();
        named
    }

    /// The visit that is under way: the last one.
    #[must_use]
    pub fn now(&self) -> &Visit {
        &self.visits[self.visits.len() - 1]
    }

    /// Time of the first row.
    pub(crate) const fn first(&self) -> DateTime {
        self.first
    }

    /// Time of the last row.
    pub(crate) fn last(&self) -> DateTime {
        let entries = &self.now().entries;
        let minutes = entries.last().map_or(0, |entry| entry.at_min);
        let later = self
            .first
            .checked_add(jiff::SignedDuration::from_mins(minutes));
        later.unwrap_or(self.first)
    }

    /// Minutes from the log's first row to a time, written as in the log.
    #[must_use]
    pub fn minute_of(&self, time: &str) -> Option<i64> {
        let time = DateTime::strptime(TIME, time.trim()).ok()?;
        Some(time.duration_since(self.first).as_mins())
    }

    /// A day so many days after the last visit, as `2031-06-01`.
    #[must_use]
    pub fn day_in(&self, days: f64) -> String {
        let minutes = self.now().at_min + (days.clamp(0.0, 4000.0) * 1440.0) as i64;
        let later = self
            .first
            .checked_add(jiff::SignedDuration::from_mins(minutes));
        later.map_or_else(|_| "much later".to_owned(), |at| at.date().to_string())
    }

    /// The last figure of a kind up to now, with its age in days.
    pub fn latest<T>(&self, pick: impl Fn(&What) -> Option<T>) -> Option<(T, f64)> {
        let now = self.now().day();
        let mut back = self.visits.iter().rev();
        back.find_map(|visit| visit.last(&pick).map(|found| (found, now - visit.day())))
    }
}

struct Columns([Option<usize>; COLUMNS.len()]);

impl Columns {
    fn of(header: &StringRecord) -> Result<Self, String> {
        let all = COLUMNS.join(",");
        for (place, name) in header.iter().enumerate() {
            if !COLUMNS.contains(&name) {
                return Err(format!("column `{name}` is not known; the header is {all}"));
            }
            if header.iter().take(place).any(|before| before == name) {
                return Err(format!("column `{name}` stands twice"));
            }
        }
        let places = COLUMNS.map(|name| header.iter().position(|column| column == name));
        for (name, place) in COLUMNS.iter().zip(places) {
            if place.is_none() && !FREE.contains(name) {
                return Err(format!("column `{name}` is missing; the header is {all}"));
            }
        }
        Ok(Self(places))
    }

    fn get<'r>(&self, record: &'r StringRecord, column: usize) -> &'r str {
        let place = self.0.get(column).copied().flatten();
        place.and_then(|place| record.get(place)).unwrap_or("")
    }

    /// The body that a row is about.
    fn body(
        &self,
        record: &StringRecord,
        site: &Site,
        what: &What,
    ) -> Result<Option<usize>, String> {
        let written = self.get(record, 6);
        let names = site.bodies();
        if names.len() < 2 {
            return if written.is_empty() {
                Ok(None)
            } else {
                Err(format!(
                    "body is `{written}`; the site has one body of water, so it has to be empty"
                ))
            };
        }
        let found = names.iter().position(|name| *name == written);
        let is_wanted = self.0[6].is_some() && what.is_of_water();
        if found.is_some() || (written.is_empty() && !is_wanted) {
            return Ok(found);
        }
        let names = names.join(", ");
        Err(format!("body is `{written}`; it has to be one of {names}"))
    }

    fn row<'r>(&self, record: &'r StringRecord) -> Row<'r> {
        let [what, of, value, with] = [1, 2, 3, 4].map(|column| self.get(record, column));
        Row {
            what,
            of,
            value,
            with,
        }
    }
}

fn of_csv(error: &csv::Error) -> String {
    match error.kind() {
        csv::ErrorKind::UnequalLengths {
            expected_len, len, ..
        } => format!("{len} fields; the header has {expected_len}"),
        _ => error.to_string(),
    }
}
