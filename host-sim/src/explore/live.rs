//! What must happen in the end: from every world that was reached, once nothing is wrong any more,
//! each feeder that is asked for is fed, if persons do their part; and without them it is fed or a
//! person is asked for.
//!
//! The healthy event of a world is a function of that world, so that each world has one healthy
//! successor and a wait that was worked out once holds for all that lead there.

use dosewarden::guard::{Clear, Decision, LedgerTrust, Lockout};

use super::event::{Act, Ask, Ends, Event};
use super::site::{Site, UNIT};
use super::walk::Worlds;
use super::world::{Came, World};

/// Ticks within which it must have happened.
const WAIT_MAX: usize = 60;

/// What is waited for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Aim {
    /// Persons do their part: this feeder is fed.
    Fed,
    /// Nobody comes: this feeder is fed, or what refuses it says that a person clears it.
    FedOrAsked,
}

impl Aim {
    /// Both.
    pub const ALL: [Self; 2] = [Self::Fed, Self::FedOrAsked];

    /// Its name.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Fed => "FED_AGAIN",
            Self::FedOrAsked => "FED_OR_ASKED",
        }
    }

    /// What it says.
    #[must_use]
    pub const fn says(self) -> &'static str {
        match self {
            Self::Fed => "with the faults gone and persons doing their part, feeding resumes",
            Self::FedOrAsked => "with the faults gone, feeding resumes or a person is asked for",
        }
    }
}

/// A wait that does not end, or in which a property breaks.
#[derive(Clone, Debug)]
pub(super) struct Endless {
    pub(super) aim: Aim,
    pub(super) feeder: usize,
    pub(super) world: u32,
}

/// The longest wait of each aim, in ticks, and the judgements it took to find them.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Waits {
    pub(super) longest: [usize; 2],
    pub(super) judgements: u64,
}

/// Works out all waits.
pub(super) fn waits<const N: usize, const B: usize, const H: usize, const D: usize>(
    site: &Site<N, B>,
    worlds: &Worlds,
) -> Result<Waits, Endless> {
    let mut all = Waits::default();
    for (aim, longest) in Aim::ALL.into_iter().zip(all.longest.iter_mut()) {
        for feeder in 0..N {
            let mut one = Waiting {
                site,
                worlds,
                aim,
                feeder,
                known: vec![0; worlds.all.len()],
                judgements: 0,
            };
            let from = |world| Endless { aim, feeder, world };
            for world in 0..worlds.all.len() as u32 {
                let ticks = one.wait::<H, D>(world).ok_or_else(|| from(world))?;
                *longest = (*longest).max(ticks);
            }
            all.judgements += one.judgements;
        }
    }
    Ok(all)
}

struct Waiting<'a, const N: usize, const B: usize> {
    site: &'a Site<N, B>,
    worlds: &'a Worlds,
    aim: Aim,
    feeder: usize,
    /// Ticks that each world waits; 0: not known.
    known: Vec<u8>,
    judgements: u64,
}

impl<const N: usize, const B: usize> Waiting<'_, N, B> {
    /// Ticks until it happens. `None`: not within the longest wait.
    fn wait<const H: usize, const D: usize>(&mut self, first: u32) -> Option<usize> {
        let mut world = World::<N, B, H, D>::unpack(self.site, &self.worlds.all[first as usize]);
        // Worlds on the way; one that the walk has not reached has no number.
        let mut way: Vec<Option<u32>> = Vec::new();
        let mut at = Some(first);
        let rest = loop {
            if let Some(known) = at
                .map(|index| self.known[index as usize])
                .filter(|k| *k > 0)
            {
                break usize::from(known);
            }
            if way.len() >= WAIT_MAX {
                return None;
            }
            way.push(at);
            let event = healthy(self.site, &world, self.feeder, self.aim);
            self.judgements += 1;
            let came = world.next(self.site, &event).ok()?;
            if let Came::Judged(decision) = came
                && self.reached(&decision)
            {
                break 0;
            }
            let packed = world.pack(self.site).ok()?;
            at = self.worlds.find(&packed);
        };
        let total = way.len() + rest;
        for (done, world) in way.iter().enumerate() {
            if let Some(index) = world {
                self.known[*index as usize] = u8::try_from(total - done).unwrap_or(u8::MAX);
            }
        }
        (total <= WAIT_MAX).then_some(total)
    }

    fn reached(&self, decision: &Decision<N>) -> bool {
        let row = &decision.feeders[self.feeder];
        let asked = || {
            let mut rules = row.vetoes.iter();
            rules.any(|rule| matches!(row.clears(rule), Clear::Person))
        };
        row.run.0 > 0 || (self.aim == Aim::FedOrAsked && asked())
    }
}

/// What happens when nothing is wrong: time passes, records are read back, and the first lockout that
/// stands is released.
pub(super) fn healthy<const N: usize, const B: usize, const H: usize, const D: usize>(
    site: &Site<N, B>,
    world: &World<N, B, H, D>,
    feeder: usize,
    aim: Aim,
) -> Event<N> {
    let state = &world.state;
    let mut event = Event {
        saved: world.store.new.is_some(),
        asks: [Ask::Nothing; N],
        ..Event::HEALTHY
    };
    event.asks[feeder] = Ask::Automatic;
    if site.ledger {
        let limits = &site.figures.feeders[feeder];
        let full = state.ledger.accounts.iter().flatten().any(|account| {
            let over = |total: u32, cap: u8| total + UNIT > u32::from(cap) * UNIT;
            over(account.hour_total.0, limits.hour) || over(account.day_total.0, limits.day)
        });
        let idle = !super::world::stands(state.feeders[feeder].stage);
        if full && idle {
            event.ends = Ends::Day;
        }
    }
    let unanswered = site.limits.spec().response.unanswered_max;
    event.later = site.response
        && state.response[feeder].unanswered >= unanswered
        && !super::world::stands(state.feeders[feeder].stage);
    if aim == Aim::Fed {
        event.act = release(world);
    }
    event
}

fn release<const N: usize, const B: usize, const H: usize, const D: usize>(
    world: &World<N, B, H, D>,
) -> Option<Act> {
    let state = &world.state;
    if let Some(lockout) = state.site_lockouts.iter().next() {
        return Some(match lockout {
            Lockout::RecordLost if state.trust != LedgerTrust::Trusted => Act::Initialise,
            other => Act::Release(other, 0),
        });
    }
    let mut feeders = (0_u8..).zip(&state.feeder_lockouts);
    feeders.find_map(|(feeder, set)| set.iter().next().map(|one| Act::Release(one, feeder)))
}
