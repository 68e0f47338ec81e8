//! `dosewarden day`.

use std::fs::File;
use std::io::{BufReader, Write};
use std::path::{Path, PathBuf};

use clap::Args;
use dosewarden::day_log::Code;

use super::{BAD_INPUT, BROKEN, HELD, listed, output};
use crate::day::{Asked, DaySheet, Record, Wanted, page};
use crate::plan::ALL_CODES;
use crate::season::load;

const EXAMPLE: &str = "\
LOG.csv is that of `visit`: a row for each test, as

  2031-05-02 07:05,test,ph,pH 7.4,
  2031-05-02 07:05,test,free_chlorine,1.6 mg/L,
  2031-05-02 21:00,bathers,,212,

RECORD.csv is what `run --trace` writes, or what a device wrote with the same names: clock (\"day 2 14:05\", or
2031-05-02 14:05), and of ph_shown, orp_shown_mv, flow_l_min, moving, powered, FEEDER_fed_ml (or _fed_g),
FEEDER_refused_by and alarms those that there are. A column that is not there is not known.

Of a site with two bodies of water each row of the log names its own in a column `body`, or --body says whose log it is;
the record's column `body` says which is selected.

The file of the site names its code under [site], as code = \"california\" or as a list. Codes: mahc, california, ohio,
delaware, quebec, montana, all. Their limits are published ones as far as they were read;
your local code decides. Nothing here calls a pool open, and none of it is a certified safety function.";

fn codes() -> Vec<&'static str> {
    let all = Code::ALL.iter().map(|code| code.name());
    all.chain([ALL_CODES]).collect()
}

/// What `day` is told.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLE)]
pub(super) struct DayArguments {
    /// The site, as for `plan`.
    site: PathBuf,
    /// The log of tests, as for `visit`.
    log: PathBuf,
    /// Hours in which people may be in the water, as 07:00-21:00.
    #[arg(long, value_name = "FROM-TO")]
    hours: String,
    /// What the unit recorded of its probes; without it a test is due each 4 h.
    #[arg(long, value_name = "RECORD.csv")]
    record: Option<PathBuf>,
    /// Date of the record's `day 1`, if it is another one than the day.
    #[arg(long, value_name = "DATE", requires = "record")]
    day_1: Option<String>,
    /// The day; without it that of the log's last row.
    #[arg(long, value_name = "DATE")]
    date: Option<String>,
    /// How far the day is, as 14:00; without it all of the hours.
    #[arg(long, value_name = "TIME")]
    until: Option<String>,
    /// Held to this code in place of the site's own `code`; may stand several times.
    #[arg(long, value_name = "CODE", hide_possible_values = true, value_parser = listed::text_of(codes))]
    code: Vec<String>,
    /// The body of water, of a site with two; without it the one that the log's column `body` names.
    #[arg(long, value_name = "NAME")]
    body: Option<String>,
    /// Writes the day as CSV.
    #[arg(long, value_name = "FILE.csv")]
    csv: Option<PathBuf>,
    /// Writes a page to print and sign.
    #[arg(long, value_name = "FILE.html")]
    report: Option<PathBuf>,
    /// Writes everything as JSON.
    #[arg(long, value_name = "FILE.json")]
    json: Option<PathBuf>,
}

/// Reads, prints and writes; gives the exit status.
pub(super) fn day(arguments: &DayArguments) -> u8 {
    match try_day(arguments) {
        Ok(code) => code,
        Err(why) => {
            eprintln!("error: {why}");
            BAD_INPUT
        }
    }
}

fn try_day(arguments: &DayArguments) -> Result<u8, String> {
    let loaded = load(&arguments.site, &arguments.log);
    let (site, _, log) = loaded.map_err(|error| error.to_string())?;
    let wanted = Wanted {
        date: arguments.date.as_deref(),
        hours: &arguments.hours,
        until: arguments.until.as_deref(),
        codes: &arguments.code,
        body: arguments.body.as_deref(),
    };
    let asked = Asked::parse(&site, &log, &wanted)?;
    let days = asked.record_days(arguments.day_1.as_deref())?;
    let mut record = None;
    if let Some(path) = &arguments.record {
        let name = path.display().to_string();
        let file = File::open(path).map_err(|error| format!("{name}: cannot be read: {error}"))?;
        let read = Record::read(&name, BufReader::new(file), &site, days);
        record = Some(read.map_err(|error| error.to_string())?);
    }
    let found = DaySheet::of(&site, &log, record.as_ref(), &asked);
    let mut text = found.to_string();
    for path in write(arguments, &found)? {
        text.push_str(&format!("Wrote {}\n", path.display()));
    }
    output::print(&text)?;
    Ok(if found.has_something_wrong() {
        BROKEN
    } else {
        HELD
    })
}

/// Writes what was asked for, none of it before all can be; no file over another one.
fn write(arguments: &DayArguments, found: &DaySheet) -> Result<Vec<PathBuf>, String> {
    let json = serde_json::to_string_pretty(found).map_err(|error| error.to_string())? + "\n";
    let csv = found.csv().map_err(|error| error.to_string())?;
    let page = page(found).map_err(|error| format!("{error:#}"))?;
    let read = [
        Some(&arguments.site),
        Some(&arguments.log),
        arguments.record.as_ref(),
    ];
    let mut taken: Vec<&Path> = read.into_iter().flatten().map(PathBuf::as_path).collect();
    let mut begun = Vec::new();
    for (path, text) in [
        (&arguments.json, &json),
        (&arguments.csv, &csv),
        (&arguments.report, &page),
    ] {
        let Some(path) = path else { continue };
        if taken.iter().any(|other| output::same(other, path)) {
            let path = path.display();
            return Err(format!("{path}: would be written over another file"));
        }
        taken.push(path);
        let mut out = output::begin(path)?;
        out.write_all(text.as_bytes())
            .map_err(|error| error.to_string())?;
        begun.push(out);
    }
    output::keep_all(begun)
}
