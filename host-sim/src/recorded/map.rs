//! Which column of a log is what, and in which unit.

use std::path::Path;

use toml::de::DeTable;

use super::time::Form;
use crate::audit::Bounds;
use crate::plant::Product;
use crate::scenario::error::InputError;
use crate::scenario::quantity::{self, Kind};
use crate::scenario::table::{Source, Table};
use crate::scenario::text_of;

type Read<T> = Result<T, InputError>;

/// A column with a unit: its name, and how much of ours one of its is.
#[derive(Clone, Debug, PartialEq)]
pub struct Measured {
    /// Its name in the log.
    pub column: String,
    /// One of its units, in ours.
    pub scale: f64,
}

/// Columns of a probe. pH, or mV.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ProbeMap {
    /// Its readings.
    pub value: Option<Measured>,
    /// Whether the controller trusts it.
    pub ok: Option<String>,
    /// Age of the reading, ms.
    pub age: Option<Measured>,
    /// A reading that has not changed for so long stands still, ms.
    pub flat_after_ms: Option<f64>,
}

/// Columns of a feeder.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct FeederMap {
    /// Its name at the site.
    pub name: String,
    /// The drive's state at the row.
    pub drive: Option<String>,
    /// Drive-on time since the row before, ms.
    pub on_time: Option<Measured>,
    /// Amount since the row before, L or g.
    pub amount: Option<Measured>,
    /// Its amounts are masses, of the chlorine that a generator makes.
    pub is_mass: bool,
    /// The command to the drive at the row.
    pub command: Option<String>,
    /// Its drum's level switch: 1 while it sees product.
    pub level: Option<String>,
}

/// How a log is to be read. A column that it does not name is one that the log does not have.
#[derive(Clone, Debug, PartialEq)]
pub struct LogMap {
    /// Between two fields.
    pub separator: u8,
    /// Before the places of a number.
    pub decimal: char,
    /// The column of time.
    pub time: String,
    /// How time is written.
    pub form: Form,
    /// A column that ends in the time of the day, as 14:05.
    pub of_day: Option<String>,
    /// Rows further apart than this have a gap between them, ms; `None`: twice what is usual.
    pub gap_ms: Option<f64>,
    /// Flow switch: 1 while water flows.
    pub flow_switch: Option<String>,
    /// Flow meter, L/h, and the flow at and over which water counts as flowing.
    pub flow_meter: Option<(Measured, f64)>,
    /// Power of the controller.
    pub power: Option<String>,
    /// pH.
    pub ph: ProbeMap,
    /// ORP, mV.
    pub orp: ProbeMap,
    /// Feeders.
    pub feeders: Vec<FeederMap>,
}

impl LogMap {
    /// Reads a map from the text of a file; `file` is only for messages.
    ///
    /// # Errors
    /// The first mistake, with its place and what would be right.
    pub fn parse(file: &str, text: &str) -> Result<Self, InputError> {
        let source = Source::new(file, text);
        let parsed = DeTable::parse(text).map_err(|error| {
            let span = error.span().unwrap_or(0..0);
            source.error(&span, error.message().replace('\n', "; "))
        })?;
        let root = Table::root(&source, parsed.get_ref());
        let map = map(&root)?;
        root.close()?;
        Ok(map)
    }

    /// Reads a map from a file.
    ///
    /// # Errors
    /// As [`LogMap::parse`], or that the file cannot be read.
    pub fn load(path: &Path) -> Result<Self, InputError> {
        Self::parse(&path.display().to_string(), &text_of(path)?)
    }

    /// The map of what `dosewarden run --trace` writes.
    #[must_use]
    pub fn of_trace(bounds: &Bounds) -> Self {
        let measured = |column: String, scale: f64| Some(Measured { column, scale });
        let feeders = bounds.feeders.iter().map(|feeder| {
            let (unit, scale) = match feeder.product {
                Product::GeneratorChlorine => ("g", 1.0),
                Product::Acid | Product::Hypochlorite => ("ml", 1e-3),
            };
            let name = &feeder.name;
            FeederMap {
                name: name.clone(),
                on_time: measured(format!("{name}_on_ms"), 1.0),
                amount: measured(format!("{name}_fed_{unit}"), scale),
                is_mass: feeder.product == Product::GeneratorChlorine,
                ..FeederMap::default()
            }
        });
        let probe = |column: &str| ProbeMap {
            value: measured(column.to_owned(), 1.0),
            ..ProbeMap::default()
        };
        Self {
            separator: b',',
            decimal: '.',
            time: "seconds".to_owned(),
            form: Form::Count { unit_ms: 1000.0 },
            of_day: Some("clock".to_owned()),
            gap_ms: None,
            flow_switch: Some("moving".to_owned()),
            flow_meter: None,
            power: Some("powered".to_owned()),
            ph: probe("ph_shown"),
            orp: probe("orp_shown_mv"),
            feeders: feeders.collect(),
        }
    }
}

fn map(root: &Table<'_, '_>) -> Read<LogMap> {
    let separator = match root.find("separator") {
        None => b',',
        Some(entry) => entry.choice(&[(",", b','), (";", b';'), ("tab", b'\t'), ("|", b'|')])?,
    };
    let decimal = match root.find("decimal") {
        None => '.',
        Some(entry) => entry.choice(&[(".", '.'), (",", ',')])?,
    };
    if decimal == ',' && separator == b',' {
        let what =
            "`decimal` and `separator` are both \",\"; one of them has to be another".to_owned();
        return Err(root.error_at("decimal", what));
    }
    let time = root.table("time")?;
    let forms = [
        ("date", Form::Date),
        ("day clock", Form::DayClock),
        ("ms", Form::Count { unit_ms: 1.0 }),
        ("seconds", Form::Count { unit_ms: 1000.0 }),
        ("minutes", Form::Count { unit_ms: 60_000.0 }),
    ];
    let (column, form) = (
        time.words("column")?.to_owned(),
        time.choice("form", &forms)?,
    );
    let gap_ms = found_time(&time, "gap_over", "1 s")?;
    let of_day = column_of(&time, "of_day")?;
    time.close()?;
    let (mut flow_switch, mut flow_meter) = (None, None);
    if let Some(flow) = root.find_table("flow")? {
        flow_switch = column_of(&flow, "switch")?;
        if let Some(meter) = measured(&flow, "meter", "meter_unit", Kind::LiquidRate, 1.0)? {
            let at = flow.quantity("flows_at", Kind::LiquidRate, "1 L/min", "50000 L/min")?;
            flow_meter = Some((meter, at));
        }
        flow.close()?;
    }
    let mut power = None;
    if let Some(of) = root.find_table("power")? {
        power = Some(of.words("column")?.to_owned());
        of.close()?;
    }
    Ok(LogMap {
        separator,
        decimal,
        time: column,
        form,
        of_day,
        gap_ms,
        flow_switch,
        flow_meter,
        power,
        ph: probe(root, "ph", Kind::Ph)?,
        orp: probe(root, "orp", Kind::Potential)?,
        feeders: feeders(root)?,
    })
}

fn column_of(t: &Table<'_, '_>, key: &'static str) -> Read<Option<String>> {
    let found = t.find(key).map(|entry| entry.words()).transpose()?;
    Ok(found.map(str::to_owned))
}

fn found_time(t: &Table<'_, '_>, key: &'static str, least: &str) -> Read<Option<f64>> {
    let found = t
        .find(key)
        .map(|entry| entry.quantity(Kind::Time, least, "365 days"));
    Ok(found.transpose()?.map(|s| s * 1000.0))
}

/// A column and its unit, if the column is named. `ours`: how much of ours one of the kind's own unit is.
fn measured(
    t: &Table<'_, '_>,
    key: &'static str,
    unit_key: &'static str,
    kind: Kind,
    ours: f64,
) -> Read<Option<Measured>> {
    let Some(column) = column_of(t, key)? else {
        return Ok(None);
    };
    let example = kind.example();
    let unit = example.split_once(' ').map_or(example, |(_, unit)| unit);
    let entry = t.need(unit_key, &format!("\"{unit}\""))?;
    let word = entry.words()?;
    let one = match kind {
        Kind::Ph if word == "pH" => 1.0,
        _ => match quantity::parse(&format!("1 {word}")) {
            Ok(read) if read.kind == kind && kind != Kind::Ph => read.value,
            Err(error @ quantity::QuantityError::Ambiguous { .. }) => {
                return Err(entry.error(format!("`{unit_key}` {error}")));
            }
            _ => {
                let what = format!(
                    "`{unit_key}` is \"{word}\"; it has to be a unit of {}, such as \"{unit}\"",
                    kind.name()
                );
                return Err(entry.error(what));
            }
        },
    };
    Ok(Some(Measured {
        column,
        scale: one * ours,
    }))
}

fn probe(root: &Table<'_, '_>, key: &'static str, kind: Kind) -> Read<ProbeMap> {
    let Some(t) = root.find_table(key)? else {
        return Ok(ProbeMap::default());
    };
    let value = match kind {
        Kind::Ph => column_of(&t, "column")?.map(|column| Measured { column, scale: 1.0 }),
        _ => measured(&t, "column", "unit", kind, 1.0)?,
    };
    let map = ProbeMap {
        value,
        ok: column_of(&t, "ok")?,
        age: measured(&t, "age", "age_unit", Kind::Time, 1000.0)?,
        flat_after_ms: found_time(&t, "flat_after", "1 s")?,
    };
    t.close()?;
    Ok(map)
}

fn feeders(root: &Table<'_, '_>) -> Read<Vec<FeederMap>> {
    let mut feeders: Vec<FeederMap> = Vec::new();
    for t in root.tables("feeder")? {
        let name = t.words("name")?.to_owned();
        if feeders.iter().any(|other| other.name == name) {
            let what = format!("a second feeder is named \"{name}\"; each can stand here once");
            return Err(t.error_at("name", what));
        }
        // A mass is of chlorine that a generator makes.
        let is_mass = t.find("amount_unit").is_some_and(|unit| {
            let word = unit.words().unwrap_or("");
            quantity::parse(&format!("1 {word}")).is_ok_and(|read| read.kind == Kind::Mass)
        });
        let kind = if is_mass { Kind::Mass } else { Kind::Volume };
        feeders.push(FeederMap {
            name,
            drive: column_of(&t, "drive")?,
            on_time: measured(&t, "on_time", "on_time_unit", Kind::Time, 1000.0)?,
            amount: measured(&t, "amount", "amount_unit", kind, 1.0)?,
            is_mass,
            command: column_of(&t, "command")?,
            level: column_of(&t, "level")?,
        });
        t.close()?;
    }
    if feeders.is_empty() {
        return Err(root.error("the map has no [[feeder]]; a log is judged by what was fed"));
    }
    Ok(feeders)
}
