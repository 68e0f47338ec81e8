//! What the page shows, as data.

use dosewarden::guard::Guard;
use dosewarden::{ClearWords, Obstacle, Phase};
use dosewarden_sim::SimPool;
use dosewarden_sim::judge::Findings;
use dosewarden_sim::plant::{MAX_FEEDERS, Product};
use dosewarden_sim::pool::LogLine;
use dosewarden_sim::run::{self, LogEntry, OracleSummary};
use dosewarden_sim::scenario::Scenario;
use dosewarden_sim::scenario::clock::show_exactly;
use dosewarden_sim::unit::ControlUnit;
use serde::Serialize;

use crate::since::Since;
use crate::tried::Tried;

/// A point of the curves: clock in ms from midnight before day 1; of the water pH, ORP in mV and free chlorine in mg/L;
/// pH and ORP that the unit shows; flow in L/min; and what each feeder fed since the point before, mL or g.
pub(crate) type Point = (
    u64,
    f64,
    f64,
    f64,
    Option<f64>,
    Option<f64>,
    f64,
    [f64; MAX_FEEDERS],
);

/// What is to be shown.
#[derive(Clone, Debug, Default, Serialize)]
pub struct Seen {
    /// Clock of the pool, such as `day 2 14:05:07`.
    pub clock: String,
    /// The same, ms from midnight before day 1.
    pub clock_ms: u64,
    /// The scenario has ended.
    pub ended: bool,
    /// The unit has power.
    pub powered: bool,
    /// The mains that feed pumps and feeders are there.
    pub mains: bool,
    /// The circulation pump's timetable asks for it.
    pub pump_due: bool,
    /// It runs.
    pub pump_running: bool,
    /// The series contact of all feeders is closed.
    pub master_closed: bool,
    /// The unit waits for a person.
    pub needs_person: bool,
    /// Chlorine gas that the injection line released so far, g.
    pub gas_released_g: f64,
    /// The water that the valves select.
    pub water: Water,
    /// Feeders.
    pub feeders: Vec<FeederSeen>,
    /// Alarms that stand.
    pub alarms: Vec<StandingAlarm>,
    /// Oracles: what they found so far, from the plant's own truth.
    pub oracles: Vec<OracleSummary>,
    /// What happened since the last look.
    pub log: Vec<LogEntry>,
    /// Points of the curves since the last look.
    pub(crate) points: Vec<Point>,
    /// SHA-256 of the trace so far, as `sha256sum` prints it.
    pub digest: String,
}

/// The water that the valves select.
#[derive(Clone, Debug, Default, Serialize)]
pub struct Water {
    /// Name of the body, where there are several.
    pub body: Option<String>,
    /// pH of the water.
    pub ph: f64,
    /// pH that the unit shows.
    pub ph_shown: Option<f64>,
    /// ORP of the water, mV.
    pub orp_mv: f64,
    /// ORP that the unit shows, mV.
    pub orp_shown_mv: Option<f64>,
    /// Free chlorine, mg/L.
    pub free_chlorine_mg_l: f64,
    /// Total alkalinity, mg/L as CaCO3.
    pub alkalinity_mg_l: f64,
    /// Temperature, C.
    pub temperature_c: f64,
    /// Flow past the injectors, L/min.
    pub flow_l_min: f64,
    /// It is enough for feeding; otherwise the water counts as standing.
    pub is_moving: bool,
}

/// One feeder.
#[derive(Clone, Debug, Serialize)]
pub struct FeederSeen {
    /// Its name.
    pub name: String,
    /// What it gives.
    pub product: &'static str,
    /// `mL`, or `g` of chlorine.
    pub unit: &'static str,
    /// Its phase; `None`: no power, or the unit does not say.
    pub phase: Option<&'static str>,
    /// The rule that the phase names.
    pub by: Option<&'static str>,
    /// Its regulator asks.
    pub is_asked: bool,
    /// Its motor has power.
    pub is_on: bool,
    /// Amount in all.
    pub fed: f64,
    /// The part of it that went into standing water.
    pub fed_standing: f64,
    /// Amount left in its drum; `None` for a generator.
    pub drum: Option<f64>,
    /// What is used of its caps, by the guard's own books; nothing without power, or of another unit.
    pub caps: Vec<CapUsed>,
    /// What stands in its way, the gravest first.
    pub obstacles: Vec<InTheWay>,
}

/// What is used of a cap.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct CapUsed {
    /// `hour` or `day`, both rolling.
    pub of: &'static str,
    /// Used, in the feeder's unit.
    pub used: f64,
    /// The cap in the stage that holds now.
    pub cap: f64,
}

/// One thing in the way of a feeder, in the words of the crate `dosewarden`.
#[derive(Clone, Debug, Serialize)]
pub struct InTheWay {
    /// Its name: a rule's, or that of the alarm of a lockout.
    pub name: &'static str,
    /// `rule`, `lockout` or `other`.
    pub kind: &'static str,
    /// In words.
    pub words: &'static str,
    /// Since when, as a clock; `None` before the first tick.
    pub since: Option<String>,
    /// For how long, ms.
    pub for_ms: u64,
    /// What clears it.
    pub clears: String,
    /// Where a person looks first.
    pub look_first: Vec<&'static str>,
}

/// An alarm that stands.
#[derive(Clone, Debug, Serialize)]
pub struct StandingAlarm {
    /// Its name.
    pub name: String,
    /// Since when.
    pub since: String,
    /// Nobody has acknowledged it.
    pub is_new: bool,
}

type Pool = SimPool<Tried>;

/// A point of the curves.
pub(crate) fn point(pool: &Pool, fed: &[f64; MAX_FEEDERS]) -> Point {
    let (truth, status) = (pool.truth(), pool.status());
    let water = truth.bodies.get(truth.body).copied().unwrap_or_default();
    (
        pool.clock_ms(),
        water.ph,
        water.orp_mv,
        water.free_chlorine_mg_l,
        status.ph.map(|ph| f64::from(ph) / 1000.0),
        status.orp.map(f64::from),
        truth.flow_l_min,
        fed.map(|fed| fed / 1000.0),
    )
}

/// Lines of the log from the line `from` on.
pub(crate) fn lines(log: &[LogLine], from: usize, names: &[String]) -> Vec<LogEntry> {
    let new = log.get(from..).unwrap_or_default();
    new.iter()
        .map(|line| LogEntry {
            clock: show_exactly(line.clock_ms),
            ..run::log_entry(line, names)
        })
        .collect()
}

/// What the oracles found.
pub(crate) fn oracles(findings: &Findings, scenario: &Scenario) -> Vec<OracleSummary> {
    let start_ms = u64::from(scenario.plant.start_min) * 60_000;
    let all = findings.0.iter();
    all.map(|finding| run::oracle(finding, start_ms)).collect()
}

/// What is to be shown of this moment; the rest is empty.
pub(crate) fn now(scenario: &Scenario, pool: &Pool, since: &Since) -> Seen {
    let truth = pool.truth();
    let names = pool.unit().alarm_names();
    let alarms = since.alarms().filter_map(|(bit, from_ms)| {
        Some(StandingAlarm {
            name: names.get(bit)?.clone(),
            since: show_exactly(from_ms),
            is_new: pool.status().alarms_new >> bit & 1 == 1,
        })
    });
    Seen {
        clock: show_exactly(pool.clock_ms()),
        clock_ms: pool.clock_ms(),
        powered: pool.powered(),
        mains: truth.mains,
        pump_due: truth.pump_due,
        pump_running: truth.pump_running,
        master_closed: truth.master_closed,
        needs_person: pool.status().needs_person,
        gas_released_g: truth.line.gas_released_g,
        water: water(scenario, pool),
        feeders: (0..scenario.feeders.len())
            .map(|feeder| one_feeder(scenario, pool, since, feeder))
            .collect(),
        alarms: alarms.collect(),
        ..Seen::default()
    }
}

fn water(scenario: &Scenario, pool: &Pool) -> Water {
    let (truth, status) = (pool.truth(), pool.status());
    let water = truth.bodies.get(truth.body).copied().unwrap_or_default();
    let several = scenario.bodies.get(truth.body);
    Water {
        body: several
            .filter(|_| scenario.bodies.len() > 1)
            .map(|body| body.name.clone()),
        ph: water.ph,
        ph_shown: status.ph.map(|ph| f64::from(ph) / 1000.0),
        orp_mv: water.orp_mv,
        orp_shown_mv: status.orp.map(f64::from),
        free_chlorine_mg_l: water.free_chlorine_mg_l,
        alkalinity_mg_l: water.alkalinity_mg_l,
        temperature_c: water.temperature_c,
        flow_l_min: truth.flow_l_min,
        is_moving: truth.water_moving,
    }
}

fn one_feeder(scenario: &Scenario, pool: &Pool, since: &Since, feeder: usize) -> FeederSeen {
    let truth = &pool.truth().feeders[feeder];
    let told = pool.unit().told(feeder).filter(|_| pool.powered());
    let phase = told.as_ref().map(|told| told.phase);
    let obstacles = told.map_or_else(Vec::new, |told| told.obstacles);
    FeederSeen {
        name: scenario.feeders[feeder].name.clone(),
        product: truth.product.name(),
        unit: if truth.product == Product::GeneratorChlorine {
            "g"
        } else {
            "mL"
        },
        phase: phase.map(|phase| phase.name()),
        by: match phase {
            Some(Phase::Refused(rule) | Phase::LockedOut(rule)) => Some(rule.name()),
            _ => None,
        },
        is_asked: pool.status().feeders[feeder].asked,
        is_on: truth.drive_on,
        fed: truth.fed_total / 1000.0,
        fed_standing: truth.fed_standing_total / 1000.0,
        drum: truth.drum.is_finite().then_some(truth.drum / 1000.0),
        caps: caps(pool, feeder),
        obstacles: obstacles
            .iter()
            .map(|obstacle| in_the_way(obstacle, since.obstacle(feeder, obstacle.name()), pool))
            .collect(),
    }
}

fn in_the_way(obstacle: &Obstacle, since_ms: Option<u64>, pool: &Pool) -> InTheWay {
    InTheWay {
        name: obstacle.name(),
        kind: match obstacle {
            Obstacle::Rule(..) => "rule",
            Obstacle::Lockout(_) => "lockout",
            _ => "other",
        },
        words: obstacle.words(),
        since: since_ms.map(show_exactly),
        for_ms: since_ms.map_or(0, |from| pool.clock_ms() - from),
        clears: ClearWords(obstacle.clears()).to_string(),
        look_first: obstacle.look_at().iter().map(|look| look.words()).collect(),
    }
}

fn caps(pool: &Pool, feeder: usize) -> Vec<CapUsed> {
    let Some(unit) = pool.unit().ours().filter(|_| pool.powered()) else {
        return Vec::new();
    };
    let one = unit.controller().map(|own| booked(own.guard(), feeder));
    let two = || {
        unit.controller_of_two()
            .map(|own| booked(own.guard(), feeder))
    };
    one.or_else(two).unwrap_or_default()
}

/// Of the body that the valves select, and of the stage that holds.
fn booked<const N: usize, const B: usize, const H: usize, const D: usize>(
    guard: &Guard<N, B, H, D>,
    feeder: usize,
) -> Vec<CapUsed> {
    let (state, limits) = (guard.state(), guard.limits());
    let body = usize::from(state.selected.unwrap_or(0));
    let (hour, day) = state.ledger.totals(limits.account(feeder), body);
    let caps = limits.caps(feeder, body, state.stage);
    let of = |of, used: u32, cap: u32| CapUsed {
        of,
        used: f64::from(used) / 1000.0,
        cap: f64::from(cap) / 1000.0,
    };
    vec![
        of("hour", hour.0, caps.hour.0),
        of("day", day.0, caps.day.0),
    ]
}
