//! Lives the trials of a campaign, on as many threads as there are.

use rayon::iter::{IntoParallelIterator, ParallelIterator};

use super::CampaignError;
use super::annunciation::{Annunciations, Gravest};
use super::bounds::Bounds;
use super::case::Case;
use super::control::Control;
use super::plan::{Planned, Trials};
use super::report::Report;
use super::subject::{Pool, RESET, Subject};
use super::trial::{FaultFrom, Outcome, Span, lived, told_in_first_days, totals};
use crate::fault::Chosen;
use crate::scenario::clock::DAY_MS;
use crate::scenario::{Act, Event};

/// Power is away for so long at a reset, ms.
pub(super) const RESET_MS: u64 = 2_000;
/// Trials between two looks at whether to stop.
const CHUNK: usize = 64;

/// Which part of a campaign is lived: part `part` of `of`, counted from 1.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Shard {
    /// Which.
    pub part: u64,
    /// Of how many.
    pub of: u64,
}

impl Shard {
    /// All of it.
    pub const ALL: Self = Self { part: 1, of: 1 };
}

/// The first moment at which something of a trial happens, ms from midnight before day 1: 0 with a fault that stands from
/// the start, the last moment of all where nothing happens.
pub(super) fn onset_of(subject: &Subject, chosen: &[Chosen], reset_at_ms: Option<u64>) -> u64 {
    let begins = |one: &Chosen| {
        let early = one.stands_from_the_start(&subject.scenario);
        if early { 0 } else { one.at_ms }
    };
    let first = chosen.iter().map(begins).min();
    first
        .unwrap_or(u64::MAX)
        .min(reset_at_ms.unwrap_or(u64::MAX))
}

/// The run from which a trial starts, not long before something of it happens, with its faults and its reset to come.
pub(super) fn begun(
    subject: &Subject,
    chosen: &[Chosen],
    reset_at_ms: Option<u64>,
) -> Result<Pool, CampaignError> {
    let pool = match onset_of(subject, chosen, reset_at_ms) {
        0 => subject.origin_of(chosen)?,
        u64::MAX => subject.sound_before(subject.dose_to_ms),
        onset => subject.sound_before(onset),
    };
    Ok(with_faults(pool, subject, chosen, reset_at_ms))
}

/// A run with the faults and the reset of a trial to come.
pub(super) fn with_faults(
    mut pool: Pool,
    subject: &Subject,
    chosen: &[Chosen],
    reset_at_ms: Option<u64>,
) -> Pool {
    let events = chosen
        .iter()
        .map(|one| one.events(&subject.scenario).unwrap_or_default());
    let mut events: Vec<Event> = events.flatten().collect();
    if let Some(at_ms) = reset_at_ms {
        let cut = Act::PowerCut {
            supply: RESET,
            for_ms: RESET_MS,
        };
        events.push(Event::at(at_ms, cut));
    }
    pool.add_events(events);
    pool
}

/// Lives one trial. What tells of it is what does not come with the reset alone, in a sound run until the latest end that
/// the trial may have; what comes nearest to its bound is what does in this and not in the sound run, without a reset of
/// whole days.
///
/// # Errors
/// The plant cannot be built with these faults.
pub fn live(subject: &Subject, planned: &Planned) -> Result<Outcome, CampaignError> {
    let origin_ms = subject.origin.clock_ms();
    // A trial without fault and reset has no onset: it is told from the dose on.
    let from = |onset: u64| match onset {
        u64::MAX => subject.dose_to_ms,
        onset => onset.max(origin_ms),
    };
    let from_ms = from(onset_of(subject, &planned.chosen, planned.reset_at_ms));
    let sound_until_ms = match planned.reset_at_ms {
        Some(at_ms) => from(at_ms) + planned.for_ms,
        None => {
            let past_ms = from_ms + planned.for_ms - origin_ms;
            origin_ms + past_ms.next_multiple_of(DAY_MS)
        }
    };
    let control = subject.control((planned.reset_at_ms, sound_until_ms), || {
        let sound = with_faults(subject.origin.clone(), subject, &[], planned.reset_at_ms);
        Ok(Control::lived(sound, sound_until_ms))
    })?;
    let pool = begun(subject, &planned.chosen, planned.reset_at_ms)?;
    let early = |one: &Chosen| one.stands_from_the_start(&subject.scenario);
    let onsets = planned.chosen.iter().map(|one| {
        let at_ms = if early(one) { 0 } else { one.at_ms };
        at_ms.max(from_ms)
    });
    let is_changed = planned.chosen.iter().any(early);
    let told = is_changed.then(|| told_in_first_days(&pool, &subject.origin));
    let fault = FaultFrom {
        at_ms: onsets.clone().min().unwrap_or(from_ms),
        all_from_ms: onsets.max().unwrap_or(from_ms),
        told: told.flatten(),
        had_given: totals(if is_changed { &pool } else { &subject.origin }),
    };
    let span = Span {
        from_ms,
        for_ms: planned.for_ms,
        until_settled: planned.reset_at_ms.is_some(),
    };
    Ok(lived(pool, span, fault, &control))
}

/// Lives a campaign, or a part of it. `told` is called with how many trials are done; it says whether to go on.
///
/// # Errors
/// The plant cannot be built with some fault.
pub fn run(
    subject: &Subject,
    trials: &Trials,
    bounds: &Bounds,
    shard: Shard,
    mut told: impl FnMut(u64) -> bool,
) -> Result<Report, CampaignError> {
    let scenario = &subject.scenario;
    let mut report = Report {
        version: Report::VERSION,
        site: scenario.name.clone(),
        command: String::new(),
        digest: subject.digest(bounds),
        canary: subject.canary.map(|canary| canary.name().to_owned()),
        mode: trials.mode().name().to_owned(),
        seed: trials.seed(),
        only: trials.only().into_iter().map(str::to_owned).collect(),
        drawn: trials.drawn(scenario),
        parts: [[shard.part, shard.of]].into(),
        planned: trials.numbers().count() as u64,
        lived: 0,
        simulated_s: 0,
        stopped: false,
        cases: trials
            .groups
            .iter()
            .zip(0..)
            .map(|(group, number)| Case::of(number, group, scenario))
            .collect(),
    };
    let numbers: Vec<u64> = trials
        .numbers()
        .filter(|number| number % shard.of == shard.part - 1)
        .collect();
    let annunciations = Annunciations::committed();
    let mut done = 0;
    for chunk in numbers.chunks(CHUNK) {
        let outcomes: Vec<Option<(u64, Planned, Outcome)>> = chunk
            .to_vec()
            .into_par_iter()
            .map(|number| {
                let Some(planned) = trials.get(number) else {
                    return Ok(None);
                };
                let outcome = live(subject, &planned)?;
                Ok(Some((number, planned, outcome)))
            })
            .collect::<Result<_, CampaignError>>()?;
        for (number, planned, outcome) in outcomes.into_iter().flatten() {
            report.lived += 1;
            report.simulated_s += outcome.lived_ms / 1000;
            let case = &mut report.cases[planned.case];
            case.add(number, &outcome, &planned.chosen, bounds, scenario);
            if let ([one], true) = (&planned.chosen[..], trials.is_gravest(number)) {
                let within_s = annunciations.within_s(one, scenario);
                case.gravest = Some(Gravest::of(within_s, number, &outcome));
            }
        }
        done += chunk.len() as u64;
        if !told(done) {
            report.stopped = done < numbers.len() as u64;
            break;
        }
    }
    // A part of many random cases would else be mostly cases of the other parts.
    report.cases.retain(|case| {
        trials.has(case.number as usize) && (case.trials > 0 || case.not_here.is_some())
    });
    Ok(report)
}
