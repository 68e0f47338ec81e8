//! One trial: a fork of the run, lived until it has settled, and what came of it.

use crate::oracle::Verdict;
use crate::plant::MAX_FEEDERS;
use crate::pool::LogWhat;
use crate::unit::{ControlUnit, UnitStatus};

use super::Pool;
use super::control::{Control, More, Nearest};

/// Longest trial of a single fault or a pair, ms.
pub const SIX_HOURS_MS: u64 = 6 * 3_600_000;
/// A trial has settled when for so long nothing was fed and nothing new was shown, ms.
const SETTLED_MS: u64 = 45 * 60_000;

/// A statement of an oracle that was past its bound, of one thing that it is about.
#[derive(Clone, Debug, PartialEq)]
pub struct Broken {
    /// The oracle's name.
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
    fn of(oracle: &'static str, verdict: Verdict) -> Option<Self> {
        let Verdict::Broken {
            first_at_ms,
            worst,
            bound,
            unit,
            words,
        } = verdict
        else {
            return None;
        };
        Some(Self {
            oracle,
            worst,
            bound,
            unit,
            first_at_ms,
            words,
        })
    }

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

/// An oracle that was never past its bound.
#[derive(Clone, Debug, PartialEq)]
pub struct Held {
    /// Its name.
    pub oracle: &'static str,
    /// The value nearest to the bound.
    pub worst: f64,
    /// The bound of a sound site.
    pub bound: f64,
    /// Unit of both.
    pub unit: &'static str,
}

impl Held {
    /// How far it is from its bound, as a share of that; `None` where the bound is nothing at all.
    pub(super) fn left(&self) -> Option<f64> {
        let scale = self.bound.abs();
        (scale > 0.0).then(|| (self.worst - self.bound).abs() / scale)
    }

    /// The same, and `None` at the bound too: there it cannot come nearer.
    pub(super) fn room(&self) -> Option<f64> {
        self.left().filter(|left| *left > 1e-6)
    }
}

/// What a unit showed, as bits.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Signs {
    /// Alarms.
    alarms: u64,
    /// Reasons for which feed that is asked for is refused, but the turn of another.
    refusals: u64,
    /// A person was asked for.
    person: bool,
}

impl Signs {
    /// What is shown now and was not `before`, but reasons in `turn`.
    pub(super) fn besides(now: &UnitStatus, before: &UnitStatus, turn: u64) -> Self {
        let asked = now.feeders.iter().zip(&before.feeders);
        let asked = asked.filter(|(now, _)| now.asked);
        let refused = asked.fold(0, |bits, (now, before)| {
            bits | (now.refusing & !before.refusing)
        });
        Self {
            alarms: now.alarms & !before.alarms,
            refusals: refused & !turn,
            person: now.needs_person && !before.needs_person,
        }
    }

    pub(super) fn add(&mut self, more: Self) {
        self.alarms |= more.alarms;
        self.refusals |= more.refusals;
        self.person |= more.person;
    }
}

/// Why a feeder waits while another has its turn: no sign of a fault, since it comes in any sound day.
const TURN: [&str; 2] = ["one_at_a_time", "other_has_turn"];

/// The bits of that.
pub(super) fn turn_of_another(pool: &Pool) -> u64 {
    let names = pool.unit().refusal_names().iter().take(64);
    let of_turn = names
        .enumerate()
        .filter(|(_, name)| TURN.contains(&name.as_str()));
    of_turn.fold(0, |bits, (bit, _)| bits | 1 << bit)
}

const FOR_A_PERSON: &str = "waits for a person";

/// What a run with a fault from the start has told in its first days, and the sound one has not: the first alarm of
/// another name, or that a person is asked for; else what only this run still tells at their end.
pub(super) fn told_in_first_days(run: &Pool, sound: &Pool) -> Option<String> {
    let name = |what: &LogWhat| match what {
        LogWhat::AlarmCame(name) => Some(name.clone()),
        LogWhat::NeedsPerson => Some(FOR_A_PERSON.to_owned()),
        _ => None,
    };
    let own: Vec<String> = sound
        .log()
        .iter()
        .filter_map(|line| name(&line.what))
        .collect();
    let mut all = run.log().iter().filter_map(|line| name(&line.what));
    let still = Signs::besides(run.status(), sound.status(), 0);
    all.find(|name| !own.contains(name)).or_else(|| {
        named(run.unit().alarm_names(), still.alarms)
            .or_else(|| still.person.then(|| FOR_A_PERSON.to_owned()))
    })
}

/// The first name of these bits.
fn named(names: &[String], bits: u64) -> Option<String> {
    let first = (bits != 0).then_some(bits.trailing_zeros() as usize)?;
    names.get(first).cloned()
}

/// From when on what is shown may be about the faults.
#[derive(Clone, Debug)]
pub(super) struct FaultFrom {
    /// The first onset, ms from midnight before day 1.
    pub(super) at_ms: u64,
    /// The last one, likewise.
    pub(super) all_from_ms: u64,
    /// What one that stands from the start has told before the trial.
    pub(super) told: Option<String>,
    /// What each feeder had given at the origin, mL, or g for a generator.
    pub(super) had_given: [f64; MAX_FEEDERS],
}

/// What came of a trial.
#[derive(Clone, Debug, PartialEq)]
pub struct Outcome {
    /// The first alarm that was not there before, or that a person is asked for.
    pub told_by: Option<String>,
    /// How long after the first onset, ms; 0 for what was told in the first days of a fault that stands from the start.
    pub told_after_ms: Option<u64>,
    /// It was told in those days: before the trial, of which the onset is then the start.
    pub told_in_first_days: bool,
    /// The first reason, not there before, for which feed that is asked for is refused, but the turn of another.
    pub refused_by: Option<String>,
    /// How long after the first onset it was safe, ms: all faults had begun, somebody had been told, and in that tick no
    /// drive was on and no feeder gave anything, driven or not. It stays as first found: what is driven or leaks
    /// again after that does not take it back.
    pub safe_after_ms: Option<u64>,
    /// What each feeder gave more than the sound run from the origin on, at the most at any moment until it was safe, or to
    /// the end: mL, or g for a generator. Never negative.
    pub fed_more: [f64; MAX_FEEDERS],
    /// Lowest and highest pH of the pool.
    pub ph: (f64, f64),
    /// Lowest and highest free chlorine, mg/L.
    pub chlorine_mg_l: (f64, f64),
    /// What was past its bound.
    pub broken: Vec<Broken>,
    /// The one that held and came nearest to its bound, nearer than in the sound run.
    pub pressed: Option<Nearest>,
    /// How long it was lived after the onset, ms.
    pub lived_ms: u64,
    /// When it ended, ms from midnight before day 1.
    pub ended_at_ms: u64,
}

/// What is watched in a trial.
struct Watch<'a> {
    onset_ms: u64,
    fault: FaultFrom,
    without: Signs,
    turn: u64,
    before: UnitStatus,
    more: More<'a>,
    outcome: Outcome,
    quiet_since_ms: u64,
    last: UnitStatus,
}

/// What each feeder has given since the start of the run: mL, or g for a generator.
pub(super) fn totals(pool: &Pool) -> [f64; MAX_FEEDERS] {
    let mut fed = [0.0; MAX_FEEDERS];
    for (fed, feeder) in fed.iter_mut().zip(&pool.truth().feeders) {
        *fed = feeder.fed_total / 1000.0;
    }
    fed
}

impl<'a> Watch<'a> {
    fn new(pool: &Pool, fault: FaultFrom, more: More<'a>, without: Signs) -> Self {
        let told = fault.told.clone();
        Self {
            onset_ms: pool.clock_ms(),
            without,
            turn: turn_of_another(pool),
            before: *pool.status(),
            more,
            outcome: Outcome {
                told_after_ms: told.as_ref().map(|_| 0),
                told_in_first_days: told.is_some(),
                told_by: told,
                refused_by: None,
                safe_after_ms: None,
                fed_more: [0.0; MAX_FEEDERS],
                ph: (f64::INFINITY, f64::NEG_INFINITY),
                chlorine_mg_l: (f64::INFINITY, f64::NEG_INFINITY),
                broken: Vec::new(),
                pressed: None,
                lived_ms: 0,
                ended_at_ms: 0,
            },
            fault,
            quiet_since_ms: pool.clock_ms(),
            last: *pool.status(),
        }
    }

    fn look(&mut self, pool: &Pool) {
        let (truth, status, now) = (pool.truth(), pool.status(), pool.clock_ms());
        if let Some(body) = truth.bodies.get(truth.body) {
            let wider = |(low, high): (f64, f64), x: f64| (low.min(x), high.max(x));
            self.outcome.ph = wider(self.outcome.ph, body.ph);
            self.outcome.chlorine_mg_l = wider(self.outcome.chlorine_mg_l, body.free_chlorine_mg_l);
        }
        if truth.powered {
            self.shown(pool, now);
        }
        let gives = truth.feeders.iter().any(|feeder| feeder.fed > 0.0);
        let driven = truth.feeders.iter().any(|feeder| feeder.drive_on_ms > 0);
        if self.outcome.safe_after_ms.is_none() {
            // Between two ticks that give something it can only become less.
            if gives {
                self.more.look(pool);
            }
            let told = self.outcome.told_by.is_some();
            if told && !driven && !gives && now > self.fault.all_from_ms {
                self.outcome.safe_after_ms = Some(now.saturating_sub(self.fault.at_ms));
            }
        }
        let same =
            status.alarms == self.last.alarms && status.needs_person == self.last.needs_person;
        if gives || !same {
            self.quiet_since_ms = now;
            self.last = *status;
        }
    }

    /// What the unit shows that is new: the first of it that is about the fault.
    fn shown(&mut self, pool: &Pool, now_ms: u64) {
        let all_found = self.outcome.told_by.is_some() && self.outcome.refused_by.is_some();
        if now_ms < self.fault.at_ms || all_found {
            return;
        }
        let new = Signs::besides(pool.status(), &self.before, self.turn);
        let without = self.without;
        if self.outcome.told_by.is_none() {
            let person = (new.person && !without.person).then(|| FOR_A_PERSON.to_owned());
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

/// How long a trial is lived.
#[derive(Clone, Copy, Debug)]
pub(super) struct Span {
    /// When its pool goes on without being watched until, ms from midnight before day 1.
    pub(super) from_ms: u64,
    /// For how long after that at most, ms.
    pub(super) for_ms: u64,
    /// No longer than until nothing more happens.
    pub(super) until_settled: bool,
}

/// Lives a pool, from its origin or later.
pub(super) fn lived(mut pool: Pool, span: Span, fault: FaultFrom, control: &Control) -> Outcome {
    let more = More::than(control, fault.had_given);
    pool.run_for_ms(span.from_ms.saturating_sub(pool.clock_ms()));
    let end_ms = pool.clock_ms() + span.for_ms;
    let mut watch = Watch::new(&pool, fault, more, control.signs_until(end_ms));
    while pool.clock_ms() < end_ms {
        pool.tick();
        watch.look(&pool);
        if span.until_settled && watch.settled(&pool) && pool.is_past_events(end_ms) {
            break;
        }
    }
    let mut outcome = watch.outcome;
    outcome.fed_more = watch.more.most;
    outcome.lived_ms = pool.clock_ms() - watch.onset_ms;
    outcome.ended_at_ms = pool.clock_ms();
    let (broken, held) = judged(&mut pool);
    outcome.broken = broken;
    outcome.pressed = control.nearest(&held);
    outcome
}

/// Ends a run, and says what was past its bound.
pub(super) fn broken(pool: &mut Pool) -> Vec<Broken> {
    judged(pool).0
}

/// How well the water is kept is no question while something is broken.
pub(super) const NOT_JUDGED: &str = "kept_in_range";

/// Ends a run, and says what was past its bound, of each oracle all of its statements and all that they are about, and which
/// oracles judged something and held whole.
pub(super) fn judged(pool: &mut Pool) -> (Vec<Broken>, Vec<Held>) {
    let (mut all, mut held) = (Vec::new(), Vec::new());
    for finding in pool.finish().0 {
        let oracle = finding.name;
        all.extend(
            finding
                .each
                .into_iter()
                .filter_map(|one| Broken::of(oracle, one)),
        );
        if let Verdict::Held { worst, bound, unit } = finding.verdict
            && oracle != NOT_JUDGED
        {
            held.push(Held {
                oracle,
                worst,
                bound,
                unit,
            });
        }
    }
    (all, held)
}
