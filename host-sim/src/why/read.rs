//! Reads the trace that `run --trace` writes, row by row.

use std::io::Read;

use csv::{Position, ReaderBuilder, StringRecord, Trim};
use dosewarden::Obstacle;

use super::token::{self, PHASES};
use crate::csv_errors::{csv_error, wrong};
use crate::scenario::{InputError, clock};

/// A feeder in one row.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct FeederRow {
    /// Amount in this row, in the feeder's unit.
    pub(super) fed: f64,
    pub(super) on_ms: u64,
    pub(super) asked: bool,
    /// `None`: the unit had no power, or does not say.
    pub(super) phase: Option<&'static str>,
    pub(super) obstacles: Box<[Obstacle]>,
}

/// One row.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Row {
    /// ms from midnight before day 1.
    pub(super) clock_ms: u64,
    /// Since the start.
    pub(super) seconds: u64,
    pub(super) powered: bool,
    pub(super) feeders: Vec<FeederRow>,
    /// Index into the trace's names of alarms.
    pub(super) alarms: Box<[usize]>,
}

/// A trace that was read.
#[derive(Clone, Debug, PartialEq)]
pub struct TraceFile {
    pub(super) file: String,
    /// Name and unit of each feeder.
    pub(super) feeders: Vec<(String, &'static str)>,
    pub(super) alarms: Vec<String>,
    /// At least one, in the order of time.
    pub(super) rows: Vec<Row>,
}

type Found<T> = Result<T, InputError>;

/// Where the columns of one feeder stand.
struct FeederColumns {
    fed: usize,
    on_ms: usize,
    asked: usize,
    phase: usize,
    clears: usize,
}

struct Columns {
    clock: usize,
    seconds: usize,
    powered: usize,
    alarms: usize,
    feeders: Vec<FeederColumns>,
}

impl TraceFile {
    /// Reads a trace. `file` is only for messages.
    ///
    /// # Errors
    /// The first mistake: where it stands, and what would be right.
    pub fn read(file: &str, from: impl Read) -> Result<Self, InputError> {
        let mut reader = ReaderBuilder::new().trim(Trim::All).from_reader(from);
        let header = reader
            .headers()
            .map_err(|error| csv_error(file, &error))?
            .clone();
        let (names, columns) = columns(file, &header)?;
        let mut trace = Self {
            file: file.to_owned(),
            feeders: names,
            alarms: Vec::new(),
            rows: Vec::new(),
        };
        let mut record = StringRecord::new();
        while reader
            .read_record(&mut record)
            .map_err(|error| csv_error(file, &error))?
        {
            let line = record.position().map_or(0, Position::line);
            let row = trace
                .row(&columns, &record)
                .map_err(|what| wrong(file, line, what))?;
            trace.rows.push(row);
        }
        if trace.rows.is_empty() {
            let what = "there is no row under the names; a trace has a row a minute".to_owned();
            return Err(wrong(file, 1, what));
        }
        Ok(trace)
    }

    fn row(&mut self, columns: &Columns, record: &StringRecord) -> Result<Row, String> {
        let at = |column: usize| record.get(column).unwrap_or("");
        let shown = at(columns.clock);
        let clock_ms = clock::moment(shown).ok_or_else(|| {
            format!("clock is \"{shown}\"; it has to be a moment such as \"day 2 14:05\"")
        })?;
        let seconds = whole("seconds", at(columns.seconds))?;
        if let Some(last) = self.rows.last()
            && (seconds <= last.seconds || clock_ms < last.clock_ms)
        {
            return Err(format!(
                "the row is at {seconds} s, and the one before at {} s; rows have to come in the order of time",
                last.seconds
            ));
        }
        let mut feeders = Vec::with_capacity(columns.feeders.len());
        for (of, (name, unit)) in columns.feeders.iter().zip(&self.feeders) {
            feeders.push(feeder(of, (name, unit), &at)?);
        }
        let words = at(columns.alarms).split_whitespace();
        let alarms = words.map(|word| self.alarm(word)).collect();
        Ok(Row {
            clock_ms,
            seconds,
            powered: flag("powered", at(columns.powered))?,
            feeders,
            alarms,
        })
    }

    /// The place of an alarm's name, which is kept if it is new.
    fn alarm(&mut self, word: &str) -> usize {
        // The trace has no spaces in a name: `acid:_stock_low`.
        let name = word.replacen(":_", ": ", 1);
        let known = self.alarms.iter().position(|other| *other == name);
        known.unwrap_or_else(|| {
            self.alarms.push(name);
            self.alarms.len() - 1
        })
    }
}

fn feeder<'r>(
    of: &FeederColumns,
    (name, unit): (&str, &str),
    at: &impl Fn(usize) -> &'r str,
) -> Result<FeederRow, String> {
    let column = |rest: &str| format!("{name}_{rest}");
    let fed_name = column(if unit == "g" { "fed_g" } else { "fed_ml" });
    let shown = at(of.fed);
    let fed: Option<f64> = shown.parse().ok();
    let fed = fed.filter(|fed| fed.is_finite() && *fed >= 0.0);
    let fed = fed.ok_or_else(|| {
        format!("{fed_name} is \"{shown}\"; it has to be an amount in {unit}, 0 or more")
    })?;
    let shown = at(of.phase);
    let phase = PHASES.into_iter().find(|phase| *phase == shown);
    if phase.is_none() && !shown.is_empty() {
        let (column, all) = (column("phase"), PHASES.join(", "));
        return Err(format!(
            "{column} is \"{shown}\"; it has to be one of {all}, or empty"
        ));
    }
    let words = at(of.clears).split_whitespace();
    let obstacles = words.map(|word| {
        token::read(word).ok_or_else(|| {
            format!(
                "{} has \"{word}\"; it has to be what stands in the way and what clears it, such as \
                 spread_hold=after_flow:580",
                column("clears")
            )
        })
    });
    Ok(FeederRow {
        fed,
        on_ms: whole(&column("on_ms"), at(of.on_ms))?,
        asked: flag(&column("asked"), at(of.asked))?,
        phase,
        obstacles: obstacles.collect::<Result<_, _>>()?,
    })
}

fn whole(column: &str, shown: &str) -> Result<u64, String> {
    let read = shown.parse().ok();
    read.ok_or_else(|| format!("{column} is \"{shown}\"; it has to be a whole number, 0 or more"))
}

fn flag(column: &str, shown: &str) -> Result<bool, String> {
    match shown {
        "0" => Ok(false),
        "1" => Ok(true),
        _ => Err(format!("{column} is \"{shown}\"; it has to be 0 or 1")),
    }
}

/// Every feeder of which there is any column, so that none is left out for one that is missing.
fn feeder_names(header: &StringRecord) -> Vec<&str> {
    const OF_A_FEEDER: [&str; 7] = [
        "_fed_ml",
        "_fed_g",
        "_on_ms",
        "_asked",
        "_refused_by",
        "_phase",
        "_clears",
    ];
    let mut names = Vec::new();
    for column in header {
        let own = OF_A_FEEDER.iter().find_map(|end| column.strip_suffix(end));
        if let Some(own) = own.filter(|own| !names.contains(own)) {
            names.push(own);
        }
    }
    names
}

/// Where everything stands that is read.
fn columns(file: &str, header: &StringRecord) -> Found<(Vec<(String, &'static str)>, Columns)> {
    let need = |name: &str| {
        header.iter().position(|column| column == name).ok_or_else(|| {
            let what = format!(
                "column `{name}` is missing; a trace is what `dosewarden run --trace FILE.csv` writes, of this version"
            );
            wrong(file, 1, what)
        })
    };
    let mut names = Vec::new();
    let mut feeders = Vec::new();
    for name in feeder_names(header) {
        need(&format!("{name}_refused_by"))?;
        let grams = format!("{name}_fed_g");
        let is_grams = header.iter().any(|column| column == grams);
        let fed = if is_grams {
            need(&grams)?
        } else {
            need(&format!("{name}_fed_ml"))?
        };
        feeders.push(FeederColumns {
            fed,
            on_ms: need(&format!("{name}_on_ms"))?,
            asked: need(&format!("{name}_asked"))?,
            phase: need(&format!("{name}_phase"))?,
            clears: need(&format!("{name}_clears"))?,
        });
        names.push((name.to_owned(), if is_grams { "g" } else { "mL" }));
    }
    let columns = Columns {
        clock: need("clock")?,
        seconds: need("seconds")?,
        powered: need("powered")?,
        alarms: need("alarms")?,
        feeders,
    };
    if names.is_empty() {
        need("FEEDER_refused_by")?;
    }
    Ok((names, columns))
}
