//! `dosewarden visit`.

use std::path::{Path, PathBuf};

use clap::Args;

use super::failed::Failed;
use super::output;
use super::{BROKEN, HELD};
use crate::visit::{Round, page};

const EXAMPLE: &str = "\
LOG.csv has a row an entry. Columns: time,what,of,value,with,note; a line that begins with # is a remark.

  $ cat log.csv
  time,what,of,value,with,note
  2031-05-02 10:00,filled,acid,18 L,,after filling
  2031-05-02 10:00,fed,acid,41.2 L,,the total that the unit shows
  2031-05-02 10:05,test,alkalinity,90 mg/L,,
  2031-05-16 09:40,level,acid,9.5 L,,before filling
  2031-05-16 09:40,fed,acid,46.9 L,,
  2031-05-16 09:45,test,alkalinity,80 mg/L,,
  2031-05-16 09:45,test,ph,pH 7.4,,
  2031-05-16 09:45,shows,ph,pH 7.5,,
  2031-05-16 09:50,catch,acid,26 mL,60 s,
  $ dosewarden visit home-pool.toml log.csv

  what        of                             value           with
  test        ph, alkalinity, free_chlorine, \"80 mg/L\"       empty, or diluted
              total_chlorine, cyanuric_acid,
              calcium, salt, temperature
  shows       ph or orp                      \"702 mV\"        as the unit shows it beside the kit
  level       a feeder                       \"9.5 L\"         its drum as found
  filled      a feeder                       \"18 L\"          its drum after filling
  fed         a feeder                       \"46.9 L\"        the total that the unit shows; g for a cell
  catch       a feeder                       \"26 mL\"         \"60 s\"
  buffer      (ph)                           \"pH 7.05\"       \"pH 7.00\", the buffer's
  reference   (orp)                          \"225 mV\"        \"229 mV\", the solution's
  calibrated  (ph)                           \"96.5 %\" slope  \"-4 mV\" at pH 7
  anchored    (orp)                          \"690 mV\"        \"2.5 mg/L\" of free chlorine
  proved      an interlock of the plan       passed, failed
  water       refill, rain, backwash         \"2.4 m3\"        its alkalinity, if tested
  hand        acid, hypochlorite,            \"500 mL\"        strength, if not the feeder's
              bicarbonate, soda_ash, salt,   \"1.2 kg\"
              calcium_chloride,
              cyanuric_acid, trichlor
  new_part    ph probe, orp probe, tube of F, injection valve of F, cell of F
  hours       a feeder                       \"212 h\"         as the unit shows them
  bathers                                    42              since the last visit
  strength    a feeder of hypochlorite       \"110 g/L\"       as tested, or as it came fresh
  remark                                                     not read

Advice, not a permission, and not certified; local codes and licensed practice come first.";

/// What `visit` is told.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLE)]
pub(super) struct VisitArguments {
    /// The site, as for `plan`; or a folder with pairs NAME.toml and NAME.csv, or a folder for each pool.
    site: PathBuf,
    /// The log of visits. None for a folder.
    log: Option<PathBuf>,
    /// Writes everything as JSON.
    #[arg(long, value_name = "FILE.json")]
    json: Option<PathBuf>,
    /// Writes a page that needs nothing else. Not for a folder.
    #[arg(long, value_name = "FILE.html")]
    report: Option<PathBuf>,
}

/// Reads, prints and writes; gives the exit status.
pub(super) fn visit(arguments: &VisitArguments) -> u8 {
    match try_visit(arguments) {
        Ok(code) => code,
        Err(failed) => failed.tell(),
    }
}

/// What is printed and what is written.
struct Found {
    text: String,
    json: String,
    page: Option<String>,
    is_wrong: bool,
}

fn try_visit(arguments: &VisitArguments) -> Result<u8, Failed> {
    let VisitArguments { site, log, .. } = arguments;
    let site_is_there = site.exists();
    let found = match (site.is_dir(), log) {
        (true, None) => folder(arguments)?,
        (false, Some(log)) => one(site, log)?,
        (true, Some(_)) => {
            return Err(format!(
                "{}: is a folder, and its logs stand in it; name no log",
                site.display()
            )
            .into());
        }
        (false, None) => {
            let site = site.display();
            return Err(match site_is_there {
                true => format!(
                    "{site}: a site's log of visits has to be named after it: dosewarden visit {site} LOG.csv"
                ),
                false => format!(
                    "{site}: is not there; name a site and its log of visits, or a folder with such pairs"
                ),
            }
            .into());
        }
    };
    let mut text = found.text;
    let read: Vec<&Path> = [Some(site), log.as_ref()]
        .into_iter()
        .flatten()
        .map(PathBuf::as_path)
        .collect();
    let report = arguments.report.as_deref();
    let page = found.page.as_deref();
    let files = [
        (arguments.json.as_deref(), found.json.as_str()),
        (page.and(report), page.unwrap_or_default()),
    ];
    for path in output::write_all(&read, &files)? {
        text.push_str(&format!("Wrote {}\n", path.display()));
    }
    output::print(&text)?;
    Ok(if found.is_wrong { BROKEN } else { HELD })
}

fn one(site: &Path, log: &Path) -> Result<Found, Failed> {
    let found = crate::visit::load(site, log)?;
    Ok(Found {
        text: found.to_string(),
        json: output::json(&found)?,
        page: Some(page(&found).map_err(|error| error.to_string())?),
        is_wrong: found.has_something_wrong(),
    })
}

fn folder(arguments: &VisitArguments) -> Result<Found, Failed> {
    if arguments.report.is_some() {
        return Err("--report is for one pool; write one for each"
            .to_owned()
            .into());
    }
    let round = Round::load(&arguments.site)?;
    Ok(Found {
        text: round.to_string(),
        json: output::json(&round)?,
        page: None,
        is_wrong: round.has_something_wrong(),
    })
}
