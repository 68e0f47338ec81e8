//! A round of proof tests: a person goes from interlock to interlock, trips each by hand as its test says, and puts
//! it back.
//!
//! Invariant: what the person trips is put back, whatever becomes of the test; and one interlock is tripped at a time.

use std::collections::VecDeque;

use dosewarden::guard::Authority;
use dosewarden::proof::{Interlock, InterlockSet, ProofStep};

use super::SimPool;
use crate::plant::{FeederFault, PlantFault};
use crate::scenario::{Act, CareAct, PersonAct, ProofsOf};
use crate::unit::ControlUnit;

/// On the way to the next interlock, ms.
const BETWEEN_MS: u64 = 30_000;
/// How long an interlock is kept tripped, ms: longer than any test gives feed to stop.
const KEPT_MS: u64 = 15_000;
/// After so long the person says that it is tripped, where the unit has not seen it by itself, ms.
const SAYS_MS: u64 = 2_000;
/// How long the person looks whether a feeder whose contactor is pushed in stands still, ms.
const LOOKS_MS: u64 = 5_000;
/// How long a button is held so that a feeder feeds, ms, and when it is pressed again.
const BUTTON_MS: u64 = 40_000;
const BUTTON_AGAIN_MS: u64 = 10 * 60_000;
/// From where things are put back to the release, ms: feedback has to have been off for a minute.
const RELEASE_MS: u64 = 90_000;

/// Where the person is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum At {
    /// On the way to the next.
    Between,
    /// The test of one waits for what it needs.
    Asked(Interlock),
    /// One is tripped.
    Tripped(Interlock),
    /// A test has ended in a lockout.
    Locked,
}

/// A round under way.
#[derive(Clone, Debug)]
pub(super) struct ProofRound {
    by: Authority,
    left: VecDeque<Interlock>,
    at: At,
    waited_ms: u64,
    /// A feeder whose contactor was pushed in has run.
    ran: bool,
}

impl ProofRound {
    pub(super) const fn new(by: Authority) -> Self {
        Self {
            by,
            left: VecDeque::new(),
            at: At::Between,
            waited_ms: 0,
            ran: false,
        }
    }

    /// More to test, after what is left.
    pub(super) fn add(&mut self, of: ProofsOf, site: InterlockSet) {
        let wanted = |one: &Interlock| match of {
            ProofsOf::WithoutFeed => !one.needs_feed(),
            ProofsOf::WithFeed => one.needs_feed(),
            ProofsOf::All => true,
        };
        self.left.extend(site.iter().filter(wanted));
    }

    fn go_to(&mut self, at: At) {
        self.at = at;
        self.waited_ms = 0;
    }
}

/// What a hand at the interlock is to the plant; `None`: it is done in another way.
const fn by_hand(one: Interlock) -> Option<PlantFault> {
    Some(match one {
        Interlock::FlowSwitch
        | Interlock::FlowMeter
        | Interlock::PumpContact
        | Interlock::CellFlow(_) => PlantFault::CirculationTripped,
        Interlock::LevelSwitch(feeder) => {
            PlantFault::Feeder(feeder as usize, FeederFault::LevelStuckEmpty)
        }
        Interlock::Feedback(feeder) => {
            PlantFault::Feeder(feeder as usize, FeederFault::FeedbackStuckOff)
        }
        // The first feeder's contactor, pushed in.
        Interlock::MasterContact => PlantFault::Feeder(0, FeederFault::ContactWelded),
        Interlock::EmergencyStop => return None,
    })
}

const fn locks(one: Interlock) -> bool {
    matches!(one, Interlock::Feedback(_) | Interlock::EmergencyStop)
}

impl<U: ControlUnit> SimPool<U> {
    /// The person goes on, after a tick.
    pub(super) fn go_on_proving(&mut self) {
        let Some(mut round) = self.round.take() else {
            return;
        };
        round.waited_ms += u64::from(self.tick_ms);
        let waits_for = if self.powered {
            self.unit.proof_waits_for()
        } else {
            None
        };
        match round.at {
            At::Between if round.waited_ms < BETWEEN_MS => {}
            At::Between => {
                let Some(next) = round.left.pop_front() else {
                    return;
                };
                self.care(round.by, CareAct::Prove(next));
                round.go_to(At::Asked(next));
            }
            At::Asked(one) => self.wait_for_test(&mut round, one, waits_for),
            At::Tripped(one) => self.keep_tripped(&mut round, one, waits_for),
            At::Locked if round.waited_ms < RELEASE_MS => {}
            At::Locked => {
                self.act(Act::Person(PersonAct::Release {
                    by: round.by,
                    lockout: None,
                    pool_empty: true,
                    remedy: None,
                }));
                round.go_to(At::Between);
            }
        }
        self.round = Some(round);
    }

    fn care(&mut self, by: Authority, act: CareAct) {
        self.act(Act::Person(PersonAct::Care { by, act }));
    }

    fn wait_for_test(
        &mut self,
        round: &mut ProofRound,
        one: Interlock,
        waits_for: Option<ProofStep>,
    ) {
        match waits_for {
            // Refused, given up, or the power went.
            None => round.go_to(At::Between),
            Some(ProofStep::Trip) => {
                if one == Interlock::EmergencyStop {
                    self.act(Act::Person(PersonAct::EmergencyStop(KEPT_MS)));
                }
                if let Some(hand) = by_hand(one) {
                    self.plant.set_fault(hand);
                }
                round.ran = false;
                round.go_to(At::Tripped(one));
            }
            Some(_) => {
                let Interlock::Feedback(feeder) = one else {
                    return;
                };
                let since = round.waited_ms.saturating_sub(u64::from(self.tick_ms));
                if since / BUTTON_AGAIN_MS < round.waited_ms / BUTTON_AGAIN_MS || since == 0 {
                    let (feeder, for_ms) = (usize::from(feeder), BUTTON_MS);
                    self.act(Act::Person(PersonAct::ManualFeed { feeder, for_ms }));
                }
            }
        }
    }

    fn keep_tripped(
        &mut self,
        round: &mut ProofRound,
        one: Interlock,
        waits_for: Option<ProofStep>,
    ) {
        let by_eye = one == Interlock::MasterContact;
        round.ran |= self
            .plant
            .truth()
            .feeders
            .first()
            .is_some_and(|f| f.drive_on);
        // An interlock that gives a sign needs no words, and the time runs from the sign.
        if !by_eye && waits_for == Some(ProofStep::Trip) && round.waited_ms >= SAYS_MS {
            self.care(round.by, CareAct::Trip);
        }
        let kept = if by_eye { LOOKS_MS } else { KEPT_MS };
        let ended = waits_for.is_none();
        if !ended && round.waited_ms < kept {
            return;
        }
        if let Some(hand) = by_hand(one) {
            self.plant.clear_fault(hand);
        }
        if by_eye && !ended {
            self.care(round.by, CareAct::StoodStill(!round.ran));
        }
        // A dose that began meanwhile found it tripped: that is released, and the test made once more.
        let again = waits_for.is_some() && locks(one) && self.status.needs_person;
        if again && !by_eye {
            round.left.push_front(one);
        }
        round.go_to(match waits_for {
            _ if by_eye => At::Between,
            None if locks(one) => At::Locked,
            Some(_) if again => At::Locked,
            None => At::Between,
            // What it needed was gone before it was tripped.
            Some(_) => At::Asked(one),
        });
    }
}
