//! Why a feeder did not feed, from the trace of a run: what stood in the way, since when, what would
//! clear it, and where a person looks first.
//!
//! Invariant: names, words and places to look at are those of the crate `dosewarden`, which a device
//! shows too; what this module adds is time.
//!
//! ```
//! use dosewarden_sim::scenario::Scenario;
//! use dosewarden_sim::why::{Moment, TraceFile, explain};
//! use dosewarden_sim::{DosewardenUnit, run};
//!
//! let mut scenario = Scenario::first_pool();
//! scenario.ends_at_ms = Some(12 * 3_600_000);
//! let (unit, mut csv) = (DosewardenUnit::for_scenario(&scenario), Vec::new());
//! run::run(&scenario, unit, Some(&mut csv), &mut run::Quiet)?;
//!
//! let trace = TraceFile::read("first.csv", csv.as_slice())?;
//! let told = explain(&trace, Moment::parse("day 1 08:00")?, Some("acid"))?;
//! let first = &told.feeders[0].obstacles[0]; // a new unit waits for somebody to begin it
//! assert_eq!(first.name, "locked_record_lost");
//! assert_eq!(first.clears, "by a person");
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

mod read;
#[cfg(test)]
mod tests;
mod text;
mod token;
mod whole;

use dosewarden::{ClearWords, Obstacle};
use serde::Serialize;

use crate::scenario::{InputError, clock};
use read::Row;
pub use read::TraceFile;
pub(crate) use token::tokens;
pub use whole::{Kept, Whole};

/// Version of the JSON's form: a change that a reader would trip over makes it one more.
pub const WHY_VERSION: u32 = 1;

/// Which row of a trace is meant.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Moment {
    /// The last.
    Last,
    /// The one that ends at this time or first after it, ms from midnight before day 1.
    Clock(u64),
    /// The same in seconds since the start.
    Seconds(u64),
}

impl Moment {
    /// Reads a moment as people write it: `day 2 14:05`, or `136500` for seconds since the start.
    ///
    /// # Errors
    /// That it is neither, and what would be right.
    pub fn parse(text: &str) -> Result<Self, String> {
        let text = text.trim();
        let seconds = text.parse().ok().map(Self::Seconds);
        let moment = seconds.or_else(|| clock::moment(text).map(Self::Clock));
        moment.ok_or_else(|| {
            format!(
                "\"{text}\" is not a moment; write it as \"day 2 14:05\", or in seconds since the start, as 136500"
            )
        })
    }
}

/// Since when something stands. A trace has a row a minute: it came between the row before and this.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Since {
    /// Clock of the first row in which it stands.
    pub clock: String,
    /// For how long it stands at least, s.
    pub seconds: u64,
    /// That row is the trace's first: it may have stood before.
    pub from_the_start: bool,
}

/// One thing in the way.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct InTheWay {
    /// Its name: a rule's, or that of the alarm of a lockout.
    pub name: &'static str,
    /// `rule`, `lockout` or `other`.
    pub kind: &'static str,
    /// What is wrong, in words.
    pub words: &'static str,
    /// Since when.
    pub since: Since,
    /// What clears it, in words.
    pub clears: String,
    /// The same as a name.
    pub clears_by: &'static str,
    /// Seconds until then, where it is a time and nothing else comes.
    pub clears_in_s: Option<u32>,
    /// Where a person looks first, in this order.
    pub look_first: Vec<&'static str>,
}

/// An alarm that stands.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct StandingAlarm {
    /// Its name.
    pub name: String,
    /// Since when.
    pub since: Since,
}

/// One feeder at a moment.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct FeederAt {
    /// Its name.
    pub name: String,
    /// `mL`, or `g` of chlorine.
    pub unit: &'static str,
    /// Amount in the row, which is about the time since the one before.
    pub fed: f64,
    /// Drive-on time in it, s.
    pub on_s: f64,
    /// Its regulator asks.
    pub asked: bool,
    /// Its phase; `None`: no power, or the unit does not say.
    pub phase: Option<&'static str>,
    /// Clock of the last row up to here in which it fed.
    pub last_fed: Option<String>,
    /// What stands in the way, the gravest first.
    pub obstacles: Vec<InTheWay>,
    /// The same over the whole trace.
    pub whole: Whole,
}

/// What stood in the way at one moment of a trace.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Explanation {
    /// [`WHY_VERSION`].
    pub version: u32,
    /// The trace, as it was named.
    pub trace: String,
    /// Clock of the row.
    pub clock: String,
    /// Seconds since the start.
    pub seconds: u64,
    /// Time since the row before, s: nothing is known more exactly.
    pub row_s: u64,
    /// The unit had power.
    pub powered: bool,
    /// Feeders, in the order of the trace.
    pub feeders: Vec<FeederAt>,
    /// Alarms of the site and of these feeders.
    pub alarms: Vec<StandingAlarm>,
}

/// Explains one moment of a trace, of one feeder or of all.
///
/// # Errors
/// The trace does not reach that moment, or has no such feeder.
pub fn explain(
    trace: &TraceFile,
    moment: Moment,
    feeder: Option<&str>,
) -> Result<Explanation, InputError> {
    let at = find(trace, moment)?;
    let wanted = match feeder {
        None => (0..trace.feeders.len()).collect(),
        Some(name) => vec![feeder_named(trace, name)?],
    };
    let row = &trace.rows[at];
    let names: Vec<&str> = trace
        .feeders
        .iter()
        .map(|(name, _)| name.as_str())
        .collect();
    // An alarm of a feeder is called `acid: stock_low`.
    let is_wanted = |alarm: &str| {
        let of = alarm.split_once(": ").map(|(name, _)| name);
        of.is_none_or(|of| wanted.iter().any(|w| names.get(*w) == Some(&of)))
    };
    let alarms = row
        .alarms
        .iter()
        .filter(|index| is_wanted(&trace.alarms[**index]));
    Ok(Explanation {
        version: WHY_VERSION,
        trace: trace.file.clone(),
        clock: clock::show(row.clock_ms),
        seconds: row.seconds,
        row_s: row.seconds
            - at.checked_sub(1)
                .map_or(0, |before| trace.rows[before].seconds),
        powered: row.powered,
        alarms: alarms
            .map(|index| StandingAlarm {
                name: trace.alarms[*index].clone(),
                since: since(trace, at, |row| row.alarms.contains(index)),
            })
            .collect(),
        feeders: wanted.iter().map(|of| feeder_at(trace, at, *of)).collect(),
    })
}

fn feeder_named(trace: &TraceFile, name: &str) -> Result<usize, InputError> {
    let found = trace.feeders.iter().position(|(other, _)| other == name);
    found.ok_or_else(|| {
        let all: Vec<&str> = trace
            .feeders
            .iter()
            .map(|(name, _)| name.as_str())
            .collect();
        let what = format!("has no feeder \"{name}\"; it has {}", all.join(", "));
        InputError::of_file(&trace.file, what)
    })
}

/// The row of a moment.
fn find(trace: &TraceFile, moment: Moment) -> Result<usize, InputError> {
    let last = trace.rows.len() - 1;
    let found = match moment {
        Moment::Last => return Ok(last),
        Moment::Clock(ms) => trace.rows.iter().position(|row| row.clock_ms >= ms),
        Moment::Seconds(s) => trace.rows.iter().position(|row| row.seconds >= s),
    };
    let first = &trace.rows[0];
    // Whole minutes are shown: the start may be a minute off.
    let began_ms = first.clock_ms.saturating_sub(first.seconds * 1000);
    let is_before = matches!(moment, Moment::Clock(ms) if ms < began_ms);
    found.filter(|_| !is_before).ok_or_else(|| {
        let end = &trace.rows[last];
        let what = format!(
            "the trace goes from {} to {} ({} s); the moment has to be within",
            clock::show(began_ms),
            clock::show(end.clock_ms),
            end.seconds
        );
        InputError::of_file(&trace.file, what)
    })
}

/// Since when `stands`, which is so at the row `at`.
fn since(trace: &TraceFile, at: usize, stands: impl Fn(&Row) -> bool) -> Since {
    let rows = &trace.rows[..=at];
    let first = rows
        .iter()
        .rposition(|row| !stands(row))
        .map_or(0, |gap| gap + 1);
    Since {
        clock: clock::show(rows[first].clock_ms),
        seconds: rows[at].seconds - rows[first].seconds,
        from_the_start: first == 0,
    }
}

fn feeder_at(trace: &TraceFile, at: usize, feeder: usize) -> FeederAt {
    let (name, unit) = &trace.feeders[feeder];
    let row = &trace.rows[at].feeders[feeder];
    let rows = &trace.rows[..=at];
    let fed = rows.iter().rfind(|row| row.feeders[feeder].fed > 0.0);
    let obstacles = row.obstacles.iter().map(|obstacle| {
        let name = obstacle.name();
        InTheWay {
            name,
            kind: match obstacle {
                Obstacle::Rule(..) => "rule",
                Obstacle::Lockout(_) => "lockout",
                _ => "other",
            },
            words: obstacle.words(),
            since: since(trace, at, |row| row.feeders[feeder].is_held_by(name)),
            clears: ClearWords(obstacle.clears()).to_string(),
            clears_by: token::clear_name(obstacle.clears()),
            clears_in_s: token::clear_s(obstacle.clears()),
            look_first: obstacle.look_at().iter().map(|look| look.words()).collect(),
        }
    });
    FeederAt {
        name: name.clone(),
        unit,
        fed: row.fed,
        on_s: row.on_ms as f64 / 1000.0,
        asked: row.asked,
        phase: row.phase,
        last_fed: fed.map(|row| clock::show(row.clock_ms)),
        obstacles: obstacles.collect(),
        whole: Whole::of(trace, feeder),
    }
}
