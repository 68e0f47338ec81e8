//! What persons do: a technician who puts right what stands, and anybody who does anything.

use dosewarden::alarm::{AlarmId, FeederAlarm, Shelving, SiteAlarm};
use dosewarden::guard::units::{Dose, Millis};
use dosewarden::guard::{Action, Authority, Lockout, Remedy, Stage};
use dosewarden::{Act, Person};

use crate::draw::Draw;
use crate::site::Pool;

const ANYBODY: [Authority; 4] = [
    Authority::Owner,
    Authority::Operator,
    Authority::Technician,
    Authority::Maker,
];

const REMEDIES: [Option<Remedy>; 6] = [
    None,
    Some(Remedy::Probe),
    Some(Remedy::Product),
    Some(Remedy::Rate),
    Some(Remedy::Line),
    Some(Remedy::WaterTested),
];

/// Who does what in this tick.
pub(crate) fn drawn(draw: &mut Draw, tick: u32, pool: &Pool) -> Option<Person> {
    let by = Authority::Technician;
    match tick {
        // Until then the record counts as lost.
        5 => return act(by, Act::Guard(Action::Initialise)),
        6 => return act(by, Act::Guard(Action::SetStage(Stage::Full))),
        // What the drums hold.
        7 | 8 => {
            let (feeder, level) = (usize::from(tick == 8), Dose::from_ml(15_000));
            return act(by, Act::ReadLevel { feeder, level });
        }
        _ => {}
    }
    if draw.once_in(25) {
        if let Some(release) = release(draw, pool) {
            return act(by, Act::Guard(release));
        }
        if pool.guard().state().stage != Stage::Full {
            return act(by, Act::Guard(Action::SetStage(Stage::Full)));
        }
    }
    if pool.guard().state().fallback_left.0 == 0 && draw.once_in(60) {
        // Refused as long as the probe is trusted.
        let test_age = Millis(draw.within(0, 60_000));
        return act(by, Act::Guard(Action::EnterFallback { test_age }));
    }
    if draw.once_in(40) {
        return act(draw.one_of(ANYBODY), anything(draw));
    }
    None
}

fn act(by: Authority, act: Act) -> Option<Person> {
    Some(Person { by, act })
}

/// The release of a lockout that stands, mostly with what it needs.
fn release(draw: &mut Draw, pool: &Pool) -> Option<Action> {
    let state = pool.guard().state();
    let of_site = state.site_lockouts.iter().map(|lockout| (lockout, 0));
    let sets = state.feeder_lockouts.iter().zip(0..);
    let of_feeders = sets.flat_map(|(set, feeder)| set.iter().map(move |one| (one, feeder)));
    let (lockout, feeder) = of_site.chain(of_feeders).next()?;
    if lockout == Lockout::RecordLost {
        return Some(Action::Initialise);
    }
    Some(Action::Release {
        lockout,
        feeder,
        pool_empty: !draw.once_in(5),
        remedy: draw.one_of(REMEDIES),
    })
}

fn alarm(draw: &mut Draw) -> AlarmId {
    // One feeder more than there is.
    let feeder = draw.one_of([0, 1, 2]);
    let site = usize::try_from(draw.below(24)).unwrap_or(0);
    let own = usize::try_from(draw.below(8)).unwrap_or(0);
    draw.one_of([
        AlarmId::Site(SiteAlarm::ALL[site]),
        AlarmId::Feeder(feeder, FeederAlarm::ALL[own]),
    ])
}

fn anything(draw: &mut Draw) -> Act {
    let feeder = usize::try_from(draw.below(3)).unwrap_or(0);
    let dose = Dose(draw.within(0, 20_000_000));
    let small = Dose(draw.within(0, 20_000));
    let time = Millis(draw.within(0, 90_000_000));
    let shelving = draw.one_of([
        Shelving::Timed(time),
        Shelving::OneShot(time),
        Shelving::Timed(Millis(30_000)),
    ]);
    let stage = draw.one_of([Stage::Reduced, Stage::Full]);
    let release = Action::Release {
        lockout: draw.one_of(Lockout::ALL),
        feeder,
        pool_empty: draw.once_in(2),
        remedy: draw.one_of(REMEDIES),
    };
    let test_age = Millis(draw.within(0, 4_000_000));
    let id = alarm(draw);
    draw.one_of([
        Act::Guard(Action::NewProbe),
        Act::Guard(Action::EnterFallback { test_age }),
        Act::Guard(Action::EnterFallback {
            test_age: Millis(0),
        }),
        Act::Guard(Action::LeaveFallback),
        Act::Guard(Action::SetStage(stage)),
        Act::Guard(Action::Initialise),
        Act::Guard(release),
        Act::Acknowledge(id),
        Act::AcknowledgeAll,
        Act::Shelve(id, shelving),
        Act::Unshelve(id),
        Act::TakeOutOfService(id),
        Act::PutInService(id),
        Act::ResetLatch(id),
        Act::Refill {
            feeder,
            amount: dose,
        },
        Act::ReadLevel {
            feeder,
            level: dose,
        },
        Act::FeedByHand {
            feeder,
            dose: small,
        },
        Act::FeedByHand {
            feeder,
            dose: small,
        },
    ])
}
