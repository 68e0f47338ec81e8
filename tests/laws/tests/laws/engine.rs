//! The guard under test, with a simple store of two copies. Either the guard itself, or its pure
//! step with the same handshake around it: only the step can be told that a seal is broken.

use dosewarden_guard::units::Millis;
use dosewarden_guard::{
    Decision, Elapsed, Facts, Guard, Input, Limits, LockoutSet, PersonAction, Record, Requests,
    State, TickClock, Ticket, step,
};

use crate::script::Copies;

pub(crate) type G<const N: usize, const B: usize> = Guard<N, B, 7, 25>;
pub(crate) type R<const N: usize, const B: usize> = Record<N, B, 7, 25>;
pub(crate) type S<const N: usize, const B: usize> = State<N, B, 7, 25>;

/// What enters one tick besides time.
#[derive(Clone, Copy)]
pub(crate) struct Now<const N: usize> {
    pub(crate) facts: Facts<N>,
    pub(crate) requests: Requests<N>,
    pub(crate) action: Option<PersonAction>,
    pub(crate) state_intact: bool,
    pub(crate) limits_intact: bool,
    pub(crate) off_credit: u32,
}

#[allow(clippy::large_enum_variant, reason = "there is one at a time")]
enum Engine<const N: usize, const B: usize> {
    Real(G<N, B>),
    Pure {
        state: S<N, B>,
        sequence: u32,
        changed: bool,
    },
}

/// The guard and its store.
pub(crate) struct Unit<const N: usize, const B: usize> {
    pub(crate) limits: Limits<N, B>,
    limits_crc: u32,
    engine: Engine<N, B>,
    copies: [Option<Vec<u8>>; 2],
    /// A record in the writing, and for how many ticks yet.
    writing: Option<(Vec<u8>, u32)>,
    outstanding: Option<Ticket>,
    pub(crate) saved: Option<Ticket>,
    /// Ticks that a save takes; `None`: it is never confirmed.
    pub(crate) save_takes: Option<u32>,
    clock: TickClock,
    now_ms: u32,
}

impl<const N: usize, const B: usize> Unit<N, B> {
    pub(crate) fn start(
        limits: Limits<N, B>,
        pure: bool,
        copies: [Option<Vec<u8>>; 2],
    ) -> (Self, Option<u32>) {
        let records = [0, 1].map(|copy: usize| {
            let bytes = copies[copy].as_deref();
            bytes.and_then(|bytes| R::<N, B>::decode(bytes).ok())
        });
        let sequence = records.iter().flatten().map(|one| one.sequence).max();
        let [first, second] = records;
        let (guard, _) = G::restore(limits.clone(), first.as_ref(), second.as_ref());
        let engine = if pure {
            Engine::Pure {
                state: *guard.state(),
                sequence: sequence.unwrap_or(0),
                changed: true,
            }
        } else {
            Engine::Real(guard)
        };
        let mut clock = TickClock::new();
        clock.step(0);
        let unit = Self {
            limits_crc: limits_crc(&limits),
            limits,
            engine,
            copies,
            writing: None,
            outstanding: None,
            saved: None,
            save_takes: Some(0),
            clock,
            now_ms: 0,
        };
        (unit, sequence)
    }

    pub(crate) fn state(&self) -> &S<N, B> {
        match &self.engine {
            Engine::Real(guard) => guard.state(),
            Engine::Pure { state, .. } => state,
        }
    }

    pub(crate) fn lockouts(&self) -> (LockoutSet, [LockoutSet; N]) {
        (self.state().site_lockouts, self.state().feeder_lockouts)
    }

    /// Sets new limits on the guard itself.
    pub(crate) fn set_limits(&mut self, limits: Limits<N, B>) {
        if let Engine::Real(guard) = &mut self.engine {
            let _ = guard.set_limits(limits);
            self.limits = guard.limits().clone();
        }
    }

    /// Fills the bank of off time, as a long time with power does.
    pub(crate) fn fill_bank(&mut self) {
        let most = self.limits.spec().off_credit_max;
        if let Engine::Pure { state, .. } = &mut self.engine {
            state.off_bank = most;
        }
    }

    /// One judgement.
    pub(crate) fn judge(&mut self, gap_ms: u32, now: Now<N>) -> Decision<N> {
        self.now_ms = self.now_ms.wrapping_add(gap_ms);
        let elapsed = self.clock.step(self.now_ms);
        match &mut self.engine {
            Engine::Real(guard) => *guard
                .judge(elapsed, now.facts, now.requests, now.action)
                .decision(),
            Engine::Pure { state, changed, .. } => {
                let saved =
                    !*changed && self.outstanding.is_some() && now.facts.saved == self.outstanding;
                let input = input(elapsed, &now, saved);
                let (next, decision) = step(&self.limits, state, &input);
                *state = next;
                if saved {
                    self.outstanding = None;
                }
                *changed |= decision.changed;
                decision
            }
        }
    }

    /// The store works on: seals when asked, reports when both copies are equal. The ticket of a
    /// record that was sealed in this tick.
    pub(crate) fn store(&mut self, save: bool) -> Option<Ticket> {
        let mut sealed = None;
        if self.writing.is_none() && save {
            let (bytes, ticket) = self.seal();
            sealed = Some(ticket);
            self.writing = Some((bytes, self.save_takes.unwrap_or(0)));
        }
        let Some((bytes, left)) = &mut self.writing else {
            return sealed;
        };
        if *left > 0 {
            *left -= 1;
            return sealed;
        }
        let bytes = std::mem::take(bytes);
        self.writing = None;
        if self.save_takes.is_some() {
            self.saved = Ticket::of(&bytes);
            self.copies = [Some(bytes.clone()), Some(bytes)];
        }
        sealed
    }

    fn seal(&mut self) -> (Vec<u8>, Ticket) {
        let mut bytes = vec![0; R::<N, B>::LEN];
        let ticket = match &mut self.engine {
            Engine::Real(guard) => guard.seal_record(&mut bytes),
            Engine::Pure {
                state,
                sequence,
                changed,
            } => {
                *sequence += 1;
                *changed = false;
                let record = R::<N, B> {
                    sequence: *sequence,
                    stamp: None,
                    limits_crc: self.limits_crc,
                    products: Some(core::array::from_fn(|one| self.limits.product(one))),
                    state: *state,
                };
                record.encode(&mut bytes)
            }
        };
        let ticket = ticket.expect("the buffer is long enough");
        self.outstanding = Some(ticket);
        (bytes, ticket)
    }

    /// A record was sealed and is not in both places yet.
    pub(crate) const fn is_writing(&self) -> bool {
        self.writing.is_some()
    }

    /// What a power cut leaves.
    pub(crate) fn copies_after(&self, cut: Copies) -> [Option<Vec<u8>>; 2] {
        let [mut first, mut second] = self.copies.clone();
        let writing = self.writing.as_ref().map(|(bytes, _)| bytes.clone());
        match cut {
            Copies::Both => {}
            Copies::First => second = None,
            Copies::Second => first = None,
            Copies::Half => first = writing.or(first),
            Copies::Whole => {
                first = writing.clone().or(first);
                second = writing.or(second);
            }
            Copies::Neither => (first, second) = (None, None),
        }
        [first, second]
    }
}

/// Of the limits, as the guard writes it into its records.
fn limits_crc<const N: usize, const B: usize>(limits: &Limits<N, B>) -> u32 {
    let (mut guard, _) = G::restore(limits.clone(), None, None);
    let mut bytes = vec![0; R::<N, B>::LEN];
    guard
        .seal_record(&mut bytes)
        .expect("the buffer is long enough");
    R::<N, B>::decode(&bytes).expect("it is whole").limits_crc
}

/// A tick's input for the pure step.
pub(crate) fn input<const N: usize>(elapsed: Elapsed, now: &Now<N>, saved: bool) -> Input<'_, N> {
    Input {
        elapsed,
        facts: &now.facts,
        requests: &now.requests,
        action: now.action,
        saved,
        state_intact: now.state_intact,
        limits_intact: now.limits_intact,
        off_credit: Millis(now.off_credit),
    }
}

/// Time as the guard takes it.
pub(crate) fn elapsed(ms: u32) -> Elapsed {
    let mut clock = TickClock::new();
    clock.step(0);
    clock.step(ms)
}
