//! An event as the guard is told of it: facts, requests, actions.

use dosewarden::guard::units::{Body, Dose, MilliPh, Millis, Millivolts, MinuteOfDay};
use dosewarden::guard::{
    Action, Facts, FeedRequest, FeederFacts, Health, Inhibits, Mode, Product, Reading, Remedy,
    Stage,
};

use super::event::{Act, Ask, Button, Drive, Event, Inhibit, Probe, Water};
use super::site::{Site, UNIT, ticks};

/// The action that stands for an act.
pub(super) fn act_of(act: Act) -> Action {
    match act {
        Act::Release(lockout, feeder) => Action::Release {
            lockout,
            feeder: usize::from(feeder),
            pool_empty: true,
            remedy: Some(Remedy::Probe),
        },
        Act::Initialise => Action::Initialise,
        Act::NewProbe => Action::NewProbe,
        Act::EnterFallback(fresh) => Action::EnterFallback {
            test_age: if fresh { Millis(0) } else { ticks(2) },
        },
        Act::LeaveFallback => Action::LeaveFallback,
        Act::Reduce => Action::SetStage(Stage::Reduced),
    }
}

pub(super) fn request<const N: usize, const B: usize>(
    site: &Site<N, B>,
) -> impl Fn(Ask) -> FeedRequest {
    let most = site.figures.feeders.iter().map(|one| one.cycle).max();
    let dose = Dose(u32::from(most.unwrap_or(0)) * UNIT);
    move |ask| match ask {
        Ask::Nothing => FeedRequest::NONE,
        Ask::Automatic => FeedRequest {
            dose,
            mode: Mode::Automatic,
        },
        Ask::Manual => FeedRequest {
            dose,
            mode: Mode::Manual,
        },
        Ask::Fallback => FeedRequest {
            dose,
            mode: Mode::Fallback,
        },
    }
}

/// pH at each level of the probe; the last is past the cut-off of acid.
pub(super) const LEVELS: [i32; 4] = [7600, 7500, 7100, 6900];
/// The level that stands for water past the cut-off.
pub(super) const PAST: u8 = 3;

fn probe<T: Copy>(seen: Probe, level: impl Fn(u8) -> T) -> Reading<T> {
    match seen {
        Probe::Level(one) => Reading::now(level(one)),
        Probe::Past => Reading::now(level(PAST)),
        Probe::Service => Reading {
            health: Health::CheckFunction,
            ..Reading::now(level(0))
        },
        Probe::Failed => Reading::unknown(level(0)),
    }
}

pub(super) fn facts<const N: usize, const B: usize>(
    site: &Site<N, B>,
    event: &Event<N>,
    on: &[u8; N],
) -> Facts<N> {
    let switch = matches!(event.water, Water::Flows | Water::SwitchOnly);
    let pump = matches!(event.water, Water::Flows | Water::PumpOnly);
    let acid = site.limits.product(0) == Some(Product::Acid);
    let mut facts = Facts {
        flow_switch: Reading::now(switch),
        pump_run: Reading::now(pump),
        inhibits: match event.inhibit {
            Inhibit::None => Inhibits::NONE,
            Inhibit::Paused => Inhibits::PAUSED,
            Inhibit::Stop => Inhibits::EMERGENCY_STOP,
            Inhibit::NotKnown => Inhibits::NOT_KNOWN,
        },
        minute: if event.hours {
            Reading::now(MinuteOfDay(600))
        } else {
            Reading::unknown(MinuteOfDay(600))
        },
        body: match event.body {
            Some(body) => Reading::now(Body(body)),
            None => Reading::unknown(Body(0)),
        },
        ..Facts::UNKNOWN
    };
    if acid {
        facts.ph = probe(event.probe, |level| MilliPh(LEVELS[usize::from(level)]));
    } else {
        let past = |level| if level == PAST { 800 } else { 650 };
        facts.orp = probe(event.probe, |level| Millivolts(past(level)));
    }
    for (feeder, one) in facts.feeders.iter_mut().enumerate() {
        let ran = Reading::now(ticks(u32::from(on[feeder])));
        *one = FeederFacts {
            feedback: match event.drives[feeder] {
                Drive::Unseen => Reading::unknown(Millis(0)),
                _ => ran,
            },
            stock: Reading::now(event.stock),
            cell_flow: Reading::unknown(false),
            hold_to_run: match event.button {
                Button::Held => Reading::now(true),
                Button::LetGo => Reading::now(false),
                Button::Unknown => Reading::unknown(false),
            },
        };
    }
    facts
}
