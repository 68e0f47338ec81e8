//! What must happen in the end: from every world that was reached, once nothing is wrong any more,
//! each feeder that is asked for is fed, if persons do their part; and without them it is fed or a
//! person is asked for.
//!
//! The healthy event of a world is a function of that world, so that each world has one healthy
//! successor and a wait that was worked out once holds for all that lead there.

use dosewarden::guard::{Clear, Decision, LedgerTrust, Lockout};

use super::event::{Act, Ask, Ends, Event};
use super::site::{Site, UNIT};
use super::world::World;

/// Ticks within which it must have happened.
pub(super) const WAIT_MAX: usize = 60;

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

    /// Whether a tick has brought it about for a feeder.
    pub(super) fn reached<const N: usize>(self, feeder: usize, decision: &Decision<N>) -> bool {
        let row = &decision.feeders[feeder];
        let asked = || {
            let mut rules = row.vetoes.iter();
            rules.any(|rule| matches!(row.clears(rule), Clear::Person))
        };
        row.run.0 > 0 || (self == Self::FedOrAsked && asked())
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
