//! What a run comes to, as data: the same for the text, the JSON and the page.

use serde::Serialize;

use super::bodies::{self, BodySummary};
use super::oracles::about;
use super::stood::{PHASES, StoodSummary, stood};
use super::watch::{Band, Refusals, Watch};
use crate::judge::Findings;
use crate::oracle::{Finding, Verdict};
use crate::pool::{Ending, LogLine, LogWhat, SimPool};
use crate::scenario::{Act, Scenario, clock, words};
use crate::unit::{ALARM_STATES, ControlUnit, Reply};

/// Version of the JSON's form: a change that a reader would trip over makes it one more.
pub const SUMMARY_VERSION: u32 = 1;

/// What a run comes to. Times are in seconds, amounts in the feeder's `unit`.
#[derive(Clone, Debug, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Summary {
    /// [`SUMMARY_VERSION`].
    pub version: u32,
    /// Version of this program.
    pub program: &'static str,
    /// Name of the scenario.
    pub scenario: String,
    /// What it shows.
    pub words: String,
    /// Days that were run.
    pub days: u32,
    /// Seed.
    pub seed: u64,
    /// Length of a tick, ms.
    pub tick_ms: u32,
    /// No oracle was broken.
    pub held: bool,
    /// Exactly the oracles were broken that the scenario expects.
    pub as_expected: bool,
    /// Every oracle.
    pub oracles: Vec<OracleSummary>,
    /// pH of the water within its alarm thresholds.
    pub ph: BandSummary,
    /// ORP of the water within its alarm thresholds, mV.
    pub orp: BandSummary,
    /// Each body, where there are several.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub bodies: Vec<BodySummary>,
    /// Every feeder.
    pub feeders: Vec<FeederSummary>,
    /// Alarms that came.
    pub alarms: Vec<AlarmSummary>,
    /// Time without power.
    pub unpowered_s: u64,
    /// Time in which the unit waited for a person.
    pub waiting_for_person_s: u64,
    /// What happened.
    pub log: Vec<LogEntry>,
    /// Lines for which the log had no room.
    pub log_dropped: u64,
    /// Events of the scenario that never came.
    pub never_came: Vec<String>,
}

/// What an oracle found.
#[derive(Clone, Debug, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct OracleSummary {
    /// Its name.
    pub name: &'static str,
    /// Hazards that it stands for.
    pub hazards: Vec<&'static str>,
    /// `held`, `broken` or `not judged`.
    pub verdict: &'static str,
    /// The value nearest to its bound, or furthest past it.
    pub worst: Option<f64>,
    /// The bound.
    pub bound: Option<f64>,
    /// Unit of both.
    pub unit: &'static str,
    /// `at most` or `at least`: on which side of the bound the value has to be.
    pub side: &'static str,
    /// What it judges, in words.
    pub holds: &'static str,
    /// When it was first broken.
    pub first_broken: Option<String>,
    /// In words: what went wrong, or why there was nothing to judge.
    pub words: String,
}

/// Time inside a band.
#[derive(Clone, Debug, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct BandSummary {
    /// Low end, pH or mV.
    pub low: f64,
    /// High end, pH or mV.
    pub high: f64,
    /// Share of the time inside.
    pub inside_percent: f64,
}

/// What a feeder did.
#[derive(Clone, Debug, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct FeederSummary {
    /// Its name.
    pub name: String,
    /// What it gives.
    pub product: &'static str,
    /// `mL`, or `g` of chlorine.
    pub unit: &'static str,
    /// Cap of a cycle; of two bodies in the first, as the two below.
    pub cycle_cap: f64,
    /// Cap of a rolling hour.
    pub hour_cap: f64,
    /// Cap of a rolling day.
    pub day_cap: f64,
    /// Amount on each day.
    pub days: Vec<f64>,
    /// Amount in all.
    pub total: f64,
    /// Amount into standing water in all.
    pub standing: f64,
    /// How many doses were begun.
    pub doses: usize,
    /// Its phases that came, if the unit has such.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub phases: Vec<StoodSummary>,
    /// What refused it, most of the time first.
    pub refusals: Vec<RefusalSummary>,
    /// What the unit found of its real rate at the end, where it looks.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rate: Option<RateSummary>,
}

/// Real over entered rate of a feeder, as the unit found it and as it was.
#[derive(Clone, Debug, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct RateSummary {
    /// As it was at the end: true rate times what is left of the product's strength. Faults are not
    /// in it.
    pub truth: f64,
    /// By the water's answers.
    pub found: Option<f64>,
    /// Standard deviation of that.
    pub deviation: Option<f64>,
    /// Doses that it comes from since the estimate last began anew.
    pub doses: u8,
    /// The unit's verdict by the water's answers.
    pub verdict: String,
    /// The unit's verdict by the drum's level.
    pub by_drum: String,
}

/// How long a reason refused.
#[derive(Clone, Debug, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct RefusalSummary {
    /// The unit's name of it.
    pub rule: String,
    /// For how long.
    pub seconds: u64,
    /// For how long while feed was asked for.
    pub asked_seconds: u64,
}

/// An alarm that came.
#[derive(Clone, Debug, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct AlarmSummary {
    /// The unit's name of it.
    pub name: String,
    /// How often it came.
    pub times: u32,
    /// For how long it stood in all.
    pub seconds: u64,
    /// Its states that came, and its latch, if the unit tells them apart.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub states: Vec<StoodSummary>,
}

/// A line of the log.
#[derive(Clone, Debug, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct LogEntry {
    /// When.
    pub clock: String,
    /// ms from midnight before day 1.
    pub clock_ms: u64,
    /// What.
    pub words: String,
}

impl Summary {
    /// Sums up a run that came to its end.
    #[must_use]
    pub fn of<U: ControlUnit>(
        scenario: &Scenario,
        pool: &SimPool<U>,
        watch: &Watch,
        findings: &Findings,
    ) -> Self {
        let names = scenario.feeder_names();
        let start_ms = u64::from(scenario.plant.start_min) * 60_000;
        let mut broken: Vec<&str> = findings.broken().collect();
        let mut expected: Vec<&str> = scenario.expect_broken.iter().map(String::as_str).collect();
        broken.sort_unstable();
        expected.sort_unstable();
        let band = |(low, high): (f64, f64), band: Band| BandSummary {
            low,
            high,
            inside_percent: band.percent(),
        };
        Self {
            version: SUMMARY_VERSION,
            program: env!("CARGO_PKG_VERSION"),
            scenario: scenario.name.clone(),
            words: scenario.words.clone(),
            days: scenario.days,
            seed: scenario.seed,
            tick_ms: scenario.tick_ms,
            held: findings.held(),
            as_expected: broken == expected,
            oracles: findings
                .0
                .iter()
                .map(|finding| oracle(finding, start_ms))
                .collect(),
            ph: band(scenario.ph_band(), watch.ph),
            orp: band(scenario.orp_band(), watch.orp),
            bodies: bodies::summaries(scenario, watch),
            feeders: (0..names.len())
                .map(|index| feeder(scenario, pool, watch, index))
                .collect(),
            alarms: alarms(watch, pool.unit().alarm_names()),
            unpowered_s: watch.unpowered_ms / 1000,
            waiting_for_person_s: watch.waiting_ms / 1000,
            log: pool
                .log()
                .iter()
                .map(|line| log_entry(line, &names))
                .collect(),
            log_dropped: pool.log_dropped(),
            never_came: pool.unplayed().map(|act| words::act(act, &names)).collect(),
        }
    }
}

/// A unit that people read more easily, and how many of the small ones are in it.
pub(crate) fn for_people(unit: &'static str) -> (f64, &'static str) {
    match unit {
        "ms" => (1000.0, "s"),
        "uL" => (1000.0, "mL"),
        "mg Cl2" => (1000.0, "g Cl2"),
        other => (1.0, other),
    }
}

/// What an oracle found, of a run that began `start_ms` after midnight before day 1.
#[must_use]
pub fn oracle(finding: &Finding, start_ms: u64) -> OracleSummary {
    let about = about(finding.name);
    let mut summary = OracleSummary {
        name: finding.name,
        hazards: finding.hazard.to_vec(),
        verdict: "held",
        worst: None,
        bound: None,
        unit: "",
        side: about.map_or("", |about| about.side),
        holds: about.map_or("", |about| about.holds),
        first_broken: None,
        words: String::new(),
    };
    let mut figures = |worst: f64, bound: f64, unit: &'static str| {
        let (scale, unit) = for_people(unit);
        (summary.worst, summary.bound) = (Some(worst / scale), Some(bound / scale));
        summary.unit = unit;
    };
    match &finding.verdict {
        Verdict::Held { worst, bound, unit } => figures(*worst, *bound, unit),
        Verdict::Broken {
            first_at_ms,
            worst,
            bound,
            unit,
            words,
        } => {
            figures(*worst, *bound, unit);
            summary.verdict = "broken";
            summary.first_broken = Some(clock::show(start_ms + first_at_ms));
            summary.words.clone_from(words);
        }
        Verdict::NotApplicable { why } => {
            summary.verdict = "not judged";
            (*why).clone_into(&mut summary.words);
        }
    }
    summary
}

fn feeder<U: ControlUnit>(
    scenario: &Scenario,
    pool: &SimPool<U>,
    watch: &Watch,
    index: usize,
) -> FeederSummary {
    let truth = &pool.truth().feeders[index];
    let cap = |pick: fn(&dosewarden::guard::BodyLimits) -> u32| {
        scenario
            .limits
            .body(index, 0)
            .map_or(0.0, |body| f64::from(pick(body)) / 1000.0)
    };
    FeederSummary {
        name: scenario.feeders[index].name.clone(),
        product: truth.product.name(),
        unit: if truth.product.unit() == "uL" {
            "mL"
        } else {
            "g"
        },
        cycle_cap: cap(|body| body.cycle_cap.0),
        hour_cap: cap(|body| body.hour_cap.0),
        day_cap: cap(|body| body.day_cap.0),
        days: watch.days.iter().map(|day| day[index] / 1000.0).collect(),
        total: truth.fed_total / 1000.0,
        standing: truth.fed_standing_total / 1000.0,
        doses: watch
            .doses
            .iter()
            .filter(|dose| dose.feeder == index)
            .count(),
        phases: stood(&PHASES, &watch.phases[index]),
        refusals: refusals(&watch.refusals[index], pool.unit().refusal_names()),
        rate: pool.unit().rate_found(index).map(|found| RateSummary {
            truth: scenario.plant.feeders[index].rate_factor * truth.strength,
            found: found.by_water.map(|(ratio, _)| ratio),
            deviation: found.by_water.map(|(_, deviation)| deviation),
            doses: found.doses,
            verdict: found.verdict,
            by_drum: found.by_drum,
        }),
    }
}

fn refusals(seen: &Refusals, names: &[String]) -> Vec<RefusalSummary> {
    let mut all: Vec<RefusalSummary> = names
        .iter()
        .zip(seen.ms.iter().zip(&seen.asked_ms))
        .filter(|(_, (ms, _))| **ms > 0)
        .map(|(rule, (ms, asked))| RefusalSummary {
            rule: rule.clone(),
            seconds: ms / 1000,
            asked_seconds: asked / 1000,
        })
        .collect();
    all.sort_by_key(|refusal| core::cmp::Reverse((refusal.asked_seconds, refusal.seconds)));
    all
}

fn alarms(watch: &Watch, names: &[String]) -> Vec<AlarmSummary> {
    names
        .iter()
        .zip(&watch.alarms)
        .filter(|(_, alarm)| alarm.times > 0)
        .map(|(name, alarm)| AlarmSummary {
            name: name.clone(),
            times: alarm.times,
            seconds: alarm.ms / 1000,
            states: stood(&ALARM_STATES, &alarm.states),
        })
        .collect()
}

/// A line of the log, in words.
/// A line of the log in words; `names` are the feeders'.
#[must_use]
pub fn log_entry(line: &LogLine, names: &[String]) -> LogEntry {
    let words = match &line.what {
        LogWhat::Act(act) => words::act(act, names),
        LogWhat::FaultEnded(Ending::Plant(fault)) => words::act(&Act::FaultEnds(*fault), names),
        LogWhat::FaultEnded(Ending::Unit(fault)) => words::act(&Act::UnitEnds(*fault), names),
        LogWhat::PowerBack => "the power is back".to_owned(),
        LogWhat::Reply(Reply::Refused(why)) => format!("refused: {why}"),
        LogWhat::Reply(_) => "done".to_owned(),
        LogWhat::AlarmCame(name) => format!("alarm: {name}"),
        LogWhat::AlarmWent(name) => format!("alarm ends: {name}"),
        LogWhat::Tested(found) => found.words(),
        LogWhat::NeedsPerson => "the unit waits for a person".to_owned(),
        LogWhat::NeedsNobody => "the unit waits for nobody any more".to_owned(),
    };
    LogEntry {
        clock: clock::show(line.clock_ms),
        clock_ms: line.clock_ms,
        words,
    }
}
