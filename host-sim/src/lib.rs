//! A simulated pool that tries a dosing controller and shows what got through.
//!
//! Invariant: the pool keeps its own truth. What a control unit says is shown, what it did to the
//! water is judged, and the judges ([`oracle`]) know nothing of the unit.
//!
//! An integrator's test builds a pool, attaches a unit and asserts:
//!
//! ```
//! use dosewarden_sim::plant::PlantFault;
//! use dosewarden_sim::{DosewardenUnit, Scenario, SimPool};
//!
//! let mut scenario = Scenario::first_pool(); // or Scenario::load(path)
//! scenario.held_to.kept = None; // the pump will trip: nobody keeps the water near its set point then
//! let unit = DosewardenUnit::for_scenario(&scenario); // or one of yours: impl ControlUnit
//! let mut pool = SimPool::attach(&scenario, unit)?;
//! pool.run_for_days(1);
//! assert!(pool.truth().feeders[0].fed_total > 0.0, "acid was fed");
//! pool.set_fault(PlantFault::CirculationTripped);
//! pool.run_for_ms(12 * 3_600_000);
//! let findings = pool.finish();
//! assert!(findings.held(), "{:?}", findings.broken().collect::<Vec<_>>());
//! # Ok::<(), dosewarden_sim::plant::PlantError>(())
//! ```
//!
//! | module | what |
//! |---|---|
//! | [`plan`] | from what was measured at a site to settings: the commissioning sheet |
//! | [`visit`] | what a technician's log of visits shows: rates, probes, alkalinity, what is due and what to do |
//! | [`mod@day`] | the day of a pool that the public uses: tests due, probes beside the kit, conditions for closing |
//! | [`board`] | the image of a board, read and put beside a site |
//! | [`mod@explain`] | the movement between two tests, split into what moved it |
//! | [`plant`] | the pool: water, circulation, feeders, probes, power |
//! | [`water`] | chemistry of the water by itself: pH, acid demand, saturation, chlorine on cyanurate |
//! | [`mod@unit`] | the control unit on trial: a trait, and ours |
//! | [`oracle`], [`judge`] | what must hold in the water, and for which site |
//! | [`pool`] | one with the other attached, tick by tick |
//! | [`scenario`] | files that say all of it |
//! | [`run`], [`report`] | a scenario to its end, as data, text, CSV and a page |
//! | [`mod@why`] | what kept a feeder from feeding, from the trace of a run |
//! | [`audit`], [`recorded`] | a recorded log of any controller, judged against a site's limits, and how one is read |
//! | [`explore`] | the guard alone, walked to the end of its state space |
//! | `cli` | the binary `dosewarden`, with the feature of that name, which is there by default |
//!
//! Features: `cli` is the command line and is there by default; `tools`, which it needs, is all that stands around the
//! pool (`audit`, `board`, `campaign`, `day`, `evidence`, `explain`, `plan`, `report`, `rules`, `visit`, and the walk of
//! `explore`, of which a way that was kept can be told again without it).
//!
//! Transcendental functions come from the crate `libm`, chance from one seed: the same scenario and
//! unit give the same run, bit for bit, on every platform.

#![forbid(unsafe_code)]

#[cfg(feature = "tools")]
pub mod audit;
#[cfg(feature = "tools")]
pub mod board;
#[cfg(feature = "tools")]
pub mod campaign;
#[cfg(feature = "cli")]
pub mod cli;
#[cfg(test)]
mod closed_loop;
mod csv_errors;
#[cfg(feature = "tools")]
pub mod day;
#[cfg(feature = "tools")]
pub mod evidence;
#[cfg(test)]
mod examples;
#[cfg(feature = "tools")]
pub mod explain;
pub mod explore;
pub mod fault;
pub mod judge;
pub mod oracle;
#[cfg(feature = "tools")]
pub mod plan;
pub mod plant;
pub mod pool;
#[cfg(feature = "tools")]
pub mod recorded;
#[cfg(feature = "tools")]
pub mod report;
#[cfg(feature = "tools")]
pub mod rules;
pub mod run;
pub mod scenario;
#[cfg(feature = "tools")]
pub mod season;
#[cfg(any(test, feature = "strategies"))]
pub mod strategies;
pub mod unit;
#[cfg(feature = "tools")]
pub mod visit;
pub mod water;
pub mod why;

pub use pool::SimPool;
pub use scenario::Scenario;
pub use unit::{ControlUnit, DosewardenUnit};
