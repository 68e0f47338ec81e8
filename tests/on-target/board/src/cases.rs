//! Ticks to measure: well and feeding, and the worst that was found.
//!
//! Two feeders, two bodies, everything fitted, the shipping buckets. The worst tick is put together
//! from what costs: a unit whose record is lost, so that every cap is used up and each refusal has
//! to find the bucket that frees it; nothing known, so that most rules refuse; both feeders asked
//! for; and the end of an hour's and of a day's bucket in the same tick.

use core::mem::size_of;

use days::site::{self, Pool};
use dosewarden::guard::units::MinuteOfDay;
use dosewarden::guard::units::{Body, ClockSeconds, Dose, FlowMlPerS, MilliPh, Millis, Millivolts};
use dosewarden::guard::{
    Action, Authority, Elapsed, Facts, FeedRequest, FeederFacts, Inhibits, Mode, PersonAction,
    Reading, Record, RecordError, Stage, TickClock, Ticket, Verdict,
};
use dosewarden::{Act, CareSettings, Inputs, Outputs, Person};

use crate::count;
use crate::stack;

/// The guard alone, as the whole has it.
pub type Guard = dosewarden::guard::Guard<2, 2, 7, 25>;
type PoolRecord = Record<2, 2, 7, 25>;
type Copy = [u8; PoolRecord::LEN];

/// RAM of the guard and of the whole, in bytes. Neither crate has statics.
pub const RAM: [usize; 2] = [size_of::<Guard>(), size_of::<Pool>()];

const ASKED: [FeedRequest; 2] = [FeedRequest {
    dose: Dose::from_ml(12),
    mode: Mode::Automatic,
}; 2];

/// Greatest stack that was seen, in bytes below the caller's frame.
#[derive(Clone, Copy, Debug, Default)]
pub struct Stack {
    /// A tick of the guard alone.
    pub guard: usize,
    /// A tick of the whole.
    pub whole: usize,
    /// Sealing a record, of the whole.
    pub seal: usize,
    /// Starting from two records, of the whole; their decoding included.
    pub restore: usize,
}

/// Everything well, both products wanted.
fn healthy() -> Facts<2> {
    let feeder = FeederFacts {
        feedback: Reading::now(Millis(0)),
        stock: Reading::now(true),
        cell_flow: Reading::now(true),
        hold_to_run: Reading::now(false),
    };
    Facts {
        flow_switch: Reading::now(true),
        flow_meter: Reading::now(FlowMlPerS(4000)),
        pump_run: Reading::now(true),
        ph: Reading::now(MilliPh(7600)),
        orp: Reading::now(Millivolts(650)),
        body: Reading::now(Body(0)),
        inhibits: Inhibits::NONE,
        minute: Reading::now(MinuteOfDay(700)),
        clock: Reading::now(ClockSeconds(1_000_000)),
        saved: None,
        feeders: [feeder; 2],
    }
}

fn technician(action: Action) -> Option<PersonAction> {
    Some(PersonAction {
        by: Authority::Technician,
        action,
    })
}

#[inline(never)]
fn judge<'a>(
    guard: &'a mut Guard,
    elapsed: Elapsed,
    facts: &Facts<2>,
    action: Option<PersonAction>,
) -> Verdict<'a, 2> {
    guard.judge(elapsed, *facts, ASKED, action)
}

#[inline(never)]
fn tick<'a>(pool: &'a mut Pool, elapsed: Elapsed, inputs: &Inputs<2>) -> Outputs<'a, 2> {
    pool.tick(elapsed, inputs)
}

#[inline(never)]
fn seal(pool: &mut Pool, out: &mut [u8]) -> Result<Ticket, RecordError> {
    pool.seal_record(out)
}

#[inline(never)]
fn restore(copies: [&[u8]; 2]) -> Pool {
    let [first, second] = copies.map(|copy| PoolRecord::decode(copy).ok());
    let limits = site::limits(site::SPEC);
    Pool::restore(
        limits,
        site::settings(),
        site::regulators(),
        first.as_ref(),
        second.as_ref(),
    )
    .0
}

/// What the marks themselves take, to be taken off every count.
pub fn nothing() {
    for _ in 0..4 {
        count::count_begin();
        count::count_nothing();
    }
}

/// The guard alone, begun by a technician, feeding by turns. Ticks with a permit.
#[inline(never)]
pub fn guard_typical(ticks: u32) -> u32 {
    let (mut guard, _) = Guard::restore(site::limits(site::SPEC), None, None);
    let mut clock = TickClock::new();
    clock.step(0);
    let mut facts = healthy();
    let mut record: Copy = [0; PoolRecord::LEN];
    let mut permits = 0;
    let mut on = [false; 2];
    for second in 1..=ticks {
        let action = match second {
            1 => technician(Action::Initialise),
            2 => technician(Action::SetStage(Stage::Full)),
            _ => None,
        };
        for (fact, on) in facts.feeders.iter_mut().zip(on) {
            fact.feedback = Reading::now(Millis(if on { 1000 } else { 0 }));
        }
        facts.clock = Reading::now(ClockSeconds(1_000_000 + second));
        let elapsed = clock.step(second * 1000);
        count::count_begin();
        let verdict = judge(&mut guard, elapsed, &facts, action);
        count::count_guard_typical();
        let decision = verdict.decision();
        on = [0, 1].map(|feeder| decision.feeders[feeder].run.0 > 0);
        permits += u32::from(on.contains(&true));
        if decision.save {
            facts.saved = guard.seal_record(&mut record).ok();
        }
    }
    permits
}

/// The guard alone at its worst: all refused, up to and past the end of a day's bucket.
#[inline(never)]
pub fn guard_refused(found: &mut Stack) {
    let (mut guard, _) = Guard::restore(site::limits(site::SPEC), None, None);
    let mut clock = TickClock::new();
    clock.step(0);
    let mut facts = Facts::UNKNOWN;
    let mut record: Copy = [0; PoolRecord::LEN];
    for ticks in 1..=3620_u32 {
        let elapsed = clock.step(ticks * 1000);
        // The worst ticks are the first, with its lockouts, and those in which buckets end.
        let near = ticks < 20 || ticks % 600 < 5;
        let top = if near { stack::paint() } else { 0 };
        count::count_begin();
        let verdict = judge(&mut guard, elapsed, &facts, None);
        if verdict.decision().changed {
            count::count_guard_changed();
        } else {
            count::count_guard_refused();
        }
        let save = verdict.decision().save;
        if near {
            found.guard = found.guard.max(stack::used(top));
        }
        if save {
            facts.saved = guard.seal_record(&mut record).ok();
        }
    }
    // The counter jumps back by a millisecond: 49 days, as far as anybody can tell.
    let elapsed = clock.step(3620 * 1000 - 1);
    count::count_begin();
    let verdict = judge(&mut guard, elapsed, &facts, None);
    count::count_guard_counter_back();
    let _ = verdict;
}

/// The whole, begun by a technician, feeding by turns. Ticks with a permit.
#[inline(never)]
pub fn whole_typical(ticks: u32, found: &mut Stack) -> u32 {
    let mut record: Copy = [0; PoolRecord::LEN];
    let mut pool = restore([&[], &[]]);
    pool.set_care(CareSettings::NONE); // it has to feed
    let mut clock = TickClock::new();
    clock.step(0);
    let mut inputs = Inputs::new(healthy());
    inputs.pump_due = Some(true);
    let mut permits = 0;
    let mut on = [false; 2];
    for second in 1..=ticks {
        inputs.person = match second {
            1 => Some(Action::Initialise),
            2 => Some(Action::SetStage(Stage::Full)),
            _ => None,
        }
        .map(|action| Person {
            by: Authority::Technician,
            act: Act::Guard(action),
        });
        for (fact, on) in inputs.facts.feeders.iter_mut().zip(on) {
            fact.feedback = Reading::now(Millis(if on { 1000 } else { 0 }));
        }
        inputs.facts.clock = Reading::now(ClockSeconds(1_000_000 + second));
        let elapsed = clock.step(second * 1000);
        let top = stack::paint();
        count::count_begin();
        let outputs = tick(&mut pool, elapsed, &inputs);
        count::count_whole_typical();
        let (save, decision) = (outputs.save, *outputs.decision());
        found.whole = found.whole.max(stack::used(top));
        on = decision.feeders.map(|row| row.run.0 > 0);
        permits += u32::from(on.contains(&true));
        if save {
            inputs.facts.saved = sealed(&mut pool, &mut record, found);
        }
    }
    restored(&record, found);
    permits
}

/// The whole at its worst, as for the guard.
#[inline(never)]
pub fn whole_refused(found: &mut Stack) {
    let mut record: Copy = [0; PoolRecord::LEN];
    let mut pool = restore([&[], &[]]);
    pool.set_care(CareSettings::NONE); // it has to feed
    let mut clock = TickClock::new();
    clock.step(0);
    let mut inputs = Inputs::UNKNOWN;
    for ticks in 1..=3620_u32 {
        let elapsed = clock.step(ticks * 1000);
        let near = ticks < 20 || ticks % 600 < 5;
        let top = if near { stack::paint() } else { 0 };
        count::count_begin();
        let outputs = tick(&mut pool, elapsed, &inputs);
        if outputs.decision().changed {
            count::count_whole_changed();
        } else {
            count::count_whole_refused();
        }
        let save = outputs.save;
        if near {
            found.whole = found.whole.max(stack::used(top));
        }
        if save {
            inputs.facts.saved = sealed(&mut pool, &mut record, found);
        }
    }
}

fn sealed(pool: &mut Pool, record: &mut Copy, found: &mut Stack) -> Option<Ticket> {
    let top = stack::paint();
    count::count_begin();
    let ticket = seal(pool, record);
    count::count_seal();
    found.seal = found.seal.max(stack::used(top));
    ticket.ok()
}

#[inline(never)]
fn restored(record: &Copy, found: &mut Stack) {
    let top = stack::paint();
    count::count_begin();
    let pool = restore([record, record]);
    count::count_restore();
    found.restore = found.restore.max(stack::used(top));
    core::hint::black_box(&pool);
}

/// Measures each step of a drawn day.
#[derive(Debug)]
pub struct Measured<'a> {
    /// What was found so far.
    pub found: &'a mut Stack,
    /// Where the frame of the step under way ends.
    pub top: usize,
}

impl days::Watch for Measured<'_> {
    #[inline(always)]
    fn before(&mut self) {
        self.top = stack::paint();
        count::count_begin();
    }

    #[inline(always)]
    fn after_tick(&mut self) {
        count::count_whole_drawn();
        self.found.whole = self.found.whole.max(stack::used(self.top));
    }

    #[inline(always)]
    fn after_seal(&mut self) {
        count::count_seal();
        self.found.seal = self.found.seal.max(stack::used(self.top));
    }
}
