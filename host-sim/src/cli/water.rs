//! `dosewarden water`.

use std::fs::File;
use std::io::Write;
use std::path::{Path, PathBuf};

use clap::Args;
use csv::{Reader, ReaderBuilder, StringRecord, Trim, WriterBuilder};
use schemars::JsonSchema;
use serde::Serialize;

use super::HELD;
use super::failed::Failed;
use super::output;
use crate::scenario::InputError;
use crate::water::{Reagent, WaterTest};

/// Columns that have to be there.
const NEEDED: [&str; 5] = ["temp_c", "ta_mg_l", "ca_mg_l", "tds_mg_l", "ph"];
/// Columns that may be there, also with empty fields.
const OPTIONAL: [&str; 3] = ["to_ph", "cya_mg_l", "borate_mg_l"];
/// Columns that are added.
const ADDED: [&str; 3] = ["si_calcite", "dic_mmol_l", "hcl_mmol_l"];

const EXAMPLE: &str = "\
Columns of IN.csv: temp_c (C), ta_mg_l (total alkalinity as CaCO3, cyanurate and borate in it), ca_mg_l
(calcium hardness as CaCO3), tds_mg_l, ph. Optional: to_ph, cya_mg_l (cyanuric acid), borate_mg_l (as boron).
OUT.csv has all of them and: si_calcite (saturation index), dic_mmol_l (dissolved inorganic carbon),
hcl_mmol_l (acid from ph to to_ph, negative if it takes a base; empty without to_ph).

Example:
  $ cat waters.csv
  temp_c,ta_mg_l,ca_mg_l,tds_mg_l,ph,to_ph,cya_mg_l
  25,100,300,1000,7.8,7.2,
  28,80,250,1500,7.6,,50
  $ dosewarden water --batch waters.csv --out balance.csv

hcl_mmol_l / 9.971 is litres of 31.45 % acid for each m3. Computed, not certified: add acid in parts, test
again, keep to your local code. Never mix acid and hypochlorite.";

/// What `water` is told.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLE)]
pub(super) struct WaterArguments {
    /// Water tests, a row each.
    #[arg(long, value_name = "IN.csv")]
    batch: PathBuf,
    /// Where the rows go with what follows from them.
    #[arg(long, value_name = "OUT.csv")]
    out: PathBuf,
    /// Writes the same rows as JSON.
    #[arg(long, value_name = "FILE.json")]
    json: Option<PathBuf>,
}

/// A row with what follows from it, as in the CSV. Hardness and alkalinity are as CaCO3.
#[derive(Debug, Serialize, JsonSchema)]
pub(super) struct WaterRow {
    /// Temperature, C.
    temp_c: f64,
    /// Total alkalinity, that of cyanurate and borate in it, mg/L as CaCO3.
    ta_mg_l: f64,
    /// Calcium hardness, mg/L as CaCO3.
    ca_mg_l: f64,
    /// Dissolved solids, mg/L.
    tds_mg_l: f64,
    /// pH.
    ph: f64,
    /// pH that is wanted.
    to_ph: Option<f64>,
    /// Cyanuric acid, mg/L.
    cya_mg_l: Option<f64>,
    /// Borate, mg/L as boron.
    borate_mg_l: Option<f64>,
    /// Saturation index of calcite, a ratio's logarithm; `null` without calcium or carbon.
    si_calcite: Option<f64>,
    /// Dissolved inorganic carbon, mmol/L.
    dic_mmol_l: f64,
    /// Acid from `ph` to `to_ph`, mmol/L, negative if it takes a base; `null` without `to_ph`.
    hcl_mmol_l: Option<f64>,
}

/// Reads, computes and writes; gives the exit status.
pub(super) fn water(arguments: &WaterArguments) -> u8 {
    match try_water(arguments) {
        Ok(()) => HELD,
        Err(failed) => failed.tell(),
    }
}

fn try_water(arguments: &WaterArguments) -> Result<(), Failed> {
    let WaterArguments { batch, out, json } = arguments;
    if output::same(batch, out) {
        return Err(format!(
            "{}: would be written over the rows that are read; name another file",
            out.display()
        )
        .into());
    }
    let file = File::open(batch).map_err(|error| format!("{}: {error}", batch.display()))?;
    let mut reader = ReaderBuilder::new().trim(Trim::All).from_reader(file);
    let columns = Columns::of(&mut reader, batch)?;
    let mut text = Vec::new();
    let rows = {
        let mut writer = WriterBuilder::new().from_writer(&mut text);
        let rows = columns.each(&mut reader, batch, &mut writer)?;
        writer.flush().map_err(|error| error.to_string())?;
        rows
    };
    let text = String::from_utf8(text).map_err(|error| error.to_string())?;
    let files = [
        (Some(out.as_path()), text.as_str()),
        (json.as_deref(), &output::json(&rows)?),
    ];
    let mut told = String::new();
    for path in output::write_all(&[batch], &files)? {
        told.push_str(&format!(
            "Wrote {} with {} rows\n",
            path.display(),
            rows.len()
        ));
    }
    Ok(output::print(&told)?)
}

/// Where each known column stands.
struct Columns {
    header: StringRecord,
    needed: [usize; NEEDED.len()],
    optional: [Option<usize>; OPTIONAL.len()],
}

impl Columns {
    fn of(reader: &mut Reader<File>, batch: &Path) -> Result<Self, InputError> {
        let wrong = |why: String| InputError::of_line(&batch.display().to_string(), 1, why);
        let header = reader
            .headers()
            .map_err(|error| read_error(batch, &error))?
            .clone();
        for (place, name) in header.iter().enumerate() {
            if ADDED.contains(&name) {
                return Err(wrong(format!(
                    "column `{name}` would be added; take it out"
                )));
            }
            if header.len() == 1 && name.contains(';') {
                return Err(wrong(
                    "columns are parted by `;`; they have to be parted by commas, and figures have a point".to_owned(),
                ));
            }
            if !NEEDED.contains(&name) && !OPTIONAL.contains(&name) {
                let known = [NEEDED.as_slice(), OPTIONAL.as_slice()].concat().join(", ");
                return Err(wrong(format!(
                    "column `{name}` is not known; there are {known}"
                )));
            }
            if header.iter().take(place).any(|before| before == name) {
                return Err(wrong(format!("column `{name}` stands twice")));
            }
        }
        let place = |name: &str| header.iter().position(|column| column == name);
        let mut needed = [0; NEEDED.len()];
        for (out, name) in needed.iter_mut().zip(NEEDED) {
            let all = NEEDED.join(", ");
            *out = place(name)
                .ok_or_else(|| wrong(format!("column `{name}` is missing; needed are {all}")))?;
        }
        let optional = OPTIONAL.map(place);
        Ok(Self {
            header,
            needed,
            optional,
        })
    }

    /// Writes every row with what follows from it; gives how many.
    fn each(
        &self,
        reader: &mut Reader<File>,
        batch: &Path,
        writer: &mut csv::Writer<impl Write>,
    ) -> Result<Vec<WaterRow>, InputError> {
        let header = self.header.iter().chain(ADDED);
        writer
            .write_record(header)
            .map_err(|error| read_error(batch, &error))?;
        let mut rows = Vec::new();
        let mut record = StringRecord::new();
        while reader
            .read_record(&mut record)
            .map_err(|error| read_error(batch, &error))?
        {
            let added = self.row(&record).map_err(|why| {
                let line = record.position().map_or(0, csv::Position::line);
                at(batch, line, why)
            })?;
            let fields = record.iter().chain(added.iter().map(String::as_str));
            writer
                .write_record(fields)
                .map_err(|error| read_error(batch, &error))?;
            rows.push(self.data(&record, &added));
        }
        if rows.is_empty() {
            return Err(at(batch, 1, "there is no row under the header".to_owned()));
        }
        Ok(rows)
    }

    /// The same row as data. Its fields were read before.
    fn data(&self, record: &StringRecord, added: &[String; 3]) -> WaterRow {
        let read = |text: &str| text.parse::<f64>().ok();
        let given = |at: usize| record.get(self.needed[at]).and_then(read).unwrap_or(0.0);
        let optional = |at: usize| record.get(self.optional[at]?).and_then(read);
        WaterRow {
            temp_c: given(0),
            ta_mg_l: given(1),
            ca_mg_l: given(2),
            tds_mg_l: given(3),
            ph: given(4),
            to_ph: optional(0),
            cya_mg_l: optional(1),
            borate_mg_l: optional(2),
            si_calcite: read(&added[0]),
            dic_mmol_l: read(&added[1]).unwrap_or(0.0),
            hcl_mmol_l: read(&added[2]),
        }
    }

    fn row(&self, record: &StringRecord) -> Result<[String; 3], String> {
        let mut values = [0.0; NEEDED.len()];
        for ((value, name), place) in values.iter_mut().zip(NEEDED).zip(self.needed) {
            *value = number(name, record.get(place).unwrap_or(""))?
                .ok_or_else(|| format!("{name} is empty; it has to be a number"))?;
        }
        let mut further = [None; OPTIONAL.len()];
        for ((value, name), place) in further.iter_mut().zip(OPTIONAL).zip(self.optional) {
            let text = place.and_then(|place| record.get(place)).unwrap_or("");
            *value = number(name, text)?;
        }
        let [temp_c, ta_mg_l, ca_mg_l, tds_mg_l, ph] = values;
        let [to_ph, cya_mg_l, borate_mg_l] = further;
        let test = WaterTest {
            ph,
            cya_mg_l: cya_mg_l.unwrap_or(0.0),
            borate_mg_l: borate_mg_l.unwrap_or(0.0),
            ..WaterTest::of(temp_c, ta_mg_l, ca_mg_l, tds_mg_l)
        };
        follows(&test, to_ph)
    }
}

/// The added columns of one test.
fn follows(test: &WaterTest, to_ph: Option<f64>) -> Result<[String; 3], String> {
    if let Some(to) = to_ph
        && !(4.0..=10.5).contains(&to)
    {
        return Err(format!("to_ph is {to}; it has to be 4 to 10.5"));
    }
    let water = test.water().map_err(|error| error.to_string())?;
    let eq = water.equilibrium();
    let solved = eq.solve(&water);
    let index = eq.calcite_index(&water, &solved);
    let acid = to_ph.map(|to| {
        let base = eq
            .to_reach(&water, to, Reagent::HYDROXIDE)
            .map(|amount| -amount);
        eq.to_reach(&water, to, Reagent::HYDROCHLORIC).or(base)
    });
    let acid = match acid {
        Some(Some(amount)) => format!("{:.5}", amount * 1000.0),
        Some(None) => return Err("no amount of acid or base brings this water to to_ph".to_owned()),
        None => String::new(),
    };
    // Without calcium or carbon there is no index.
    let index = if index.is_finite() {
        format!("{index:.4}")
    } else {
        String::new()
    };
    Ok([index, format!("{:.5}", water.carbon * 1000.0), acid])
}

/// A field as a number; `None` if it is empty.
fn number(name: &str, text: &str) -> Result<Option<f64>, String> {
    if text.is_empty() {
        return Ok(None);
    }
    match text.parse::<f64>() {
        Ok(value) if value.is_finite() => Ok(Some(value)),
        _ => Err(format!(
            "{name} is `{text}`; it has to be a number such as 7.5"
        )),
    }
}

/// A mistake on a line.
fn at(batch: &Path, line: u64, why: String) -> InputError {
    let line = usize::try_from(line).unwrap_or(usize::MAX);
    InputError::of_line(&batch.display().to_string(), line, why)
}

/// What the reader of CSV says, with its line in front.
fn read_error(batch: &Path, error: &csv::Error) -> InputError {
    let line = error.position().map_or(1, csv::Position::line);
    let why = match error.kind() {
        csv::ErrorKind::UnequalLengths {
            expected_len, len, ..
        } => {
            format!("{len} fields; the header has {expected_len}")
        }
        csv::ErrorKind::Utf8 { .. } => "not UTF-8 text".to_owned(),
        _ => error.to_string(),
    };
    at(batch, line, why)
}
