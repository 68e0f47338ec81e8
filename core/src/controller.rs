//! The controller: regulators, turn-taking, the guard, and what stands around them, in one tick.

use crate::around::{Around, a_day};
use crate::ask::{Desk, Water};
use crate::event::EventKind;
use crate::guard::units::{Dose, Millis};
use crate::guard::{
    Authority, Elapsed, Guard, Limits, Record, RecordError, Restored, SetLimits, Ticket,
};
use crate::io::{Inputs, Outputs};
use crate::regulate::{Regulator, Standard};
use crate::settings::Settings;
use crate::stages::Scene;
use crate::upkeep::{Upkeep, UpkeepAct, UpkeepRefused, UpkeepSetup};

/// The controller of a site with `N` feeders and `B` bodies of water; `H` buckets of the rolling
/// hour and `D` of the rolling day. `R` is the regulator of each feeder: [`Standard`], an enum of
/// yours, or `&mut dyn Regulator`.
///
/// It decides nothing about safety: every feed is a request to the guard, which alone makes
/// permits. Withdrawing requests is all that the controller can do to the water.
#[derive(Debug)]
pub struct Controller<const N: usize, const B: usize, const H: usize, const D: usize, R = Standard>
{
    guard: Guard<N, B, H, D>,
    regulators: [R; N],
    pub(crate) around: Around<N>,
}

/// The usual pool: two feeders, one body of water, ten-minute buckets for the hour and one-hour
/// buckets for the day.
pub type PoolController<R = Standard> = Controller<2, 1, 7, 25, R>;

impl<const N: usize, const B: usize, const H: usize, const D: usize, R: Regulator>
    Controller<N, B, H, D, R>
{
    /// Length of a sealed record, in bytes.
    pub const RECORD_LEN: usize = Record::<N, B, H, D>::LEN;

    /// Starts from what the store holds: the two copies of the record as read, `None` for one that
    /// could not be decoded ([`Record::decode`]). Without any, a person has to initialise the unit.
    #[must_use]
    pub fn restore(
        limits: Limits<N, B>,
        settings: Settings<N>,
        regulators: [R; N],
        first: Option<&Record<N, B, H, D>>,
        second: Option<&Record<N, B, H, D>>,
    ) -> (Self, Restored) {
        let later = match (first, second) {
            (Some(a), Some(b)) => Some(if b.sequence > a.sequence { b } else { a }),
            (one, other) => one.or(other),
        };
        let open = later.map(|record| record.state.feeders.map(|own| own.charged()));
        Self::begin(
            Self::recall(limits, first, second),
            settings,
            regulators,
            open,
        )
    }

    /// Not inlined: what is needed to judge the records is off the stack before the rest is built.
    #[inline(never)]
    fn recall(
        limits: Limits<N, B>,
        first: Option<&Record<N, B, H, D>>,
        second: Option<&Record<N, B, H, D>>,
    ) -> (Guard<N, B, H, D>, Restored) {
        Guard::restore(limits, first, second)
    }

    /// By calls of their own and without a change in between, each part is built once: a controller
    /// is large beside the stack of a small board, and each copy of it would lie there.
    #[inline(never)]
    fn begin(
        restored: (Guard<N, B, H, D>, Restored),
        settings: Settings<N>,
        regulators: [R; N],
        open: Option<[Dose; N]>,
    ) -> (Self, Restored) {
        let found = restored.1;
        let around = Around::begin(settings, restored.0.limits(), open, found);
        let controller = Self {
            guard: restored.0,
            regulators,
            around,
        };
        (controller, found)
    }

    /// One tick: 200 ms to the limits' `tick_gap_max` after the last.
    pub fn tick(&mut self, elapsed: Elapsed, inputs: &Inputs<N>) -> Outputs<'_, N> {
        let passed = elapsed.millis();
        self.around.events.pass(passed.0);
        self.around.follow_lockouts(self.guard.state());
        let save_max = self.guard.limits().spec().save_max;
        self.around
            .follow_record(inputs.facts.saved, save_max, passed);
        let flows = self.guard.state().flow_proven.0 > 0;
        // A counter that jumps shows weeks: they end no pause and earn nothing.
        let gap_max = self.guard.limits().spec().tick_gap_max;
        let sound = if passed <= gap_max { passed } else { Millis(0) };
        let selected = self.guard.state().selected;
        if self.around.restraints.pass(sound, flows, selected) {
            self.around.events.push(EventKind::PauseEnded);
        }
        self.around.care_for(&inputs.care);
        self.around.follow_warmth(&inputs.care);
        let water = Water::of(&self.guard, inputs);
        let scene = Scene {
            limits: self.guard.limits(),
            state: self.guard.state(),
            water,
            care: &inputs.care,
            rate_wrong: self.around.rates_wrong(),
        };
        let taken = inputs.person.map(|person| self.around.take(&scene, person));
        let (action, mut act) = match taken {
            None => (None, None),
            Some(Ok(action)) => (Some(action), None),
            Some(Err(result)) => (None, Some(result)),
        };
        self.ask(inputs, water, passed);
        let given = self.around.handover.inhibits();
        let own = self.around.restraints.inhibits().with(given);
        let cared = self.around.caring.inhibits(&inputs.care);
        let held = inputs.facts.inhibits.with(own).with(cared);
        let limits = self.guard.limits();
        let decided = self.guard.decision();
        self.around
            .follow_answers(limits, decided, (water.ph, held), passed);
        let rows = &self.guard.decision().feeders;
        let requests = self.around.requests(self.guard.limits(), rows, passed);
        let seen = self.around.watch(&self.guard, inputs, water, passed);
        self.around.gather(&self.guard, (water, held), sound);
        let Self { guard, around, .. } = self;
        let mut facts = inputs.facts;
        facts.inhibits = held;
        let (holds, inhibits) = (around.would_holds(guard.limits()), facts.inhibits);
        let verdict = guard.judge(elapsed, facts, requests, action);
        let decision = verdict.decision();
        if let (Some(person), Some(result)) = (inputs.person, decision.action) {
            act = Some(around.judged(person, result));
        }
        around.would_feed(&holds, (decision, inhibits), (flows, passed));
        let save = around.after(decision, seen);
        Outputs {
            verdict,
            phases: around.machines.map(|machine| machine.phase()),
            save,
            alarms: around.alarms.summary(),
            act,
        }
    }

    fn ask(&mut self, inputs: &Inputs<N>, water: Water, elapsed: Millis) {
        let desk = Desk {
            limits: self.guard.limits(),
            state: self.guard.state(),
            inputs,
            water,
            elapsed,
        };
        let learned = self.around.learned();
        let (limits, decision) = (self.guard.limits(), self.guard.decision());
        let held = self.around.held_by_answers(limits, decision);
        let rows = self.guard.decision().feeders.iter();
        let asks = self
            .around
            .asks
            .iter_mut()
            .zip(self.around.asking.iter_mut());
        let all = rows.zip(asks).zip(self.regulators.iter_mut());
        for (feeder, ((row, (ask, asking)), regulator)) in (0..N).zip(all) {
            let learned = learned.and_then(|(of, learned)| (of == feeder).then_some(learned));
            *ask = desk.ask(feeder, row, asking, regulator, learned);
            let restraints = &self.around.restraints;
            let row = (row, asking.least);
            restraints.hold_back(desk.limits, desk.state, feeder, row, ask);
            desk.cut_by_care(feeder, row.1, ask);
            let answers = held.filter(|(of, _)| *of == feeder).map(|(_, why)| why);
            ask.hold_for_answers(answers, row.0.stage);
            self.around.handover.hold_back(ask);
        }
    }

    /// Seals a record of everything that has to survive the power, when [`Outputs::save`] says so.
    /// Write it whole to both places, read both back, and once they are equal report
    /// [`Ticket::of`] what was read in [`Facts::saved`](crate::guard::Facts::saved), from then on.
    ///
    /// # Errors
    /// [`RecordError::Space`] if `out` is shorter than [`Controller::RECORD_LEN`];
    /// [`RecordError::StateChanged`] if the guard's state changed by itself since the last tick: the
    /// next one locks out, and asks again.
    pub fn seal_record(&mut self, out: &mut [u8]) -> Result<Ticket, RecordError> {
        let ticket = self.guard.seal_record(out)?;
        self.around.sealed(ticket);
        Ok(ticket)
    }

    /// Sets new limits: what tightens applies at once, what loosens once every cycle is closed. What a
    /// person changes goes through [`Self::change_limits`], which asks for authority and confirmation.
    pub fn set_limits(&mut self, limits: Limits<N, B>) -> SetLimits {
        let set = self.guard.set_limits(limits);
        if set == SetLimits::Applied {
            self.around.events.push(EventKind::LimitsSet);
            self.around.note_limits(self.guard.limits());
            self.around.note_rates();
        }
        set
    }

    /// A second controller in the same state: for trials of what could happen next, never in a device.
    #[cfg(feature = "upset")]
    #[must_use]
    pub fn fork(&self) -> Self
    where
        R: Clone,
    {
        Self {
            guard: self.guard.fork(),
            regulators: self.regulators.clone(),
            around: self.around.clone(),
        }
    }

    /// Changes the guard's state behind its back, as a flipped bit would: for trials, never in a device.
    #[cfg(feature = "upset")]
    pub fn upset_state(&mut self, change: impl FnOnce(&mut crate::guard::State<N, B, H, D>)) {
        self.guard.upset_state(change);
    }

    /// Sets other alarm thresholds, drums and checks. Alarms go on from where they stand; what was
    /// learned of the water's answers begins anew if what is expected of it is another, and what a
    /// drum says if its reading's error is; both are told.
    pub fn set_settings(&mut self, settings: Settings<N>) {
        self.around.take_settings(settings);
    }

    /// What a person does to a probe or finds out about the water. Logged, done or refused.
    ///
    /// # Errors
    /// Why it was refused; nothing has changed then.
    pub fn upkeep(
        &mut self,
        upkeep: &mut Upkeep,
        setup: &UpkeepSetup,
        by: Authority,
        act: UpkeepAct,
    ) -> Result<(), UpkeepRefused> {
        let (figure, told) = upkeep.take(setup, by, act);
        if told.is_ok() {
            let calibrated = matches!(act, UpkeepAct::InBuffer(..)) && !upkeep.is_between_buffers();
            self.around.note_upkeep(&act, upkeep.tests());
            self.around.note_for_opening(&act, calibrated);
        }
        self.around.events.push(EventKind::Upkeep {
            by,
            act: act.kind(),
            done: told.is_ok(),
            figure,
        });
        told
    }

    /// Something has changed what a dose of this feeder does: what was learned begins anew. A
    /// refill, new limits, another probe, its calibration and a release do that by themselves, and a
    /// test of the water entered through [`Controller::upkeep`] where it says so. True if that
    /// feeder's answers are followed.
    pub fn forget_response(&mut self, feeder: usize) -> bool {
        self.around.forget_answers(feeder)
    }

    /// Whole days until a feeder's drum is empty at the last day's feed, rounded down. `None` if
    /// nobody has entered a level, or nothing was fed.
    #[must_use]
    pub fn days_left(&self, feeder: usize) -> Option<u32> {
        let a_day = a_day(self.guard.limits(), self.guard.state(), feeder);
        self.stock(feeder)?.days_left(a_day)
    }
}

mod care;
mod kept;
mod look;
#[cfg(test)]
mod tests;

pub use care::LimitsRefused;
