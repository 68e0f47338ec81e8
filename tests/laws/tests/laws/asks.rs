//! What is asked of the guard in a life: by the regulator, by persons, of the store.

use dosewarden_guard::units::{Dose, Millis};
use dosewarden_guard::{
    Action, Authority, FeedRequest, Lockout, Mode, PersonAction, Remedy, Requests, Rule, Stage,
};

use crate::rig::Rig;
use crate::script::{Demand, Fault};

impl<const N: usize, const B: usize> Rig<N, B> {
    pub(crate) fn requests(&self) -> Requests<N> {
        core::array::from_fn(|feeder| {
            let dose = self.first_asks.filter(|_| feeder == 0);
            let dose = dose.unwrap_or(Dose(1_000_000));
            let asks = match self.script.demand {
                Demand::All => true,
                Demand::Turns => {
                    let set = self.last[feeder].without(Rule::ChargeDurable);
                    set.without(Rule::OneAtATime).is_empty()
                }
                Demand::One(one) => usize::from(one).min(N - 1) == feeder,
            };
            let mode = self.mode(feeder);
            let withdrawn = self.hits(feeder, |fault| match fault {
                Fault::Withdrawn(one) => Some(one),
                _ => None,
            });
            if (asks || mode != Mode::Automatic) && !withdrawn {
                FeedRequest { dose, mode }
            } else {
                FeedRequest::NONE
            }
        })
    }

    fn mode(&self, feeder: usize) -> Mode {
        let manual = |fault| match fault {
            Fault::Manual(one) | Fault::ManualWithout(one) => Some(one),
            _ => None,
        };
        let fallback = |fault| match fault {
            Fault::Fallback(one) | Fault::FallbackWithout(one) => Some(one),
            _ => None,
        };
        if self.hits(feeder, manual) {
            Mode::Manual
        } else if self.hits(feeder, fallback) {
            Mode::Fallback
        } else {
            Mode::Automatic
        }
    }

    /// What a person does in this tick: begins the unit, follows the script, releases lockouts.
    pub(crate) fn action(&self) -> Option<PersonAction> {
        let mut action = match self.tick {
            1 => Some(Action::Initialise),
            2 => Some(Action::SetStage(Stage::Full)),
            _ => None,
        };
        for event in self.script.events.iter() {
            let begun = |after: u32| event.at + after == self.tick;
            match event.fault {
                Fault::NewProbe if begun(0) => action = Some(Action::NewProbe),
                Fault::Reduced if begun(0) => action = Some(Action::SetStage(Stage::Reduced)),
                Fault::Fallback(_) if begun(1) => {
                    let test_age = Millis::from_secs(event.at);
                    action = Some(Action::EnterFallback { test_age });
                }
                _ => {}
            }
        }
        if action.is_none() && self.tick >= self.script.person_at {
            action = self.release();
        }
        action.map(|action| PersonAction {
            by: Authority::Technician,
            action,
        })
    }

    fn release(&self) -> Option<Action> {
        let (site, feeders) = self.unit.lockouts();
        let mut all: Vec<(Lockout, usize)> = site.iter().map(|one| (one, 0)).collect();
        for (feeder, set) in feeders.into_iter().enumerate() {
            all.extend(set.iter().map(|one| (one, feeder)));
        }
        let turn = usize::try_from(self.tick).unwrap();
        let (lockout, feeder) = *all.get(turn % all.len().max(1))?;
        Some(if lockout == Lockout::RecordLost {
            Action::Initialise
        } else {
            Action::Release {
                lockout,
                feeder,
                pool_empty: true,
                remedy: Some(Remedy::Probe),
            }
        })
    }

    pub(crate) fn save_takes(&self) -> Option<u32> {
        if self.stands(|fault| fault == Fault::SaveLost) {
            return None;
        }
        let events = self.script.events.iter();
        let takes = events.filter_map(|event| match event.fault {
            Fault::SaveLate(ticks) if event.stands(self.tick) => Some(u32::from(ticks)),
            _ => None,
        });
        Some(takes.max().unwrap_or(0))
    }
}
