//! From what a person does to acts of the controller, and from its answers to words.

use std::collections::VecDeque;

use dosewarden::alarm::{AlarmId, Shelving};
use dosewarden::guard::units::{Body, Dose, MilliPh, Millis};
use dosewarden::guard::{Action, Authority, Limits, Lockout, Remedy, Stage, State};
use dosewarden::{Act, ActResult, Person};

use crate::scenario::{CareAct, PersonAct};

/// Acts that a person is about to do, one a tick.
pub(super) type Queue = VecDeque<Person>;

/// Puts what a person does into the queue. `alarms` are those that stand.
pub(super) fn queue<const N: usize, const B: usize, const H: usize, const D: usize>(
    act: &PersonAct,
    state: &State<N, B, H, D>,
    limits: &Limits<N, B>,
    alarms: &[AlarmId],
    queue: &mut Queue,
) {
    let mut own = |by, act| queue.push_back(Person { by, act });
    let mut guard = |by, action| own(by, Act::Guard(action));
    match *act {
        PersonAct::Initialise(by) => guard(by, Action::Initialise),
        PersonAct::NewProbe(by) => guard(by, Action::NewProbe),
        PersonAct::FullStage(by) => guard(by, Action::SetStage(Stage::Full)),
        PersonAct::ReducedStage(by) => guard(by, Action::SetStage(Stage::Reduced)),
        PersonAct::EnterFallback { by, test_age } => guard(by, Action::EnterFallback { test_age }),
        PersonAct::LeaveFallback(by) => guard(by, Action::LeaveFallback),
        PersonAct::Release {
            by,
            lockout,
            pool_empty,
            remedy,
        } => {
            let all = standing(state, lockout);
            all.for_each(|one| guard(by, release(one, pool_empty, remedy)));
        }
        PersonAct::Acknowledge(by) => own(by, Act::AcknowledgeAll),
        PersonAct::Shelve(by) => {
            for id in alarms {
                own(by, Act::Shelve(*id, Shelving::Timed(Shelving::LONGEST)));
            }
        }
        PersonAct::ManualFeed { feeder, .. } => {
            let body = usize::from(state.selected.unwrap_or(0));
            let dose = limits.caps(feeder, body, state.stage).cycle;
            own(Authority::Operator, Act::FeedByHand { feeder, dose });
        }
        PersonAct::Pause(ms) => own(
            Authority::Owner,
            Act::Pause(Millis(u32::try_from(ms).unwrap_or(u32::MAX))),
        ),
        PersonAct::Resume(by) => own(by, Act::Resume),
        PersonAct::LayUp(by) => own(by, Act::LayUp),
        PersonAct::OpenUp(by) => own(by, Act::OpenUp),
        PersonAct::HandDose {
            by,
            feeder,
            dose,
            body,
        } => own(by, hand_dose(feeder, dose, body)),
        PersonAct::Care { by, act } => {
            if let Some(act) = care(act) {
                own(by, act);
            }
        }
        PersonAct::Refill(_)
        | PersonAct::EmergencyStop(_)
        | PersonAct::Work { .. }
        | PersonAct::Pour { .. }
        | PersonAct::ExchangeWater(_)
        | PersonAct::ToBody { .. } => {}
        PersonAct::ReadLevel { feeder, level } => {
            if let Some(level) = level {
                own(Authority::Operator, Act::ReadLevel { feeder, level });
            }
        }
    }
}

fn release(
    (lockout, feeder): (Lockout, usize),
    pool_empty: bool,
    remedy: Option<Remedy>,
) -> Action {
    Action::Release {
        lockout,
        feeder,
        pool_empty,
        remedy,
    }
}

fn hand_dose(feeder: usize, dose: Dose, body: Option<usize>) -> Act {
    let body = body.map(|body| Body(body as u8));
    Act::HandDose { feeder, dose, body }
}

/// What goes through a tick; `None`: it is taken at once.
fn care(act: CareAct) -> Option<Act> {
    match act {
        CareAct::Observe => Some(Act::Observe),
        CareAct::KitPh(ph) => Some(Act::KitPh(ph.unwrap_or(MilliPh(0)))),
        CareAct::Prime { feeder, .. } => Some(Act::Prime { feeder }),
        CareAct::Strength { feeder, percent } => Some(Act::Strength { feeder, percent }),
        CareAct::Prove(_)
        | CareAct::ProveAll(_)
        | CareAct::Trip
        | CareAct::StoodStill(_)
        | CareAct::ChangeCaps { .. } => None,
    }
}

/// The lockouts that stand, of the site and then of each feeder; only `named`, if it is.
fn standing<const N: usize, const B: usize, const H: usize, const D: usize>(
    state: &State<N, B, H, D>,
    named: Option<Lockout>,
) -> impl Iterator<Item = (Lockout, usize)> {
    let site = state.site_lockouts.iter().map(|one| (one, 0));
    let own = state.feeder_lockouts.iter().enumerate();
    let own = own.flat_map(|(feeder, stands)| stands.iter().map(move |one| (one, feeder)));
    site.chain(own)
        .filter(move |(one, _)| named.is_none_or(|named| named == *one))
}

/// Why an act was refused, in words; `None` if it was done.
pub(super) fn refusal(result: ActResult) -> Option<String> {
    match result {
        ActResult::Done => None,
        ActResult::StageNeeds(needs) => Some(needs.to_string()),
        ActResult::OpeningNeeds(needs) => Some(needs.to_string()),
        ActResult::StrengthOut { min, max } => Some(format!(
            "what is in the drum has to have {min} to {max} % of the strength that its caps were made for"
        )),
        ActResult::Guard(by_guard) => Some(format!("{by_guard:?}")),
        other => Some(format!("{other:?}")),
    }
}
