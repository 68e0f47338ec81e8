//! What a campaign tries faults on: a planned site whose unit has been commissioned, just before a dose.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, OnceLock};

use super::CampaignError;
use super::annunciation::Annunciations;
use super::bounds::Bounds;
use super::control::Control;
use crate::fault::{Chosen, Fault, Part};
use crate::plan::{Plan, Site};
use crate::pool::SimPool;
use crate::scenario::clock::DAY_MS;
use crate::scenario::{Scenario, Supply};
use crate::unit::{Canary, DosewardenUnit};

/// A pool with our own unit.
pub type Pool = SimPool<DosewardenUnit>;

/// From the start of a trial to the dose that is looked at, ms.
const LEAD_MS: u64 = 20 * 60_000;
/// A dose is over when nothing was fed for so long, ms.
const QUIET_MS: u64 = 5 * 60_000;
/// Where the dose is looked for: from the start of this day, counted from 1. A planned site comes to full caps, by the
/// evidence of its stages, on its fifth day at the latest.
const DAY: u64 = 6;

/// A site in a healthy run, with the time of one dose cycle.
#[derive(Clone)]
pub struct Subject {
    /// Its scenario.
    pub scenario: Scenario,
    /// The text of its scenario's file, where it came from one.
    pub text: String,
    /// The run, some 20 min before the dose.
    pub origin: Pool,
    /// When the first feeder's drive comes on, ms from midnight before day 1.
    pub dose_from_ms: u64,
    /// When the dose is over.
    pub dose_to_ms: u64,
    /// What is wrong with its unit on purpose.
    pub canary: Option<Canary>,
    lived: Lived,
}

/// What tells a text from others (FNV-1a).
pub(super) fn digest_of(text: &str) -> u64 {
    let mix = |hash: u64, byte: u8| (hash ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01B3);
    // JSON's readers may keep 53 bits of a number.
    text.bytes().fold(0xCBF2_9CE4_8422_2325, mix) >> 11
}

impl Subject {
    /// From the text of a site's file.
    ///
    /// # Errors
    /// A mistake in the file, a plan that has an error finding, or no dose in two days.
    pub fn of_site(file: &str, text: &str, canary: Option<Canary>) -> Result<Self, CampaignError> {
        let site = Site::parse(file, text)?;
        let plan = Plan::of(&site)?;
        if plan.has_errors() {
            return Err(CampaignError::Unplanned);
        }
        // A unit that is broken on purpose may not pass its proof tests, and would feed nothing then: it is looked at
        // as one that was never tested.
        let text = match canary {
            Some(_) => without_care(&plan.scenario),
            None => plan.scenario,
        };
        let scenario = Scenario::parse(file, &text)?;
        Ok(Self {
            text,
            ..Self::of_scenario(scenario, canary)?
        })
    }

    /// From a scenario whose unit is in full service by its sixth day.
    ///
    /// # Errors
    /// No dose in two days from there.
    pub fn of_scenario(scenario: Scenario, canary: Option<Canary>) -> Result<Self, CampaignError> {
        let mut pool = Self::new_pool(&scenario, canary)?;
        let start_ms = pool.clock_ms();
        let day_ms = (DAY - 1) * DAY_MS;
        pool.run_for_ms(day_ms.saturating_sub(start_ms));
        let mut ring = vec![pool.clone()];
        let fed = |pool: &Pool| pool.truth().feeders.iter().any(|feeder| feeder.drive_on);
        // A copy each LEAD_MS, so that one stands before the dose.
        let mut since_copy = 0;
        while !fed(&pool) {
            if pool.clock_ms() > day_ms + 2 * DAY_MS {
                return Err(CampaignError::NoDose);
            }
            pool.tick();
            since_copy += u64::from(pool.tick_ms());
            if since_copy >= LEAD_MS {
                since_copy = 0;
                ring.push(pool.clone());
                if ring.len() > 2 {
                    ring.remove(0);
                }
            }
        }
        let dose_from_ms = pool.clock_ms();
        let mut last = dose_from_ms;
        while pool.clock_ms() < last + QUIET_MS {
            pool.tick();
            if fed(&pool) {
                last = pool.clock_ms();
            }
        }
        let origin = ring.swap_remove(0);
        Ok(Self {
            scenario,
            text: String::new(),
            origin,
            dose_from_ms,
            dose_to_ms: last,
            canary,
            lived: Lived::default(),
        })
    }

    fn new_pool(scenario: &Scenario, canary: Option<Canary>) -> Result<Pool, CampaignError> {
        let unit = match canary {
            None => DosewardenUnit::for_scenario(scenario),
            Some(canary) => DosewardenUnit::canary(scenario, canary),
        };
        Ok(SimPool::attach(scenario, unit)?)
    }

    /// A pool of a scenario with the unit that is on trial.
    pub(super) fn attached(&self, scenario: &Scenario) -> Result<Pool, CampaignError> {
        Self::new_pool(scenario, self.canary)
    }

    /// The run at the origin's time, with the changes that stand from the start in it.
    fn changed(&self, chosen: &[&Chosen]) -> Result<Pool, CampaignError> {
        let mut scenario = self.scenario.clone();
        for one in chosen {
            // Whether it can be made here was asked before.
            let before = Chosen { ..**one };
            before.put_before(&mut scenario);
        }
        let mut pool = Self::new_pool(&scenario, self.canary)?;
        let ahead = self.origin.now_ms().saturating_sub(pool.now_ms());
        pool.run_for_ms(ahead);
        Ok(pool)
    }
}

/// Runs with a change that stands from the start, by the changes.
type Origins = HashMap<Vec<(&'static str, String, u64)>, Pool>;

/// When the reset is, and until when it is lived, ms from midnight before day 1.
type OfControl = (Option<u64>, u64);

/// What was lived once and serves many trials. A copy of a subject shares it.
#[derive(Clone, Default)]
struct Lived {
    origins: Arc<Mutex<Origins>>,
    /// The healthy runs with a reset at this time, or none, until some moment.
    controls: Arc<Mutex<HashMap<OfControl, Arc<Control>>>>,
    /// The healthy run of the origin's day, at moments that are evenly spread.
    day: Arc<OnceLock<Vec<Pool>>>,
}

/// From one copy of the healthy run to the next, ms.
const COPY_EACH_MS: u64 = 30 * 60_000;

/// Most runs that are kept.
const ORIGINS_MAX: usize = 128;

impl Subject {
    /// The run from which a trial of these faults starts: the healthy one, or one that has lived its first days with a
    /// change that stands from the start.
    ///
    /// # Errors
    /// The plant's specification cannot be.
    pub fn origin_of(&self, chosen: &[Chosen]) -> Result<Pool, CampaignError> {
        let early: Vec<&Chosen> = chosen
            .iter()
            .filter(|one| one.stands_from_the_start(&self.scenario))
            .collect();
        if early.is_empty() {
            return Ok(self.origin.clone());
        }
        let of = |one: &&Chosen| {
            let part = format!("{:?}", one.part);
            (one.fault.id, part, one.severity.to_bits())
        };
        let key: Vec<_> = early.iter().map(of).collect();
        let kept = lock(&self.lived.origins).get(&key).cloned();
        if let Some(pool) = kept {
            return Ok(pool);
        }
        let pool = self.changed(&early)?;
        let mut kept = lock(&self.lived.origins);
        if kept.len() < ORIGINS_MAX {
            kept.insert(key, pool.clone());
        }
        Ok(pool)
    }

    /// The healthy run at a moment that is not after this one, and less than half an hour before it if this is within a day
    /// from the origin.
    pub(super) fn sound_before(&self, at_ms: u64) -> Pool {
        if at_ms < self.origin.clock_ms() + COPY_EACH_MS {
            return self.origin.clone();
        }
        let day = self.lived.day.get_or_init(|| {
            let mut pool = self.origin.clone();
            let copies = (0..DAY_MS / COPY_EACH_MS).map(|_| {
                pool.run_for_ms(COPY_EACH_MS);
                pool.clone()
            });
            copies.collect()
        });
        // Whole ticks may take a copy past its half hour.
        let later = day.partition_point(|pool| pool.clock_ms() <= at_ms);
        let last = later.checked_sub(1).and_then(|at| day.get(at));
        last.unwrap_or(&self.origin).clone()
    }

    /// What tells it, these bounds and who has to be told from others.
    #[must_use]
    pub fn digest(&self, bounds: &Bounds) -> u64 {
        let told = Annunciations::committed();
        digest_of(&format!("{:?}{:?}{told:?}", self.scenario, bounds.entries))
    }

    /// The run without any fault, with the reset alone; `live` finds it once.
    pub(super) fn control(
        &self,
        of: OfControl,
        live: impl FnOnce() -> Result<Control, CampaignError>,
    ) -> Result<Arc<Control>, CampaignError> {
        let known = lock(&self.lived.controls).get(&of).cloned();
        if let Some(control) = known {
            return Ok(control);
        }
        let control = Arc::new(live()?);
        lock(&self.lived.controls).insert(of, control.clone());
        Ok(control)
    }
}

/// A planned scenario whose unit is not told of stages and tests.
fn without_care(text: &str) -> String {
    let from = text.find("[care]").unwrap_or(text.len());
    let rest = text.get(from..).unwrap_or_default();
    let to = rest.find("[held_to]").unwrap_or(0);
    let before = text.get(..from).unwrap_or_default();
    format!("{before}{}", rest.get(to..).unwrap_or_default())
}

/// What another thread left half done is only not kept.
fn lock<T>(mutex: &Mutex<T>) -> std::sync::MutexGuard<'_, T> {
    mutex
        .lock()
        .unwrap_or_else(std::sync::PoisonError::into_inner)
}

/// A fault's name with its part, as tables show it.
#[must_use]
pub fn label(fault: &Fault, part: Part, scenario: &Scenario) -> String {
    let names = scenario.feeder_names();
    match part {
        Part::Site => fault.id.to_owned(),
        Part::Feeder(at) => {
            format!("{} {}", fault.id, names.get(at).map_or("?", String::as_str))
        }
        Part::Probe(crate::plant::ProbeId::Ph) => format!("{} ph", fault.id),
        Part::Probe(crate::plant::ProbeId::Orp) => format!("{} orp", fault.id),
    }
}

/// What a reset takes away.
pub(super) const RESET: Supply = Supply::Controller;
