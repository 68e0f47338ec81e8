//! Lives the trials of a campaign, on as many threads as there are.

use rayon::iter::{IntoParallelIterator, ParallelIterator};

use super::CampaignError;
use super::bounds::Bounds;
use super::case::Case;
use super::control::Control;
use super::plan::{Planned, Trials};
use super::report::Report;
use super::subject::{Pool, RESET, Subject};
use super::trial::{FaultFrom, Outcome, Span, lived, told_in_first_days};
use crate::fault::Chosen;
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

/// The run from which a trial starts, with its faults and its reset to come, and the first moment at which something
/// of it happens.
pub(super) fn begun(
    subject: &Subject,
    chosen: &[Chosen],
    reset_at_ms: Option<u64>,
) -> Result<(Pool, u64), CampaignError> {
    let mut pool = subject.origin_of(chosen)?;
    let mut events = Vec::new();
    let mut onset = reset_at_ms.unwrap_or(u64::MAX);
    for one in chosen {
        events.extend(one.events(&subject.scenario).unwrap_or_default());
        let from_the_start = one.stands_from_the_start(&subject.scenario);
        onset = onset.min(if from_the_start { 0 } else { one.at_ms });
    }
    if let Some(at_ms) = reset_at_ms {
        events.push(Event {
            at_ms,
            trigger: None,
            act: Act::PowerCut {
                supply: RESET,
                for_ms: RESET_MS,
            },
        });
    }
    pool.add_events(events);
    Ok((pool, onset))
}

/// Lives one trial. What tells of it is what does not come with the reset alone, in a sound run as long as this.
///
/// # Errors
/// The plant cannot be built with these faults.
pub fn live(subject: &Subject, planned: &Planned) -> Result<Outcome, CampaignError> {
    // A trial without fault and reset has no onset: it is told from the dose on.
    let from = |pool: &Pool, onset: u64| onset.min(subject.dose_to_ms).max(pool.clock_ms());
    let control = subject.control((planned.reset_at_ms, planned.for_ms), || {
        let (pool, onset) = begun(subject, &[], planned.reset_at_ms)?;
        let until_ms = from(&pool, onset) + planned.for_ms;
        Ok(Control::lived(pool, until_ms))
    })?;
    let (pool, onset) = begun(subject, &planned.chosen, planned.reset_at_ms)?;
    let from_ms = from(&pool, onset);
    let early = |one: &Chosen| one.stands_from_the_start(&subject.scenario);
    let onsets = planned.chosen.iter().map(|one| {
        let at_ms = if early(one) { 0 } else { one.at_ms };
        at_ms.max(from_ms)
    });
    let told = planned
        .chosen
        .iter()
        .any(early)
        .then(|| told_in_first_days(&pool, &subject.origin));
    let fault = FaultFrom {
        at_ms: onsets.clone().min().unwrap_or(from_ms),
        all_from_ms: onsets.max().unwrap_or(from_ms),
        told: told.flatten(),
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
