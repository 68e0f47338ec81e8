//! Scenario files: a pool, its feeders and limits, and what happens to them, in one TOML file.
//!
//! Invariant: what a file says is either understood whole or refused whole, at the line and column
//! of the mistake. Nothing that matters has a default: a limit that was left out is a mistake.
//!
//! Values carry units in quotes ([`quantity`]), moments are `"day 2 14:05"`, what a site does not
//! have is `"not fitted"`. The commented file that [`FIRST_POOL`] holds names every key.
//!
//! ```
//! use dosewarden_sim::scenario::{FIRST_POOL, Scenario};
//!
//! let scenario = Scenario::parse("first-pool.toml", FIRST_POOL)?;
//! assert_eq!(scenario.plant.bodies[0].volume_m3, 95.0);
//!
//! let wrong = FIRST_POOL.replace("volume = \"95 m3\"", "volume = \"25000 gal\"");
//! let error = Scenario::parse("my-pool.toml", &wrong).unwrap_err();
//! assert!(error.to_string().starts_with("my-pool.toml:"));
//! assert!(error.to_string().ends_with(
//!     "`volume` is \"25000 gal\" and has the unit `gal`, which could mean two things; \
//!      say `US gal` or `imp gal`"
//! ));
//! # Ok::<(), dosewarden_sim::scenario::InputError>(())
//! ```

mod about;
mod bodies;
mod care;
mod check;
mod circulation;
pub mod clock;
mod control;
mod edited;
pub(crate) mod entry;
pub(crate) mod error;
mod faults;
pub(crate) mod feeder;
mod inject;
mod limits;
mod person;
mod poured;
pub mod quantity;
mod supply;
pub(crate) mod table;
#[cfg(test)]
mod tests;
mod timeline;
mod two;
mod units;
mod visit;
pub(crate) mod water;
pub mod words;
mod work;

pub use care::{CareAct, CarePlan, ProofsOf};
pub use control::HeldTo;
pub use edited::edited;
pub use error::InputError;
pub use limits::SiteLimits;
pub use person::PersonAct;
pub use poured::{POURED_ACID_MOL_L, POURED_CHLORINE_G_L, Poured, ToBody};
pub use supply::{UnitClock, UnitSupply};
pub use timeline::{Act, Event, Supply, Trigger};
pub(crate) use two::with_feeders;
pub use visit::Visit;
pub use work::{Dip, Work};

use core::array;
use std::path::Path;

use dosewarden::guard::Fitted;
use dosewarden::regulate::Standard;
use dosewarden::settings::{DrumSettings, Settings};
use toml::de::DeTable;

use crate::oracle::KeptBounds;
use crate::plant::{DayWindow, MAX_FEEDERS, PlantSpec};
use check::Checks;
use feeder::ReadFeeder;
use table::{Source, Table};

/// The built-in scenario: a first week at an invented pool of 95 m3 with acid and hypochlorite.
pub const FIRST_POOL: &str = include_str!("../../built-in/first-pool-scenario.toml");
/// A second scenario: an invented pool with a chlorine generator.
pub const SALT_POOL: &str = include_str!("../../built-in/salt-pool-scenario.toml");
/// Under which name [`FIRST_POOL`] is told in messages.
pub const FIRST_POOL_NAME: &str = "examples/scenarios/first-pool.toml";

/// Longest file that is read, bytes.
pub const FILE_BYTES_MAX: u64 = 1_000_000;

/// How a feeder of the plant is called and regulated.
#[derive(Clone, Debug, PartialEq)]
pub struct FeederPlan {
    /// Its name in the file, unique in it.
    pub name: String,
    /// How its dose is asked for.
    pub regulator: Standard,
}

/// How a body of water is called, and how near it is to be kept.
#[derive(Clone, Debug, PartialEq)]
pub struct BodyPlan {
    /// Its name in the file.
    pub name: String,
    /// What it is held to; `None`: not judged.
    pub kept: Option<KeptBounds>,
}

/// A scenario that was understood.
#[derive(Clone, Debug, PartialEq)]
pub struct Scenario {
    /// Its name.
    pub name: String,
    /// What it shows, in words.
    pub words: String,
    /// How long it runs, days.
    pub days: u32,
    /// When it ends, if that is sooner: ms from midnight before day 1.
    pub ends_at_ms: Option<u64>,
    /// Seed of all chance in it.
    pub seed: u64,
    /// Length of a tick, ms, 200 to 5000.
    pub tick_ms: u32,
    /// The oracles that it expects to be broken; usually none.
    pub expect_broken: Vec<String>,
    /// The plant.
    pub plant: PlantSpec,
    /// The site's limits, checked by the guard; of two bodies those of the first.
    pub limits: SiteLimits,
    /// Those of both bodies, where there are two and the unit is told which of them the valves select.
    pub limits_of_two: Option<SiteLimits<2>>,
    /// One for each body of the plant.
    pub bodies: Vec<BodyPlan>,
    /// One for each feeder of the plant.
    pub feeders: Vec<FeederPlan>,
    /// The unit's other settings: alarms and drums.
    pub settings: Settings<MAX_FEEDERS>,
    /// What the unit is told about stages and tests; `None`: nothing.
    pub care: Option<CarePlan>,
    /// The unit knows the circulation pump's timetable.
    pub timetable_known: bool,
    /// When the pump runs too slowly for the flow switch: known with the timetable.
    pub without_flow: Vec<DayWindow>,
    /// What feeds the unit, and its clock.
    pub supply: UnitSupply,
    /// What the oracles hold the water to.
    pub held_to: HeldTo,
    /// What happens, in the order of time.
    pub events: Vec<Event>,
}

impl Scenario {
    /// Reads a scenario from the text of a file; `file` is only for messages.
    ///
    /// # Errors
    /// The first mistake, with its place and what would be right.
    pub fn parse(file: &str, text: &str) -> Result<Self, InputError> {
        let source = Source::new(file, text);
        let parsed = DeTable::parse(text).map_err(|error| {
            let span = error.span().unwrap_or(0..0);
            source.error(&span, error.message().replace('\n', "; "))
        })?;
        read(&source, parsed.get_ref())
    }

    /// Reads a scenario from a file of at most [`FILE_BYTES_MAX`].
    ///
    /// # Errors
    /// As [`Scenario::parse`], or that the file cannot be read.
    pub fn load(path: &Path) -> Result<Self, InputError> {
        let text = text_of(path)?;
        Self::parse(&path.display().to_string(), &text)
    }

    /// The built-in scenario.
    ///
    /// # Panics
    /// Never: a test reads it.
    #[must_use]
    pub fn first_pool() -> Self {
        match Self::parse(FIRST_POOL_NAME, FIRST_POOL) {
            Ok(scenario) => scenario,
            Err(error) => unreachable!("{error}"),
        }
    }

    /// pH between its alarm thresholds.
    #[must_use]
    pub fn ph_band(&self) -> (f64, f64) {
        let ph = &self.settings.spec().alarms.ph;
        (f64::from(ph.low) / 1000.0, f64::from(ph.high) / 1000.0)
    }

    /// ORP between its alarm thresholds, mV.
    #[must_use]
    pub fn orp_band(&self) -> (f64, f64) {
        let orp = &self.settings.spec().alarms.orp;
        (f64::from(orp.low), f64::from(orp.high))
    }

    /// How long it runs, ms.
    #[must_use]
    pub fn run_ms(&self) -> u64 {
        let all_ms = u64::from(self.days) * clock::DAY_MS;
        let start_ms = u64::from(self.plant.start_min) * 60_000;
        let sooner = self.ends_at_ms.map(|at| at.saturating_sub(start_ms));
        all_ms.min(sooner.unwrap_or(all_ms))
    }

    /// Names of the feeders.
    #[must_use]
    pub fn feeder_names(&self) -> Vec<String> {
        self.feeders
            .iter()
            .map(|feeder| feeder.name.clone())
            .collect()
    }
}

/// The text of a file of at most [`FILE_BYTES_MAX`], which has to be UTF-8.
pub(crate) fn text_of(path: &Path) -> Result<String, InputError> {
    let file = path.display().to_string();
    let unreadable = |error| InputError::of_file(&file, format!("cannot be read: {error}"));
    let about = std::fs::metadata(path).map_err(unreadable)?;
    if about.len() > FILE_BYTES_MAX {
        let what = format!(
            "has {} bytes; it has to have at most {FILE_BYTES_MAX}",
            about.len()
        );
        return Err(InputError::of_file(&file, what));
    }
    let bytes = std::fs::read(path).map_err(unreadable)?;
    String::from_utf8(bytes).map_err(|error| {
        let line = error.as_bytes()[..error.utf8_error().valid_up_to()]
            .iter()
            .filter(|byte| **byte == b'\n')
            .count()
            + 1;
        let what = "is not UTF-8 text here; save the file as UTF-8".to_owned();
        InputError {
            file: file.clone(),
            line,
            column: 1,
            width: 0,
            what,
        }
    })
}

type Feeders = (Vec<(ReadFeeder, Standard)>, Checks);

/// All feeders. `bodies` are those for which each has limits of its own.
fn feeders(root: &Table<'_, '_>, bodies: &[String]) -> Result<Feeders, InputError> {
    let mut feeders: Vec<(ReadFeeder, Standard)> = Vec::new();
    let mut checks = Checks::NONE;
    for t in root.tables("feeder")? {
        let read = feeder::read(&t, bodies)?;
        if feeders.iter().any(|(other, _)| other.name == read.name) {
            let what = format!(
                "a second feeder is named \"{}\"; names have to differ",
                read.name
            );
            return Err(t.need("name", "\"acid\"")?.error(what));
        }
        if feeders.len() == MAX_FEEDERS {
            return Err(t.error(format!(
                "one feeder too many; at most {MAX_FEEDERS} can be there"
            )));
        }
        let regulator = control::regulator(&t, &read)?;
        check::read(&t, feeders.len(), read.product, &mut checks)?;
        t.close()?;
        feeders.push((read, regulator));
    }
    if feeders.is_empty() {
        return Err(root.error("the file has no [[feeder]]; at least one has to be there"));
    }
    Ok((feeders, checks))
}

/// What events and visits can name.
#[derive(Clone, Copy)]
struct Names<'n> {
    feeders: &'n [String],
    /// None where there is one body.
    bodies: &'n [String],
}

fn feeder_plan((read, regulator): (ReadFeeder, Standard)) -> FeederPlan {
    FeederPlan {
        name: read.name,
        regulator,
    }
}

fn drums(feeders: &[(ReadFeeder, Standard)]) -> [Fitted<DrumSettings>; MAX_FEEDERS] {
    array::from_fn(|index| {
        feeders
            .get(index)
            .map_or(Fitted::NotFitted, |(read, _)| read.drum)
    })
}

/// All that happens, in the order of time, and what puts in a fault of the catalogue by itself.
fn events<'s, 'a>(
    root: &Table<'s, 'a>,
    known: &Names<'_>,
    days: u32,
    bodies: &bodies::ReadBodies,
) -> Result<(Vec<Event>, Vec<inject::Injected<'s, 'a>>), InputError> {
    let (mut events, injected) = timeline::read(root, known)?;
    visit::read(root, known, days, &mut events)?;
    bodies.turn_daily(days, &mut events);
    events.sort_by_key(|event| event.at_ms);
    Ok((events, injected))
}

fn read(source: &Source<'_>, entries: &DeTable<'_>) -> Result<Scenario, InputError> {
    let root = Table::root(source, entries);
    let about = about::read(&root)?;
    let bodies = bodies::read(&root)?;
    let flow = circulation::read(&root)?;
    let (mut circulation, timetable_known) = (flow.spec, flow.timetable_known);
    let supply = supply::read(&root, timetable_known)?;
    let probes = water::probes(&root)?;
    let safety = water::safety(&root)?;
    let (feeders, checks) = feeders(&root, &bodies.with_limits())?;
    let (limits, limits_of_two) = two::read(source, &root, &feeders, bodies.steady)?;
    let spec = limits.spec();
    circulation.flow_meter = spec.flow_meter.is_fitted();
    circulation.pump_contact = spec.pump_contact.is_fitted();
    if about.tick_ms > spec.tick_gap_max.0 {
        let what = "`tick` is longer than `tick_gap_max` in [limits]; it has to be at most that";
        return Err(source.error(&source.place("scenario.tick"), what));
    }
    let settings = control::settings(&root, drums(&feeders), &checks)?;
    let care = care::read(&root, safety.master)?;
    let held_to = control::held_to(&root)?;
    let names: Vec<String> = feeders.iter().map(|(read, _)| read.name.clone()).collect();
    let known = Names {
        feeders: &names,
        bodies: &bodies.names(),
    };
    let (events, injected) = events(&root, &known, about.days, &bodies)?;
    root.close()?;
    let plant = PlantSpec {
        bodies: bodies.basins,
        valves: bodies.valves,
        circulation,
        ph_probe: probes.ph,
        orp_probe: probes.orp,
        sample_delay_s: probes.sample_delay_s,
        sample_lag_s: probes.sample_lag_s,
        feeders: feeders.iter().map(|(read, _)| read.plant.clone()).collect(),
        master: safety.master,
        dead_man_ms: safety.dead_man_ms,
        start_min: about.start_min,
    };
    plant
        .validate()
        .map_err(|error| InputError::of_file(source.file, error.to_string()))?;
    let scenario = Scenario {
        name: about.name,
        words: about.words,
        days: about.days,
        ends_at_ms: about.ends_at_ms,
        seed: about.seed,
        tick_ms: about.tick_ms,
        expect_broken: about.expect_broken,
        plant,
        limits,
        limits_of_two,
        bodies: bodies.plans,
        feeders: feeders.into_iter().map(feeder_plan).collect(),
        settings,
        care,
        timetable_known,
        without_flow: flow.without_flow,
        supply,
        held_to,
        events,
    };
    inject::put(&injected, scenario)
}
