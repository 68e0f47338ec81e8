//! What a unit recorded: the columns of a trace, or of a device that writes the same.

use std::io::Read;

use csv::{Position, ReaderBuilder, StringRecord, Trim};
use jiff::ToSpan;
use jiff::civil::{Date, DateTime};

use crate::csv_errors::{csv_error, wrong};
use crate::plan::Site;
use crate::scenario::{InputError, clock};

const TIME: &str = "%Y-%m-%d %H:%M";
/// While one of these refuses a feeder of chlorine, disinfection counts as not running: they stand until
/// a person comes. Our choice.
const NOT_RUNNING: [&str; 2] = ["no_lockout", "stock_present"];
/// A person who pauses the unit, or works on it, holds this one.
const HELD_BY_PERSON: &str = "inhibits_clear";
/// Held by a person for longer than this, it counts as not running either, min: twice the pause after a
/// dose by hand. Our choice.
const HELD_MAX_MIN: i64 = 60;

/// One row. `None`: not in the record, or empty.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Row {
    /// Minutes from midnight of the day that is asked for.
    pub(super) at_min: i64,
    pub(super) ph: Option<f64>,
    pub(super) orp_mv: Option<f64>,
    pub(super) flow_l_min: Option<f64>,
    pub(super) circulates: Option<bool>,
    pub(super) powered: Option<bool>,
    pub(super) disinfects: Option<bool>,
    /// A person holds every feeder of chlorine.
    is_held: bool,
    /// What each feeder of the site fed, mL or g.
    pub(super) fed: Vec<Option<f64>>,
    /// Index into the record's names.
    pub(super) alarms: Vec<usize>,
}

impl Row {
    /// Whether the unit showed its probes.
    pub(super) fn is_recorded(&self) -> bool {
        self.powered != Some(false) && self.ph.is_some() && self.orp_mv.is_some()
    }
}

/// What was recorded of one day and around it.
#[derive(Clone, Debug, PartialEq)]
pub struct Record {
    pub(super) rows: Vec<Row>,
    /// Names of alarms; `None`: no such column.
    pub(super) alarms: Option<Vec<String>>,
}

/// Which day is meant, and which date a trace began on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct RecordDays {
    /// The day that is asked for.
    pub date: Date,
    /// Date of the trace's `day 1`.
    pub day_1: Date,
    /// Of two bodies of water, the one that is looked at.
    pub body: Option<usize>,
}

struct FeederColumns {
    /// As an alarm's word in a trace.
    unmet: String,
    fed: Option<usize>,
    refused_by: Option<usize>,
    /// Gives chlorine, and so by ORP; else by pH.
    is_oxidiser: bool,
}

struct Columns {
    clock: usize,
    numbers: [Option<usize>; 3],
    flags: [Option<usize>; 2],
    alarms: Option<usize>,
    feeders: Vec<FeederColumns>,
    /// Of two bodies of water: the column of the one that is selected.
    body: Option<usize>,
    bodies: Vec<String>,
}

const NUMBERS: [&str; 3] = ["ph_shown", "orp_shown_mv", "flow_l_min"];
const FLAGS: [&str; 2] = ["moving", "powered"];

impl Record {
    /// Reads a record. `file` is only for messages.
    ///
    /// # Errors
    /// The first mistake: its line, and what would be right.
    pub fn read(
        file: &str,
        from: impl Read,
        site: &Site,
        days: RecordDays,
    ) -> Result<Self, InputError> {
        let mut reader = ReaderBuilder::new().trim(Trim::All).from_reader(from);
        let header = reader.headers().map_err(|error| csv_error(file, &error))?;
        let columns = Columns::of(header, site, days.body.is_some());
        let columns = columns.map_err(|what| wrong(file, 1, what))?;
        let mut names = Vec::new();
        let mut rows: Vec<Row> = Vec::new();
        let mut record = StringRecord::new();
        while reader
            .read_record(&mut record)
            .map_err(|error| csv_error(file, &error))?
        {
            let line = record.position().map_or(0, Position::line);
            let row = columns.row(&record, days, &mut names);
            let row = row.map_err(|what| wrong(file, line, what))?;
            if rows.last().is_some_and(|last| row.at_min < last.at_min) {
                let what = "this row is before the one above; rows have to be in their order";
                return Err(wrong(file, line, what.to_owned()));
            }
            rows.push(row);
        }
        if rows.is_empty() {
            let what = "there is no row under the names; write one a minute".to_owned();
            return Err(wrong(file, 1, what));
        }
        held_for_long(&mut rows);
        let alarms = columns.alarms.map(|_| names);
        Ok(Self { rows, alarms })
    }
}

impl Columns {
    fn of(header: &StringRecord, site: &Site, of_two: bool) -> Result<Self, String> {
        let find = |name: &str| {
            header
                .iter()
                .position(|column| column.trim_start_matches('\u{feff}') == name)
        };
        let clock = find("clock").ok_or_else(|| {
            "column `clock` is missing; a record is what `dosewarden run --trace FILE.csv` writes".to_owned()
        })?;
        let feeders = site.feeders.iter().map(|feeder| {
            let unit = if feeder.is_liquid() { "ml" } else { "g" };
            FeederColumns {
                unmet: format!("{}:_demand_unmet", feeder.name.replace(' ', "_")),
                fed: find(&format!("{}_fed_{unit}", feeder.name)),
                refused_by: find(&format!("{}_refused_by", feeder.name)),
                is_oxidiser: feeder.product.is_oxidiser(),
            }
        });
        let body = find("body").filter(|_| of_two);
        if of_two && body.is_none() {
            let what = "column `body` is missing; a record of two bodies of water says which one is selected";
            return Err(what.to_owned());
        }
        let own = Self {
            body,
            bodies: site.bodies().into_iter().map(str::to_owned).collect(),
            clock,
            numbers: NUMBERS.map(find),
            flags: FLAGS.map(find),
            alarms: find("alarms"),
            feeders: feeders.collect(),
        };
        if own.numbers.iter().chain(&own.flags).all(Option::is_none) {
            let all = [&NUMBERS[..], &FLAGS[..]].concat().join(", ");
            return Err(format!(
                "none of the columns {all} is there; a record needs some"
            ));
        }
        Ok(own)
    }

    /// Whether the body that is looked at is selected; where there is one, it always is.
    fn selects(&self, shown: &str, wanted: Option<usize>) -> Result<Option<bool>, String> {
        let Some(wanted) = wanted else {
            return Ok(Some(true));
        };
        if shown.is_empty() {
            return Ok(None);
        }
        let found = self.bodies.iter().position(|name| name == shown);
        let wrong = || {
            let names = self.bodies.join(", ");
            format!("body is \"{shown}\"; it has to be one of {names}, or empty")
        };
        found.map(|at| Some(at == wanted)).ok_or_else(wrong)
    }

    fn row(
        &self,
        record: &StringRecord,
        days: RecordDays,
        names: &mut Vec<String>,
    ) -> Result<Row, String> {
        let at = |column: Option<usize>| column.and_then(|at| record.get(at)).unwrap_or("");
        let number = |name: &str, column| -> Result<Option<f64>, String> {
            let shown: &str = at(column);
            if shown.is_empty() {
                return Ok(None);
            }
            let read: Option<f64> = shown.parse().ok();
            let read = read.filter(|it| it.is_finite() && (0.0..=1e9).contains(it));
            let wrong =
                || format!("{name} is \"{shown}\"; it has to be a number, 0 or more, or empty");
            read.map(Some).ok_or_else(wrong)
        };
        let flag = |name: &str, column| flag(name, at(column));
        let [ph, orp, flow] = self.numbers;
        let [moving, powered] = self.flags;
        let powered = flag("powered", powered)?;
        let fed = self
            .feeders
            .iter()
            .map(|feeder| number("what was fed", feeder.fed));
        let fed: Vec<Option<f64>> = fed.collect::<Result<_, _>>()?;
        // Where the guard does not trust a probe, what it shows is not known.
        let refuses = |feeder: &FeederColumns, rules: &[&str]| {
            let shown: &str = at(feeder.refused_by);
            shown.split_whitespace().any(|rule| rules.contains(&rule))
        };
        let trusted = |is_oxidiser| {
            let mut own = self
                .feeders
                .iter()
                .filter(|it| it.is_oxidiser == is_oxidiser);
            !own.any(|feeder| refuses(feeder, &["probe_trusted"]))
        };
        let oxidisers = || {
            let all = self.feeders.iter();
            all.filter(|it| it.is_oxidiser && it.refused_by.is_some())
        };
        let is_told = oxidisers().next().is_some();
        let is_unmet =
            |it: &FeederColumns| at(self.alarms).split_whitespace().any(|a| a == it.unmet);
        let may_run = |it: &FeederColumns| !refuses(it, &NOT_RUNNING) && !is_unmet(it);
        let runs = powered != Some(false) && oxidisers().any(may_run);
        let selected = self.selects(at(self.body), days.body)?;
        let own = |one: Option<f64>| one.filter(|_| selected == Some(true));
        Ok(Row {
            at_min: minute(at(Some(self.clock)), days)?,
            ph: own(number("ph_shown", ph)?).filter(|_| trusted(false)),
            orp_mv: own(number("orp_shown_mv", orp)?).filter(|_| trusted(true)),
            flow_l_min: own(number("flow_l_min", flow)?),
            circulates: both(flag("moving", moving)?, selected),
            powered,
            disinfects: both(
                (is_told || powered == Some(false)).then_some(runs),
                selected,
            ),
            is_held: is_told && oxidisers().all(|it| refuses(it, &[HELD_BY_PERSON])),
            fed: fed_here(fed, selected),
            alarms: at(self.alarms)
                .split_whitespace()
                .map(|word| place(names, &word.replacen(":_", ": ", 1)))
                .collect(),
        })
    }
}

/// What was fed to the body that is looked at: all, nothing that went elsewhere, or nobody knows.
fn fed_here(fed: Vec<Option<f64>>, selected: Option<bool>) -> Vec<Option<f64>> {
    match selected {
        Some(true) => fed,
        Some(false) => fed.iter().map(|one| one.map(|_| 0.0)).collect(),
        None => vec![None; fed.len()],
    }
}

/// Both, as far as is known: one that is not is enough.
fn both(one: Option<bool>, other: Option<bool>) -> Option<bool> {
    match (one, other) {
        (Some(false), _) | (_, Some(false)) => Some(false),
        (Some(true), Some(true)) => Some(true),
        _ => None,
    }
}

fn flag(name: &str, shown: &str) -> Result<Option<bool>, String> {
    match shown {
        "" => Ok(None),
        "0" => Ok(Some(false)),
        "1" => Ok(Some(true)),
        _ => Err(format!("{name} is \"{shown}\"; it has to be 0, 1 or empty")),
    }
}

/// What a person holds for long does not run.
fn held_for_long(rows: &mut [Row]) {
    let mut since = None;
    for row in rows {
        since = row.is_held.then(|| since.unwrap_or(row.at_min));
        if since.is_some_and(|since| row.at_min - since > HELD_MAX_MIN) {
            row.disinfects = Some(false);
        }
    }
}

fn place(names: &mut Vec<String>, name: &str) -> usize {
    let known = names.iter().position(|other| other == name);
    known.unwrap_or_else(|| {
        names.push(name.to_owned());
        names.len() - 1
    })
}

/// Minutes from midnight of the day.
fn minute(shown: &str, days: RecordDays) -> Result<i64, String> {
    let midnight = days.date.at(0, 0, 0, 0);
    if let Ok(time) = DateTime::strptime(TIME, shown) {
        return Ok(time.duration_since(midnight).as_mins());
    }
    let ms = clock::moment(shown).ok_or_else(|| {
        format!("clock is \"{shown}\"; it has to be as \"day 2 14:05\" or as 2031-05-02 14:05")
    })?;
    let minutes = i64::try_from(ms / 60_000).unwrap_or(i64::MAX);
    let begun = days.day_1.at(0, 0, 0, 0);
    let at = begun.checked_add(minutes.minutes());
    let at = at.map_err(|_| format!("clock is \"{shown}\"; that is too late a date"))?;
    Ok(at.duration_since(midnight).as_mins())
}
