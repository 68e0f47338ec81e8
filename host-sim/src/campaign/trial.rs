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
    /// How long it was lived after the onset, ms.
    pub lived_ms: u64,
    /// When it ended, ms from midnight before day 1.
    pub ended_at_ms: u64,
}

/// What is watched in a trial.
struct Watch {
    onset_ms: u64,
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
    fn new(pool: &Pool) -> Self {
        Self {
            onset_ms: pool.clock_ms(),
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
                lived_ms: 0,
                ended_at_ms: 0,
            },
            quiet_since_ms: pool.clock_ms(),
            last: *pool.status(),
        }
    }

    fn look(&mut self, pool: &Pool) {
        let (truth, status, now) = (pool.truth(), *pool.status(), pool.clock_ms());
        let after = now - self.onset_ms;
        if let Some(body) = truth.bodies.get(truth.body) {
            let wider = |(low, high): (f64, f64), x: f64| (low.min(x), high.max(x));
            self.outcome.ph = wider(self.outcome.ph, body.ph);
            self.outcome.chlorine_mg_l = wider(self.outcome.chlorine_mg_l, body.free_chlorine_mg_l);
        }
        if self.outcome.told_by.is_none() && truth.powered {
            let new = status.alarms & !self.before.alarms;
            let names = pool.unit().alarm_names();
            let by = if new != 0 {
                names.get(new.trailing_zeros() as usize).cloned()
            } else if status.needs_person && !self.before.needs_person {
                Some("waits for a person".to_owned())
            } else {
                None
            };
            if by.is_some() {
                self.outcome.told_by = by;
                self.outcome.told_after_ms = Some(after);
            }
        }
        if self.outcome.refused_by.is_none() {
            let shown = status.feeders.iter().zip(&self.before.feeders);
            let new = shown
                .filter(|(now, _)| now.asked)
                .map(|(now, before)| now.refusing & !before.refusing)
                .find(|new| *new != 0);
            if let Some(new) = new {
                let names = pool.unit().refusal_names();
                self.outcome.refused_by = names.get(new.trailing_zeros() as usize).cloned();
            }
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

    fn settled(&self, pool: &Pool) -> bool {
        pool.clock_ms() >= self.quiet_since_ms + SETTLED_MS
    }
}

/// Lives a pool from its onset, which is now, for `for_ms` at most; with `until_settled` no longer than until
/// nothing more happens.
#[must_use]
pub fn lived(mut pool: Pool, for_ms: u64, until_settled: bool) -> Outcome {
    let mut watch = Watch::new(&pool);
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
