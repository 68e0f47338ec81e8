//! Reads a log by its map.

use std::io::Read;

use csv::{Position, ReaderBuilder, StringRecord, Trim};

use super::map::{FeederMap, LogMap, Measured, ProbeMap};
use super::time::{Form, minute_of_day};
use crate::audit::{
    Bounds, Columns, FeederColumns, FeederRow, Log, ProbeColumns, Reading, Row, usual_ms,
};
use crate::csv_errors::{csv_error, wrong};
use crate::plant::Product;
use crate::scenario::InputError;

/// Microlitres in a litre.
const UL: f64 = 1e6;
/// Milligrams in a gram.
const MG: f64 = 1e3;

/// A column by its place, with its name for messages.
#[derive(Clone)]
struct At {
    place: usize,
    name: String,
    scale: f64,
}

/// The columns of a feeder that the map names.
#[derive(Clone, Default)]
struct FeederAt {
    drive: Option<At>,
    on_time: Option<At>,
    amount: Option<At>,
    command: Option<At>,
    level: Option<At>,
}

#[derive(Clone, Default)]
struct ProbeAt {
    value: Option<At>,
    ok: Option<At>,
    age: Option<At>,
}

struct Reader<'m> {
    map: &'m LogMap,
    time: At,
    of_day: Option<At>,
    flow_switch: Option<At>,
    flow_meter: Option<(At, f64)>,
    power: Option<At>,
    ph: ProbeAt,
    orp: ProbeAt,
    /// In the order of the site's feeders.
    feeders: Vec<FeederAt>,
}

/// A field as a number, with how many places it was written.
type Number = (f64, i32);

/// Reads a log. `file` is only for messages; feeders stand in the order of `bounds`.
///
/// # Errors
/// The first mistake: where it stands, and what would be right.
pub fn read_log(
    file: &str,
    from: impl Read,
    map: &LogMap,
    bounds: &Bounds,
) -> Result<Log, InputError> {
    let mut reader = ReaderBuilder::new()
        .trim(Trim::All)
        .delimiter(map.separator)
        .from_reader(from);
    let header = reader.headers().map_err(|error| csv_error(file, &error))?;
    let names: Vec<String> = header
        .iter()
        .map(|name| name.trim_start_matches('\u{feff}').to_owned())
        .collect();
    let columns = Reader::of(map, bounds, &names).map_err(|what| wrong(file, 1, what))?;
    let mut log = Log {
        name: file.to_owned(),
        columns: columns.columns(bounds),
        rows: Vec::new(),
        gap_ms: 0.0,
    };
    let mut first_ms = None;
    let mut record = StringRecord::new();
    while reader
        .read_record(&mut record)
        .map_err(|error| csv_error(file, &error))?
    {
        let line = record.position().map_or(0, Position::line);
        let (row, at_ms) = columns
            .row(&record, line, &mut log.columns)
            .map_err(|what| wrong(file, line, what))?;
        let first_ms = *first_ms.get_or_insert(at_ms);
        let at_ms = at_ms - first_ms;
        if let Some(last) = log.rows.last()
            && at_ms <= last.at_ms
        {
            let what = format!(
                "the row is at {}, not after the one before (line {}, {}); rows have to come in the order of time",
                row.clock, last.line, last.clock
            );
            return Err(wrong(file, line, what));
        }
        log.rows.push(Row { at_ms, ..row });
    }
    if log.rows.len() < 2 {
        let what = format!(
            "the log has {} rows under its names; it has to have two at least",
            log.rows.len()
        );
        return Err(wrong(file, 1, what));
    }
    log.gap_ms = map.gap_ms.unwrap_or_else(|| 2.0 * usual_ms(&log.rows));
    Ok(log)
}

impl<'m> Reader<'m> {
    fn of(map: &'m LogMap, bounds: &Bounds, names: &[String]) -> Result<Self, String> {
        let find = |name: &String, scale: f64| -> Result<At, String> {
            let mut places = (0..names.len()).filter(|place| names[*place] == *name);
            match (places.next(), places.next()) {
                (Some(place), None) => Ok(At {
                    place,
                    name: name.clone(),
                    scale,
                }),
                (Some(_), Some(_)) => Err(format!("column `{name}` stands twice")),
                (None, _) => {
                    let all = names.join(", ");
                    Err(format!(
                        "column `{name}`, which the map names, is missing; the log has {all}"
                    ))
                }
            }
        };
        let plain = |name: &Option<String>| name.as_ref().map(|name| find(name, 1.0)).transpose();
        let unit = |of: &Option<Measured>, ours: f64| {
            of.as_ref()
                .map(|of| find(&of.column, of.scale * ours))
                .transpose()
        };
        let probe = |of: &ProbeMap| -> Result<ProbeAt, String> {
            Ok(ProbeAt {
                value: unit(&of.value, 1.0)?,
                ok: plain(&of.ok)?,
                age: unit(&of.age, 1.0)?,
            })
        };
        let mut feeders = vec![FeederAt::default(); bounds.feeders.len()];
        for of in &map.feeders {
            let at = feeder_of(of, bounds)?;
            let ours = if of.is_mass { MG } else { UL };
            feeders[at] = FeederAt {
                drive: plain(&of.drive)?,
                on_time: unit(&of.on_time, 1.0)?,
                amount: unit(&of.amount, ours)?,
                command: plain(&of.command)?,
                level: plain(&of.level)?,
            };
        }
        let meter = map.flow_meter.as_ref();
        Ok(Self {
            map,
            time: find(&map.time, 1.0)?,
            of_day: plain(&map.of_day)?,
            flow_switch: plain(&map.flow_switch)?,
            flow_meter: meter
                .map(|(of, flows_at)| Ok::<_, String>((find(&of.column, of.scale)?, *flows_at)))
                .transpose()?,
            power: plain(&map.power)?,
            ph: probe(&map.ph)?,
            orp: probe(&map.orp)?,
            feeders,
        })
    }

    /// What the log has.
    fn columns(&self, bounds: &Bounds) -> Columns {
        let probe = |at: &ProbeAt, map: &ProbeMap| ProbeColumns {
            value: at.value.is_some(),
            half_place: 0.0,
            ok: at.ok.is_some(),
            age: at.age.is_some(),
            flat_after_ms: map.flat_after_ms,
        };
        let feeders = self.feeders.iter().map(|at| FeederColumns {
            drive: at.drive.is_some(),
            on_time: at.on_time.is_some(),
            amount: at.amount.is_some(),
            command: at.command.is_some(),
            level: at.level.is_some(),
        });
        Columns {
            flow: self.flow_switch.is_some() || self.flow_meter.is_some(),
            power: self.power.is_some(),
            time_of_day: self.of_day.is_some() || !matches!(self.map.form, Form::Count { .. }),
            ph: probe(&self.ph, &self.map.ph),
            orp: probe(&self.orp, &self.map.orp),
            half_amount: vec![0.0; bounds.feeders.len()],
            half_on_ms: vec![0.0; bounds.feeders.len()],
            feeders: feeders.collect(),
        }
    }

    /// A row and its time, ms. `columns` learns how many places are written.
    fn row(
        &self,
        record: &StringRecord,
        line: u64,
        columns: &mut Columns,
    ) -> Result<(Row, f64), String> {
        let shown = record.get(self.time.place).unwrap_or("");
        let time = self.map.form.read(shown, self.map.decimal).ok_or_else(|| {
            let (name, example) = (&self.time.name, self.map.form.example());
            format!("{name} is \"{shown}\"; it has to be {example}")
        })?;
        let minute = match &self.of_day {
            None => time.minute,
            Some(at) => {
                let shown = record.get(at.place).unwrap_or("");
                let name = &at.name;
                Some(minute_of_day(shown).ok_or_else(|| {
                    format!("{name} is \"{shown}\"; it has to end in the time of the day, as 14:05")
                })?)
            }
        };
        let flag = |at: &Option<At>| at.as_ref().map_or(Ok(None), |at| flag(record, at));
        let mut feeders = Vec::with_capacity(self.feeders.len());
        for (index, at) in self.feeders.iter().enumerate() {
            let amount = |at: &Option<At>, half: &mut f64| -> Result<Option<f64>, String> {
                let Some(at) = at else { return Ok(None) };
                let read = self.number(record, at)?;
                let value = read.map(|read| learn(read, at, half));
                match value {
                    Some(value) if value < 0.0 => {
                        let shown = record.get(at.place).unwrap_or("");
                        Err(format!(
                            "{} is \"{shown}\"; it has to be 0 or more",
                            at.name
                        ))
                    }
                    _ => Ok(value),
                }
            };
            feeders.push(FeederRow {
                drive: flag(&at.drive)?,
                on_ms: amount(&at.on_time, &mut columns.half_on_ms[index])?,
                amount: amount(&at.amount, &mut columns.half_amount[index])?,
                command: flag(&at.command)?,
                stock: flag(&at.level)?,
            });
        }
        let row = Row {
            line,
            at_ms: 0.0,
            clock: self
                .of_day
                .as_ref()
                .map_or(shown, |at| record.get(at.place).unwrap_or(""))
                .to_owned(),
            minute,
            flow: self.flow(record)?,
            powered: flag(&self.power)?,
            ph: self.reading(record, &self.ph, &mut columns.ph.half_place)?,
            orp: self.reading(record, &self.orp, &mut columns.orp.half_place)?,
            feeders,
        };
        Ok((row, time.at_ms))
    }

    /// Flow, by every witness that the log has.
    fn flow(&self, record: &StringRecord) -> Result<Option<bool>, String> {
        let mut witnesses = Vec::new();
        if let Some(at) = &self.flow_switch {
            witnesses.push(flag(record, at)?);
        }
        if let Some((at, flows_at)) = &self.flow_meter {
            let flow = self.number(record, at)?;
            witnesses.push(flow.map(|(flow, _)| flow * at.scale >= *flows_at));
        }
        Ok(match witnesses.contains(&Some(false)) {
            true => Some(false),
            false if witnesses.contains(&None) || witnesses.is_empty() => None,
            false => Some(true),
        })
    }

    fn reading(
        &self,
        record: &StringRecord,
        at: &ProbeAt,
        half: &mut f64,
    ) -> Result<Reading, String> {
        let mut reading = Reading::default();
        if let Some(at) = &at.value {
            reading.value = self.number(record, at)?.map(|read| learn(read, at, half));
        }
        if let Some(at) = &at.ok {
            reading.ok = flag(record, at)?;
        }
        if let Some(at) = &at.age {
            reading.age_ms = self.number(record, at)?.map(|(age, _)| age * at.scale);
        }
        Ok(reading)
    }

    /// A field as a number; `None` if it is empty.
    fn number(&self, record: &StringRecord, at: &At) -> Result<Option<Number>, String> {
        let shown = record.get(at.place).unwrap_or("");
        if shown.is_empty() {
            return Ok(None);
        }
        let text = match self.map.decimal {
            ',' => shown.replace('.', "x").replace(',', "."),
            _ => shown.to_owned(),
        };
        let number: Option<f64> = text.parse().ok().filter(|n: &f64| n.is_finite());
        let number = number.ok_or_else(|| {
            format!(
                "{} is \"{shown}\"; it has to be a number such as 7{}5, or empty where it is not known",
                at.name, self.map.decimal
            )
        })?;
        let places = text.split_once('.').map_or(0, |(_, places)| places.len());
        Ok(Some((number, i32::try_from(places).unwrap_or(0))))
    }
}

/// Which of the site's feeders a feeder of the map is.
fn feeder_of(of: &FeederMap, bounds: &Bounds) -> Result<usize, String> {
    let names = || bounds.feeders.iter().map(|feeder| feeder.name.as_str());
    let name = &of.name;
    let at = names().position(|other| other == name).ok_or_else(|| {
        let all = names().collect::<Vec<_>>().join(", ");
        format!("the map has a feeder \"{name}\", which the site has not; it has {all}")
    })?;
    let is_mass = bounds.feeders[at].product == Product::GeneratorChlorine;
    if of.amount.is_some() && of.is_mass != is_mass {
        let right = if is_mass {
            "a mass, such as g"
        } else {
            "a volume, such as mL"
        };
        return Err(format!(
            "amount_unit of the map's feeder \"{name}\" has to be {right}"
        ));
    }
    Ok(at)
}

/// The value in our unit; learns the finest place that the log writes of it.
fn learn((number, places): Number, at: &At, half: &mut f64) -> f64 {
    // Powers of ten by multiplying: the same bits everywhere.
    let place = (0..places.min(12)).fold(1.0, |place, _| place * 0.1);
    let of_this = 0.5 * place * at.scale;
    *half = if *half > 0.0 {
        half.min(of_this)
    } else {
        of_this
    };
    number * at.scale
}

fn flag(record: &StringRecord, at: &At) -> Result<Option<bool>, String> {
    let shown = record.get(at.place).unwrap_or("");
    match shown.to_ascii_lowercase().as_str() {
        "" => Ok(None),
        "1" | "on" | "yes" | "true" => Ok(Some(true)),
        "0" | "off" | "no" | "false" => Ok(Some(false)),
        _ => Err(format!(
            "{} is \"{shown}\"; it has to be 1, on, yes or true, 0, off, no or false, or empty where it is not known",
            at.name
        )),
    }
}
