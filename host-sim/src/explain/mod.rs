//! "Why is my pH low?": the movement of pH, alkalinity and chlorine between two tests, split into what moved it.
//!
//! Invariant: the parts and the remainder add up to what was tested, and the remainder carries its error. A suspect is
//! named as certain only where it alone fits; where two would, both are named with what tells them apart.
//!
//! ```
//! use dosewarden_sim::explain::Explained;
//! use dosewarden_sim::plan::{HOME_POOL, Plan, Site};
//! use dosewarden_sim::visit::Log;
//!
//! let site = Site::parse("site.toml", HOME_POOL)?;
//! let plan = Plan::of(&site)?;
//! let text = "time,what,of,value,with\n\
//!     2031-05-02 10:00,fed,acid,40 L,\n2031-05-02 10:00,fed,chlorine,90 L,\n\
//!     2031-05-02 10:00,test,ph,pH 7.5,\n2031-05-02 10:00,test,alkalinity,90 mg/L,\n\
//!     2031-05-09 10:00,fed,acid,42 L,\n2031-05-09 10:00,fed,chlorine,97 L,\n\
//!     2031-05-09 10:00,test,ph,pH 7.5,\n2031-05-09 10:00,test,alkalinity,85 mg/L,\n";
//! let log = Log::parse("log.csv", text, &site, &plan)?;
//! let found = Explained::of(&site, &plan, &log, "2031-05-02 10:00", "2031-05-09 10:00")?;
//! let parts: f64 = found.parts.iter().map(|part| part.alkalinity_mg_l).sum();
//! assert!((parts + found.rest[1].value - (-5.0)).abs() < 1e-9);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

mod case;
mod fit;
mod page;
mod sheet;
#[cfg(test)]
mod tests;
mod trials;
mod way;

use core::fmt;

use serde::Serialize;

use crate::plan::{Plan, Site};
use crate::visit::inside::{errors, tested, together};
use crate::visit::{Entry, Figure, Log, Tested, Visit, What};
use crate::water::WaterError;
use case::Case;
pub use fit::Suspect;
pub use page::page;
use way::End;
pub use way::Source;

/// A test is taken as that of a visit that begins within this of the time that is asked for, min. Our choice.
const NEAR_MIN: i64 = 12 * 60;

/// What one source moved.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Part {
    /// The source.
    pub source: Source,
    /// pH.
    pub ph: f64,
    /// Alkalinity, mg/L as CaCO3.
    pub alkalinity_mg_l: f64,
    /// Free chlorine, mg/L.
    pub chlorine_mg_l: f64,
}

/// How the unit's pH moved beside the kit's.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Drift {
    /// By how much more the unit's pH rose than the kit's.
    pub drift: Figure,
    /// How far the unit shows above the kit at the end.
    pub off: Figure,
}

/// The movement between two tests.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Explained {
    /// Name of the site.
    pub site: String,
    /// Time of the first test's visit.
    pub from: String,
    /// Time of the second one's.
    pub to: String,
    /// Days between.
    pub days: f64,
    /// First and second test: pH, alkalinity, free chlorine.
    pub tested: [[f64; 3]; 2],
    /// What each source moved.
    pub parts: Vec<Part>,
    /// What is left: pH, alkalinity, free chlorine.
    pub rest: [Figure; 3],
    /// The remainder in squared standard deviations, all three figures together.
    pub rest_size: f64,
    /// The probe, where the unit's pH was entered beside both tests.
    pub drift: Option<Drift>,
    /// What would explain the remainder by itself; empty: nothing has to.
    pub suspects: Vec<Suspect>,
    /// One suspect alone fits.
    pub is_certain: bool,
    /// Free chlorine was not tested at both ends, and is left out.
    pub without_chlorine: bool,
    /// Rows of another body of water that were left out: this looks at the pool alone. `None`: none were.
    pub left_out: Option<String>,
}

/// Why there is no explanation.
#[derive(Clone, Debug, PartialEq)]
pub enum ExplainError {
    /// What was asked for is no time.
    NoTime {
        /// For which end: `--from` or `--to`.
        end: &'static str,
        /// What was asked for.
        asked: String,
    },
    /// There is no visit at that time.
    NoVisit {
        /// For which end: `--from` or `--to`.
        end: &'static str,
        /// The time that was asked for.
        asked: String,
        /// Those that are nearest, before and after.
        nearest: String,
    },
    /// A test is missing on a visit.
    NoTest {
        /// The visit.
        time: String,
        /// What was not tested or entered.
        what: &'static str,
    },
    /// The second time is not after the first.
    Order,
    /// The water as tested cannot be.
    Water(WaterError),
}

impl fmt::Display for ExplainError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoTime { end, asked } => write!(
                f,
                "{end} \"{asked}\" is no time; write the time of a visit as 2031-05-02 10:10"
            ),
            Self::NoVisit {
                end,
                asked,
                nearest,
            } => write!(
                f,
                "no visit is within 12 h of {end} {asked}; the nearest: {nearest}"
            ),
            Self::NoTest { time, what } => {
                write!(f, "the visit of {time} has no {what}; both ends need it")
            }
            Self::Order => f.write_str("--to is not after --from"),
            Self::Water(error) => write!(f, "the water cannot be: {error}"),
        }
    }
}

impl std::error::Error for ExplainError {}

impl From<WaterError> for ExplainError {
    fn from(error: WaterError) -> Self {
        Self::Water(error)
    }
}

/// One end: visit, its number, and the row of its last test of alkalinity.
struct Stop<'a> {
    at: usize,
    visit: &'a Visit,
    entry: &'a Entry,
    ph: f64,
    alkalinity: f64,
    chlorine: Option<f64>,
}

/// The last visit up to a minute and the first after it, in words.
fn nearest(log: &Log, minute: i64) -> String {
    let after = log.visits.partition_point(|visit| visit.at_min <= minute);
    let around = log.visits.iter().skip(after.saturating_sub(1));
    let around = around.take(if after == 0 { 1 } else { 2 });
    let times: Vec<&str> = around.map(|visit| visit.time.as_str()).collect();
    times.join(", ")
}

/// The minute of the log that one of the ends names.
fn minute_of(log: &Log, end: &'static str, asked: &str) -> Result<i64, ExplainError> {
    log.minute_of(asked).ok_or_else(|| ExplainError::NoTime {
        end,
        asked: asked.to_owned(),
    })
}

fn stop<'a>(
    log: &'a Log,
    end: &'static str,
    asked: &str,
    minute: i64,
) -> Result<Stop<'a>, ExplainError> {
    let visits = log.visits.iter().enumerate();
    let near = visits
        .map(|(at, visit)| ((visit.at_min - minute).abs(), at))
        .min()
        .filter(|(apart, _)| *apart <= NEAR_MIN);
    let Some((_, at)) = near else {
        return Err(ExplainError::NoVisit {
            end,
            asked: asked.to_owned(),
            nearest: nearest(log, minute),
        });
    };
    let visit = &log.visits[at];
    let missing = |what| ExplainError::NoTest {
        time: visit.time.clone(),
        what,
    };
    let is = tested(Tested::Alkalinity);
    let entry = visit
        .entries
        .iter()
        .rev()
        .find(|entry| is(&entry.what).is_some());
    let entry = entry.ok_or_else(|| missing("test of alkalinity"))?;
    Ok(Stop {
        at,
        visit,
        entry,
        ph: visit
            .last(tested(Tested::Ph))
            .ok_or_else(|| missing("test of pH"))?,
        alkalinity: is(&entry.what).unwrap_or(0.0),
        chlorine: visit.last(tested(Tested::FreeChlorine)),
    })
}

impl Explained {
    /// Explains a movement.
    ///
    /// # Errors
    /// [`ExplainError`].
    pub fn of(
        site: &Site,
        plan: &Plan,
        log: &Log,
        from: &str,
        to: &str,
    ) -> Result<Self, ExplainError> {
        // Both times before any visit: what is no time is told as that.
        let (from_min, to_min) = (minute_of(log, "--from", from)?, minute_of(log, "--to", to)?);
        let first = stop(log, "--from", from, from_min)?;
        let second = stop(log, "--to", to, to_min)?;
        if second.at <= first.at {
            return Err(ExplainError::Order);
        }
        let case = Case::of(site, plan, log, &first, &second)?;
        let found: End = [second.ph, second.alkalinity, case.chlorine[1]];
        let way = case.way;
        let split = way.split()?;
        let tests = case.test_errors(&second);
        let known = fit::covariance(&way, &case.uncertain(), &tests)?;
        let end = way.end(&Source::ALL)?;
        let (rest_size, suspects) = fit::suspects(&way, &found, &known, &case.feeders, &tests)?;
        let units = ["", "mg/L", "mg/L"];
        let rest = core::array::from_fn(|at| {
            Figure::new(
                found[at] - end[at],
                known[at][at].sqrt(),
                units[at],
                "tested less explained",
            )
        });
        let part = |(source, moved): (Source, End)| Part {
            source,
            ph: moved[0],
            alkalinity_mg_l: moved[1],
            chlorine_mg_l: moved[2],
        };
        Ok(Self {
            site: site.name.clone(),
            from: first.visit.time.clone(),
            to: second.visit.time.clone(),
            days: way.hours / 24.0,
            tested: [[first.ph, first.alkalinity, case.chlorine[0]], found],
            parts: split.into_iter().map(part).collect(),
            rest,
            rest_size,
            drift: drift(&first, &second),
            is_certain: suspects.len() == 1,
            suspects,
            without_chlorine: case.without_chlorine,
            left_out: log.left_out.clone(),
        })
    }
}

fn drift(first: &Stop<'_>, second: &Stop<'_>) -> Option<Drift> {
    let shows = |stop: &Stop<'_>| {
        stop.visit.last(|what| match what {
            What::ShowsPh(ph) => Some(*ph - stop.ph),
            _ => None,
        })
    };
    let (before, now) = (shows(first)?, shows(second)?);
    let one = errors::test(Tested::Ph, now);
    Some(Drift {
        drift: Figure::new(
            now - before,
            together(&[one, one]),
            "",
            "unit less kit, then and now",
        ),
        off: Figure::new(now, one, "", "unit less kit, now"),
    })
}
