//! Runs a scenario to its end, watching.

mod bodies;
mod cautions;
mod oracles;
mod spans;
mod stood;
mod summary;
mod text;
mod trace;
mod watch;

pub use bodies::{BodyFeed, BodySummary, BodyTime};
pub use cautions::CAUTIONS;
pub use spans::Spans;
pub use stood::{PHASES, Stood, StoodSummary};
#[cfg(feature = "tools")]
pub(crate) use summary::for_people;
pub use summary::{
    AlarmSummary, BandSummary, FeederSummary, LogEntry, OracleSummary, RateSummary, RefusalSummary,
    SUMMARY_VERSION, Summary, log_entry, oracle,
};
pub(crate) use text::figure;
pub use trace::Trace;
pub use watch::{AlarmTime, Band, Dose, Point, Refusals, Watch};

use core::fmt;
use std::io::Write;

use crate::plant::PlantError;
use crate::pool::SimPool;
use crate::scenario::Scenario;
use crate::unit::ControlUnit;

/// Progress is told, and a wish to stop is asked for, this often in simulated time, ms.
const LOOK_UP_MS: u64 = 900_000;

/// What a run tells while it runs, and asks.
pub trait Observer {
    /// The share of the run that is done, 0 to 1.
    fn progress(&mut self, _share: f64) {}

    /// Whether to stop before the end.
    fn stop(&self) -> bool {
        false
    }
}

/// Tells nobody and runs to the end.
pub struct Quiet;

impl Observer for Quiet {}

/// Why a run gave no result.
#[derive(Debug)]
pub enum RunError {
    /// The plant's specification is wrong.
    Plant(PlantError),
    /// The trace could not be written.
    Trace(csv::Error),
    /// Somebody wanted it to stop.
    Stopped,
}

impl fmt::Display for RunError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Plant(error) => write!(f, "{error}"),
            Self::Trace(error) => write!(f, "the trace cannot be written: {error}"),
            Self::Stopped => f.write_str("stopped before the end"),
        }
    }
}

impl core::error::Error for RunError {}

/// A run that came to its end: what was watched, and what all of it comes to.
#[derive(Debug)]
pub struct RunResult {
    /// What was watched.
    pub watch: Watch,
    /// What it comes to.
    pub summary: Summary,
    /// Names of the unit's reasons to refuse.
    pub reasons: Vec<String>,
    /// Names of its alarms.
    pub alarms: Vec<String>,
}

/// Runs `scenario` for its days with `unit` attached. `trace` gets rows as CSV.
///
/// # Errors
/// [`RunError`].
pub fn run<U: ControlUnit>(
    scenario: &Scenario,
    unit: U,
    trace: Option<&mut dyn Write>,
    observer: &mut dyn Observer,
) -> Result<RunResult, RunError> {
    run_to_end(scenario, unit, trace, observer).map(|(result, _)| result)
}

/// The same, and the pool as it stands at the end.
///
/// # Errors
/// [`RunError`].
pub fn run_to_end<U: ControlUnit>(
    scenario: &Scenario,
    unit: U,
    trace: Option<&mut dyn Write>,
    observer: &mut dyn Observer,
) -> Result<(RunResult, SimPool<U>), RunError> {
    let reasons = unit.refusal_names().to_vec();
    let alarms = unit.alarm_names().to_vec();
    let mut pool = SimPool::attach(scenario, unit).map_err(RunError::Plant)?;
    let mut watch = Watch::new(scenario, scenario.days, reasons.len(), alarms.len());
    let mut trace = match trace {
        Some(out) => Some(Trace::begin(scenario, out).map_err(RunError::Trace)?),
        None => None,
    };
    let until_ms = scenario.run_ms();
    let mut look_up_ms = 0;
    while pool.now_ms() < until_ms {
        if pool.now_ms() >= look_up_ms {
            look_up_ms = pool.now_ms() + LOOK_UP_MS;
            if observer.stop() {
                return Err(RunError::Stopped);
            }
            observer.progress(pool.now_ms() as f64 / until_ms as f64);
        }
        pool.tick();
        watch.look(&pool);
        if let Some(trace) = &mut trace {
            trace.look(&pool).map_err(RunError::Trace)?;
        }
    }
    watch.end();
    observer.progress(1.0);
    if let Some(trace) = trace {
        trace.end().map_err(RunError::Trace)?;
    }
    let findings = pool.finish();
    let summary = Summary::of(scenario, &pool, &watch, &findings);
    let result = RunResult {
        watch,
        summary,
        reasons,
        alarms,
    };
    Ok((result, pool))
}
