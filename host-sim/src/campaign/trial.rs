//! One trial: a fork of the run, lived until it has settled, and what came of it.

use crate::oracle::Verdict;
use crate::plant::MAX_FEEDERS;
use crate::unit::{ControlUnit, UnitStatus};

use super::Pool;

/// Longest trial of a single fault or a pair, ms.
pub const SIX_HOURS_MS: u64 = 6 * 3_600_000;
/// A trial has settled when for so long nothing was fed and nothing new was shown, ms.
const SETTLED_MS: u64 = 45 * 60_000;

/// An oracle that was past its bound.
#[derive(Clone, Debug, PartialEq)]
pub struct Broken {
    /// Its name.
    pub oracle: &'static str,
    /// The value furthest past.
    pub worst: f64,
    /// The bound of a sound site.
    pub bound: f64,
    /// Unit of both.
    pub unit: &'static str,
    /// When it was first past, ms from the start of the run.
    pub first_at_ms: u64,
    /// What went wrong.
    pub words: String,
}

impl Broken {
    /// What it belongs to: a product, the water, the line.
    #[must_use]
    pub fn who(&self) -> &str {
        self.words.split_once(": ").map_or("", |(who, _)| who)
    }

    /// Whether its value should have been at most the bound; otherwise at least.
    #[must_use]
    pub fn is_most(&self) -> bool {
        self.worst >= self.bound
    }
}

/// What a unit showed, as bits.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Signs {
    /// Alarms that were not there before.
    pub alarms: u64,
    /// Reasons, not there before, for which feed that is asked for is refused.
    pub refusals: u64,
    /// A person was asked for.
    pub person: bool,
}

/// From when on what is shown may be about the fault.
#[derive(Clone, Copy, Debug, Default)]
pub struct FaultFrom {
    /// Its onset, ms from midnight before day 1.
    pub at_ms: u64,
    /// What is shown without it: by the reset alone, or the hour.
    pub without: Signs,
}

/// What came of a trial.
#[derive(Clone, Debug, PartialEq)]
pub struct Outcome {
    /// The first alarm that was not there before, or that a person is asked for.
    pub told_by: Option<String>,
    /// How long after the onset, ms.
    pub told_after_ms: Option<u64>,
    /// The first reason, not there before, for which feed that is asked for is refused.
    pub refused_by: Option<String>,
    /// How long after the onset nothing was driven and somebody had been told, ms.
    pub safe_after_ms: Option<u64>,
    /// What each feeder gave from the onset to there, or to the end: mL, or g for a generator.
    pub fed: [f64; MAX_FEEDERS],
    /// Lowest and highest pH of the pool.
    pub ph: (f64, f64),
    /// Lowest and highest free chlorine, mg/L.
    pub chlorine_mg_l: (f64, f64),
    /// Oracles that were past their bound.
    pub broken: Vec<Broken>,
    /// All that was shown after the onset.
    pub signs: Signs,
    /// How long it was lived after the onset, ms.
    pub lived_ms: u64,
    /// When it ended, ms from midnight before day 1.
    pub ended_at_ms: u64,
}

/// What is watched in a trial.
struct Watch {
    onset_ms: u64,
    fault: FaultFrom,
    before: UnitStatus,
    fed_before: [f64; MAX_FEEDERS],
    outcome: Outcome,
    quiet_since_ms: u64,
    last: UnitStatus,
}

fn totals(pool: &Pool) -> [f64; MAX_FEEDERS] {
    let mut fed = [0.0; MAX_FEEDERS];
    for (fed, feeder) in fed.iter_mut().zip(&pool.truth().feeders) {
        *fed = feeder.fed_total / 1000.0;
    }
    fed
}

impl Watch {
    fn new(pool: &Pool, fault: FaultFrom) -> Self {
        Self {
            onset_ms: pool.clock_ms(),
            fault,
            before: *pool.status(),
            fed_before: totals(pool),
            outcome: Outcome {
                told_by: None,
                told_after_ms: None,
                refused_by: None,
                safe_after_ms: None,
                fed: [0.0; MAX_FEEDERS],
                ph: (f64::INFINITY, f64::NEG_INFINITY),
                chlorine_mg_l: (f64::INFINITY, f64::NEG_INFINITY),
                broken: Vec::new(),
                signs: Signs::default(),
                lived_ms: 0,
                ended_at_ms: 0,
            },
            quiet_since_ms: pool.clock_ms(),
            last: *pool.status(),
        }
    }

    fn look(&mut self, pool: &Pool) {
        let (truth, status, now) = (pool.truth(), *pool.status(), pool.clock_ms());
        let after = now.saturating_sub(self.fault.at_ms);
        if let Some(body) = truth.bodies.get(truth.body) {
            let wider = |(low, high): (f64, f64), x: f64| (low.min(x), high.max(x));
            self.outcome.ph = wider(self.outcome.ph, body.ph);
            self.outcome.chlorine_mg_l = wider(self.outcome.chlorine_mg_l, body.free_chlorine_mg_l);
        }
        if truth.powered {
            self.shown(pool, status, now);
        }
        let driven = truth.feeders.iter().any(|feeder| feeder.drive_on_ms > 0);
        if self.outcome.safe_after_ms.is_none() {
            let now_fed = totals(pool);
            for (fed, (now, before)) in self
                .outcome
                .fed
                .iter_mut()
                .zip(now_fed.iter().zip(&self.fed_before))
            {
                *fed = now - before;
            }
            if !driven && self.outcome.told_by.is_some() {
                self.outcome.safe_after_ms = Some(after);
            }
        }
        let fed = truth.feeders.iter().any(|feeder| feeder.fed > 0.0);
        let same =
            status.alarms == self.last.alarms && status.needs_person == self.last.needs_person;
        if fed || !same {
            self.quiet_since_ms = now;
            self.last = status;
        }
    }

    /// What the unit shows that is new: all of it, and the first of it that is about the fault.
    fn shown(&mut self, pool: &Pool, status: UnitStatus, now_ms: u64) {
        let shown = status.feeders.iter().zip(&self.before.feeders);
        let refused = shown
            .filter(|(now, _)| now.asked)
            .fold(0, |bits, (now, before)| {
                bits | (now.refusing & !before.refusing)
            });
        let new = Signs {
            alarms: status.alarms & !self.before.alarms,
            refusals: refused,
            person: status.needs_person && !self.before.needs_person,
        };
        let all = &mut self.outcome.signs;
        all.alarms |= new.alarms;
        all.refusals |= new.refusals;
        all.person |= new.person;
        if now_ms < self.fault.at_ms {
            return;
        }
        let without = self.fault.without;
        let named = |names: &[String], bits: u64| {
            let first = (bits != 0).then_some(bits.trailing_zeros() as usize)?;
            names.get(first).cloned()
        };
        if self.outcome.told_by.is_none() {
            let person = (new.person && !without.person).then(|| "waits for a person".to_owned());
            let alarm = named(pool.unit().alarm_names(), new.alarms & !without.alarms);
            self.outcome.told_by = alarm.or(person);
            if self.outcome.told_by.is_some() {
                self.outcome.told_after_ms = Some(now_ms - self.fault.at_ms);
            }
        }
        if self.outcome.refused_by.is_none() {
            let bits = new.refusals & !without.refusals;
            self.outcome.refused_by = named(pool.unit().refusal_names(), bits);
        }
    }

    fn settled(&self, pool: &Pool) -> bool {
        pool.clock_ms() >= self.quiet_since_ms + SETTLED_MS
    }
}

/// Lives a pool from its onset, which is now, for `for_ms` at most; with `until_settled` no longer than until
/// nothing more happens.
#[must_use]
pub fn lived(mut pool: Pool, for_ms: u64, until_settled: bool, fault: FaultFrom) -> Outcome {
    let mut watch = Watch::new(&pool, fault);
    let end_ms = pool.clock_ms() + for_ms;
    while pool.clock_ms() < end_ms {
        pool.tick();
        watch.look(&pool);
        if until_settled && watch.settled(&pool) && pool.is_past_events(end_ms) {
            break;
        }
    }
    let mut outcome = watch.outcome;
    outcome.lived_ms = pool.clock_ms() - watch.onset_ms;
    outcome.ended_at_ms = pool.clock_ms();
    outcome.broken = broken(&mut pool);
    outcome
}

/// Ends a run, and says which oracles were past their bound.
pub(super) fn broken(pool: &mut Pool) -> Vec<Broken> {
    let mut all = Vec::new();
    for finding in pool.finish().0 {
        if let Verdict::Broken {
            first_at_ms,
            worst,
            bound,
            unit,
            words,
        } = finding.verdict
        {
            all.push(Broken {
                oracle: finding.name,
                worst,
                bound,
                unit,
                first_at_ms,
                words,
            });
        }
    }
    all
}
