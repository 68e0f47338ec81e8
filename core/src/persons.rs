//! What persons do, taken: what the guard has to decide is handed on, the rest is done here.

use crate::act::{Act, ActResult, Person};
use crate::alarm::{AlarmId, Hand, NotMoved, Shelving};
use crate::around::Around;
use crate::ask::ByHand;
use crate::event::EventKind;
use crate::guard::units::{Body, Dose, Millis};
use crate::guard::{Action, ActionResult, Limits, PersonAction, Stage};
use crate::restraint::PAUSE_MAX;
use crate::settings::DrumSettings;
use crate::stages::{Rung, Scene};
use crate::stock::Stock;

impl<const N: usize> Around<N> {
    /// Takes a person's act. What the guard has to decide is handed on.
    pub(crate) fn take<const B: usize, const H: usize, const D: usize>(
        &mut self,
        scene: &Scene<'_, N, B, H, D>,
        person: Person,
    ) -> Result<PersonAction, ActResult> {
        let to = match person.act {
            Act::Observe => Some(Rung::ObserveOnly),
            Act::Guard(Action::SetStage(Stage::Reduced)) => Some(Rung::Reduced),
            Act::Guard(Action::SetStage(Stage::Full)) => Some(Rung::Full),
            Act::Guard(action) => {
                return Ok(PersonAction {
                    by: person.by,
                    action,
                });
            }
            _ => None,
        };
        if let Some(to) = to {
            let handed = self.step(scene, (person.by, to));
            if handed.is_err() {
                self.note_act(person, false);
            }
            return handed;
        }
        let needed = person.act.authority();
        let result = if person.by < needed {
            ActResult::NeedsAuthority(needed)
        } else if person.act == Act::OpenUp {
            match self.open_up(scene, person.by) {
                Ok(action) => return Ok(action),
                Err(result) => result,
            }
        } else {
            self.do_it(scene, person.act)
        };
        self.note_act(person, result == ActResult::Done);
        Err(result)
    }

    /// What the guard made of an action of its own.
    pub(crate) fn judged(&mut self, person: Person, result: ActionResult) -> ActResult {
        let done = result == ActionResult::Done;
        self.note_act(person, done);
        if done {
            if let Act::Guard(action) = &person.act {
                self.note_guard_act(action);
            }
            self.stepped(person);
        }
        match result {
            ActionResult::Done => ActResult::Done,
            ActionResult::NeedsAuthority(needed) => ActResult::NeedsAuthority(needed),
            other => ActResult::Guard(other),
        }
    }

    fn note_act(&mut self, person: Person, done: bool) {
        self.events.push(EventKind::Person {
            by: person.by,
            act: person.act.kind(),
            done,
        });
    }

    fn acknowledge_all(&mut self) -> ActResult {
        let events = &mut self.events;
        self.alarms
            .acknowledge_all(|id, now| events.push(EventKind::Alarm { id, now }));
        ActResult::Done
    }

    fn do_it<const B: usize, const H: usize, const D: usize>(
        &mut self,
        scene: &Scene<'_, N, B, H, D>,
        act: Act,
    ) -> ActResult {
        let (limits, body) = (scene.limits, scene.state.selected);
        match act {
            // Handed on before.
            Act::Guard(_) | Act::Observe | Act::OpenUp => ActResult::Done,
            Act::KitPh(kit) => self.kit(kit, scene.water.ph),
            Act::AcknowledgeAll => self.acknowledge_all(),
            Act::Acknowledge(id) => self.move_alarm(id, Hand::Acknowledge),
            Act::Shelve(id, shelving) => self.move_alarm(id, Hand::Shelve(shelving)),
            Act::Unshelve(id) => self.move_alarm(id, Hand::Unshelve),
            Act::TakeOutOfService(id) => self.move_alarm(id, Hand::TakeOut),
            Act::PutInService(id) => self.move_alarm(id, Hand::PutBack),
            Act::ResetLatch(id) => self.move_alarm(id, Hand::Reset),
            Act::Refill {
                amount: Dose(0), ..
            } => ActResult::NoDose,
            Act::Refill { feeder, amount } => match self.drum_of(feeder, amount) {
                Ok((drum, stock)) => {
                    stock.refill(amount, &drum);
                    self.forget_answers(feeder);
                    ActResult::Done
                }
                Err(refused) => refused,
            },
            Act::ReadLevel { feeder, level } => self.read_level(feeder, level),
            Act::FeedByHand { feeder, dose } => self.by_hand(limits, feeder, dose),
            Act::Prime { feeder } => {
                let body = usize::from(body.unwrap_or(0));
                let cap = limits.caps(feeder, body, scene.state.stage).cycle;
                let most = limits.feeder(feeder).map_or(Dose(0), |spec| {
                    spec.rate_for_caps().dose_ceil(limits.spec().manual_max)
                });
                self.by_hand(limits, feeder, cap.min(most).max(Dose(1)))
            }
            Act::HandDose {
                feeder,
                dose,
                body: into,
            } => self.hand_dose((limits, body), feeder, (dose, into)),
            Act::Pause(time) if time.0 == 0 || time > PAUSE_MAX => {
                ActResult::PauseAtMost(PAUSE_MAX)
            }
            Act::Pause(time) => {
                self.restraints.paused = self.restraints.paused.max(time);
                ActResult::Done
            }
            Act::Resume if self.restraints.paused.0 == 0 => ActResult::AlreadySo,
            Act::Resume => {
                self.restraints.paused = Millis(0);
                ActResult::Done
            }
            Act::LayUp => done_or_already(self.lay_up()),
            Act::Strength { feeder, percent } => self.strength(limits, feeder, percent),
            Act::GiveAway => done_or_already(self.give_away()),
            Act::TakeBack => done_or_already(self.take_back(limits)),
        }
    }

    /// `selected`: the body of water that the valves select.
    fn hand_dose<const B: usize>(
        &mut self,
        (limits, selected): (&Limits<N, B>, Option<u8>),
        feeder: usize,
        (dose, into): (Dose, Option<Body>),
    ) -> ActResult {
        if dose.0 == 0 {
            return ActResult::NoDose;
        }
        if into.is_some_and(|into| usize::from(into.0) >= B) {
            return ActResult::NoSuchBody;
        }
        let own = &mut self.restraints;
        if !own.dosed(limits, selected, feeder, (dose, into)) {
            return ActResult::NoSuchFeeder;
        }
        let feeder = u8::try_from(feeder).unwrap_or(u8::MAX);
        self.events.push(EventKind::HandDose { feeder, dose });
        ActResult::Done
    }

    fn by_hand<const B: usize>(
        &mut self,
        limits: &Limits<N, B>,
        feeder: usize,
        dose: Dose,
    ) -> ActResult {
        match self.asking.get_mut(feeder) {
            _ if dose.0 == 0 => ActResult::NoDose,
            Some(asking) if limits.feeder(feeder).is_some() => {
                asking.by_hand = Some(ByHand::new(dose));
                ActResult::Done
            }
            _ => ActResult::NoSuchFeeder,
        }
    }

    fn drum_of(
        &mut self,
        feeder: usize,
        amount: Dose,
    ) -> Result<(DrumSettings, &mut Stock), ActResult> {
        let drum = self.drum(feeder).ok_or(ActResult::NoDrum)?;
        if amount > drum.size {
            return Err(ActResult::MoreThanDrum(drum.size));
        }
        let stock = self.stocks.get_mut(feeder);
        Ok((drum, stock.ok_or(ActResult::NoSuchFeeder)?))
    }

    fn read_level(&mut self, feeder: usize, level: Dose) -> ActResult {
        let found = match self.drum_of(feeder, level) {
            Ok((_, stock)) => stock.read(level),
            Err(refused) => return refused,
        };
        match found {
            Some(found) => self.note_level(feeder, &found),
            // The first level, or more than could be there: the drum was filled.
            None => {
                self.forget_answers(feeder);
            }
        }
        if let (Some(found), Ok(feeder)) = (found, u8::try_from(feeder)) {
            self.events.push(EventKind::Reconciled {
                feeder,
                real: found.real,
                booked: found.booked,
            });
        }
        ActResult::Done
    }

    fn move_alarm(&mut self, id: AlarmId, by: Hand) -> ActResult {
        match self.alarms.moved(id, by) {
            Ok(now) => {
                self.events.push(EventKind::Alarm { id, now });
                ActResult::Done
            }
            Err(NotMoved::NoSuchAlarm) => ActResult::NoSuchAlarm,
            Err(NotMoved::NotInThisState) => ActResult::NotInThisState,
            Err(NotMoved::SafetyTrip) => ActResult::SafetyTrip,
            Err(NotMoved::TooLong) => ActResult::ShelveAtMost(Shelving::LONGEST),
        }
    }
}

const fn done_or_already(changed: bool) -> ActResult {
    if changed {
        ActResult::Done
    } else {
        ActResult::AlreadySo
    }
}
