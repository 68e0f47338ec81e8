//! The guard, the truth and the record store, moved on by one event.

use dosewarden::guard::units::{Dose, Millis};
use dosewarden::guard::{
    ActionResult, Authority, CycleStage, Decision, Guard, Input, LedgerTrust, PersonAction, Record,
    State, step,
};

use super::event::{Ends, Event, Found, Gap, Intact};
use super::facts::{act_of, facts, request};
use super::held::{CUT_FORGETS_NOTHING, Property, Tick, entered_soundly};
use super::pack::Image;
use super::site::{Site, TICK, UNIT};
use super::truth::Truth;

/// The two places of the record, by what they hold.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Store {
    /// What was last read back from both.
    pub(super) old: Option<Image>,
    /// What is being written.
    pub(super) new: Option<Image>,
    /// What has to be saved changed since that was sealed.
    pub(super) changed: bool,
}

/// Everything that stands between two ticks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct World<const N: usize, const B: usize, const H: usize, const D: usize> {
    pub(super) state: State<N, B, H, D>,
    pub(super) truth: Truth<N, B>,
    pub(super) store: Store,
}

/// What an event came to.
pub(super) enum Came<const N: usize> {
    /// It cannot happen here, or would be another event over again.
    Nothing,
    /// The power failed.
    Cut(#[cfg_attr(not(feature = "tools"), allow(dead_code))] Found),
    /// A tick was judged.
    Judged(Decision<N>),
}

impl<const N: usize, const B: usize, const H: usize, const D: usize> World<N, B, H, D> {
    /// A new unit at its first power-on.
    pub(super) fn new(site: &Site<N, B>) -> Self {
        let mut state = State::POWER_ON;
        if site.store {
            let (guard, _) = Guard::<N, B, H, D>::restore(site.limits.clone(), None, None);
            state = *guard.state();
        } else {
            state.trust = LedgerTrust::Trusted;
        }
        let mut world = Self {
            state,
            truth: Truth::new(site),
            store: Store::default(),
        };
        world.settle(site);
        world
    }

    /// Lets an event happen, and settles what came of it.
    ///
    /// # Errors
    /// The property that does not hold.
    pub(super) fn next(
        &mut self,
        site: &Site<N, B>,
        event: &Event<N>,
    ) -> Result<Came<N>, Property> {
        let came = self.happen(site, event);
        self.settle(site);
        came
    }

    /// Lets an event happen, and leaves the state as the guard left it.
    pub(super) fn happen(
        &mut self,
        site: &Site<N, B>,
        event: &Event<N>,
    ) -> Result<Came<N>, Property> {
        if let Some(found) = event.cut {
            return self.cut(site, found);
        }
        // A tick that comes too late ages no bucket.
        let no_age = event.gap == Gap::TooLong && event.ends != Ends::None;
        if no_age || (event.saved && self.store.new.is_none()) {
            return Ok(Came::Nothing);
        }
        let mut passed = self.truth.pass(site, event);
        let before = self.state;
        let decision = self.tick(site, event, &passed.on);
        if let Some(act) = event.act
            && decision.action == Some(ActionResult::Done)
        {
            entered_soundly(event, act)?;
            self.truth.acted(site, act, &mut passed);
        }
        self.truth.causes(site, event, &passed);
        let tick = Tick {
            site,
            event,
            truth: &self.truth,
            passed: &passed,
            before: &before,
            after: &self.state,
            decision: &decision,
        };
        tick.judge()?;
        self.truth.decided(site, event, &before, &decision);
        self.seal(site, &decision);
        Ok(Came::Judged(decision))
    }

    /// What the guard decides at an event, the world left as it is; `None` where it is not called.
    pub(super) fn decision(&self, site: &Site<N, B>, event: &Event<N>) -> Option<Decision<N>> {
        if event.cut.is_some() {
            return None;
        }
        let mut world = *self;
        let passed = world.truth.pass(site, event);
        Some(world.tick(site, event, &passed.on))
    }

    /// One tick of the shipped guard.
    fn tick(&mut self, site: &Site<N, B>, event: &Event<N>, on: &[u8; N]) -> Decision<N> {
        if site.ledger {
            self.preset_ages(event.ends);
        }
        if event.later {
            let every = site.limits.spec().response.probe_cycle_every;
            for response in &mut self.state.response {
                response.since_cycle = every;
            }
            if let LedgerTrust::Lost(age) = &mut self.state.trust {
                *age = Millis(dosewarden::guard::units::DAY_MS);
            }
        }
        let saved = if site.store {
            self.confirm(event.saved)
        } else {
            true
        };
        let input = Input {
            elapsed: match event.gap {
                Gap::InTime => site.in_time,
                Gap::TooLong => site.too_long,
            },
            facts: &facts(site, event, on),
            requests: &event.asks.map(request(site)),
            action: event.act.map(|act| PersonAction {
                by: Authority::Technician,
                action: act_of(act),
            }),
            saved,
            state_intact: event.intact != Intact::State,
            limits_intact: event.intact != Intact::Limits,
            off_credit: Millis(0),
        };
        let (next, decision) = step(&site.limits, &self.state, &input);
        self.state = next;
        decision
    }

    /// A bucket ends with this tick, or does not: its age is set so that it does.
    fn preset_ages(&mut self, ends: Ends) {
        use dosewarden::guard::Ledger;
        let ledger = &mut self.state.ledger;
        let last = |bucket: Millis| Millis(bucket.0 - TICK);
        if ends != Ends::None {
            ledger.hour_age = last(Ledger::<N, B, H, D>::HOUR_BUCKET);
        }
        if ends == Ends::Day {
            ledger.day_age = last(Ledger::<N, B, H, D>::DAY_BUCKET);
        }
    }

    /// The store has written and read back, or goes on. Whether that confirms what is charged now.
    fn confirm(&mut self, saved: bool) -> bool {
        if !saved {
            return false;
        }
        self.store.old = self.store.new.take();
        let confirms = !self.store.changed;
        self.store.changed = false;
        confirms
    }

    fn seal(&mut self, site: &Site<N, B>, decision: &Decision<N>) {
        if !site.store {
            return;
        }
        if self.store.new.is_some() {
            self.store.changed |= decision.changed;
        } else if decision.save {
            let mut settled = *self;
            settled.settle(site);
            self.store.new = Some(Image::of(site, &settled));
            self.store.changed = false;
        }
    }

    fn cut(&mut self, site: &Site<N, B>, found: Found) -> Result<Came<N>, Property> {
        let (later, other) = match found {
            Found::Old => (self.store.old, self.store.old),
            Found::New if self.store.new.is_none() => return Ok(Came::Nothing),
            Found::New => (self.store.new, self.store.old),
            Found::Lost => (None, None),
        };
        if found == Found::Old && later.is_none() {
            return Ok(Came::Nothing);
        }
        let record = |image: Option<Image>, sequence| {
            image.map(|image| recorded::<N, B, H, D>(site, &image, sequence))
        };
        let (first, second) = (record(later, 2), record(other, 1));
        let limits = site.limits.clone();
        let (guard, _) = if later == other {
            Guard::restore(limits, first.as_ref(), first.as_ref())
        } else {
            Guard::restore(limits, first.as_ref(), second.as_ref())
        };
        self.state = *guard.state();
        self.truth.cut(site);
        let lost = later.is_none();
        self.truth.lost = lost;
        self.store = Store {
            old: later,
            ..Store::default()
        };
        match later {
            Some(image) => {
                self.truth.causes = image.causes;
                self.truth.lost = image.lost;
                for own in &mut self.truth.feeders {
                    own.causes = image.feeder_causes;
                }
            }
            None => {
                self.truth.causes = super::truth::bit(dosewarden::guard::Lockout::RecordLost);
                for own in &mut self.truth.feeders {
                    own.causes = 0;
                }
            }
        }
        if site.limits.spec().restart_after_power_loss == dosewarden::guard::Restart::Person
            && !lost
        {
            self.truth.causes |= super::truth::bit(dosewarden::guard::Lockout::PowerLoss);
        }
        self.forgets_nothing(site, self.truth.lost)?;
        Ok(Came::Cut(found))
    }

    fn forgets_nothing(&self, site: &Site<N, B>, lost: bool) -> Result<(), Property> {
        if lost || !site.ledger {
            return Ok(());
        }
        let account = &self.state.ledger.accounts[0][0];
        let covers = |total: Dose, buckets: &[u8]| {
            let most = u32::from(site.figures.feeders[0].day) + 1;
            let fed = buckets.iter().map(|fed| u32::from(*fed)).sum::<u32>();
            total.0 >= fed.min(most) * UNIT
        };
        let held = covers(account.hour_total, &self.truth.hour)
            && covers(account.day_total, &self.truth.day);
        if held {
            Ok(())
        } else {
            Err(CUT_FORGETS_NOTHING)
        }
    }
}

/// The record that an image stands for, through the guard's own format.
fn recorded<const N: usize, const B: usize, const H: usize, const D: usize>(
    site: &Site<N, B>,
    image: &Image,
    sequence: u32,
) -> Record<N, B, H, D> {
    let mut products = [None; N];
    for (feeder, product) in products.iter_mut().enumerate() {
        *product = site.limits.product(feeder);
    }
    let record = Record {
        sequence,
        stamp: None,
        limits_crc: 0,
        products: Some(products),
        state: image.state(site),
    };
    let mut bytes = vec![0; Record::<N, B, H, D>::LEN];
    let sealed = record.encode(&mut bytes);
    debug_assert!(sealed.is_ok(), "the buffer is of the record's length");
    Record::decode(&bytes).unwrap_or(record)
}

/// Whether a cycle stands.
pub(super) fn stands(stage: CycleStage) -> bool {
    matches!(stage, CycleStage::Pending | CycleStage::Open)
}
