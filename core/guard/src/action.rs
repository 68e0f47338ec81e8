//! What persons do. None of it raises a cap, and a release needs the cause gone.

use crate::cycle;
use crate::facts::Inhibits;
use crate::ledger::Ledger;
use crate::limits::Limits;
use crate::lockout::{Lockout, LockoutSet};
use crate::product::Product;
use crate::request::{Action, ActionResult, Authority, PersonAction, Remedy, Stage};
use crate::rules::line_fouled;
use crate::seen::Seen;
use crate::state::{FeederState, LedgerTrust, ResponseState, State};
use crate::units::{DAY_MS, Fitted, Millis};

/// Least authority for an action.
#[must_use]
pub const fn authority_for(action: &Action) -> Authority {
    match action {
        Action::Release { lockout, .. } => match lockout {
            Lockout::Witnesses | Lockout::EmergencyStop | Lockout::PowerLoss | Lockout::Line => {
                Authority::Operator
            }
            _ => Authority::Technician,
        },
        Action::EnterFallback { .. } | Action::LeaveFallback | Action::NewProbe => {
            Authority::Operator
        }
        Action::Initialise | Action::SetStage(_) => Authority::Technician,
    }
}

/// Whether state and limits were as they were left, in this tick.
#[derive(Clone, Copy)]
pub(crate) struct Intact {
    pub(crate) state: bool,
    pub(crate) limits: bool,
}

/// Takes an action. What is done has to be saved.
pub(crate) fn take<const N: usize, const B: usize, const H: usize, const D: usize>(
    limits: &Limits<N, B>,
    state: &mut State<N, B, H, D>,
    seen: &Seen<N>,
    intact: Intact,
    person: PersonAction,
) -> ActionResult {
    let needed = authority_for(&person.action);
    if person.by < needed {
        return ActionResult::NeedsAuthority(needed);
    }
    match person.action {
        Action::Release {
            lockout,
            feeder,
            pool_empty,
            remedy,
        } => {
            let release = Release {
                lockout,
                feeder,
                pool_empty,
                remedy,
                intact,
            };
            release.take(limits, state, seen)
        }
        Action::Initialise => initialise(state),
        Action::NewProbe => {
            state.new_probe = true;
            state.powered = Millis(0);
            ActionResult::Done
        }
        Action::EnterFallback { test_age } => enter_fallback(limits, state, seen, test_age),
        Action::LeaveFallback => {
            state.fallback_left = Millis(0);
            ActionResult::Done
        }
        Action::SetStage(stage) => {
            // A cycle that stands must not grow by the caps of another stage.
            state.feeders.iter_mut().for_each(cycle::end);
            state.stage = stage;
            ActionResult::Done
        }
    }
}

fn initialise<const N: usize, const B: usize, const H: usize, const D: usize>(
    state: &mut State<N, B, H, D>,
) -> ActionResult {
    if state.trust == LedgerTrust::Trusted {
        return ActionResult::NotLost;
    }
    state.ledger = Ledger::EMPTY;
    state.trust = LedgerTrust::Trusted;
    state.stage = Stage::Reduced;
    state.site_lockouts = state.site_lockouts.without(Lockout::RecordLost);
    ActionResult::Done
}

fn enter_fallback<const N: usize, const B: usize, const H: usize, const D: usize>(
    limits: &Limits<N, B>,
    state: &mut State<N, B, H, D>,
    seen: &Seen<N>,
    test_age: Millis,
) -> ActionResult {
    let Fitted::Fitted(fallback) = limits.spec().fallback else {
        return ActionResult::FallbackNotNeeded;
    };
    let untrusted_oxidiser = (0..N).zip(seen.feeders.iter()).any(|(feeder, fact)| {
        !fact.governor_trusted && limits.product(feeder).is_some_and(Product::is_oxidiser)
    });
    if !untrusted_oxidiser {
        return ActionResult::FallbackNotNeeded;
    }
    // Time runs from the test on, so that entering again with the same test gains nothing.
    let left = Millis(fallback.run_max.0.saturating_sub(test_age.0));
    if test_age > fallback.test_age_max || left.0 == 0 {
        return ActionResult::TestTooOld;
    }
    state.fallback_left = left;
    ActionResult::Done
}

/// A release, and what the person says with it.
struct Release {
    lockout: Lockout,
    feeder: usize,
    pool_empty: bool,
    remedy: Option<Remedy>,
    intact: Intact,
}

impl Release {
    fn take<const N: usize, const B: usize, const H: usize, const D: usize>(
        &self,
        limits: &Limits<N, B>,
        state: &mut State<N, B, H, D>,
        seen: &Seen<N>,
    ) -> ActionResult {
        let standing = if self.lockout.is_of_site() {
            Some(state.site_lockouts)
        } else {
            state.feeder_lockouts.get(self.feeder).copied()
        };
        if !standing.unwrap_or(LockoutSet::NONE).has(self.lockout) {
            return ActionResult::NothingToRelease;
        }
        if !self.cause_gone(limits, state, seen) {
            return ActionResult::CauseStands;
        }
        if self.lockout == Lockout::Line && !self.pool_empty {
            return ActionResult::SayPoolEmpty;
        }
        if self.lockout == Lockout::Response && self.remedy.is_none() {
            return ActionResult::SayRemedy;
        }
        self.cure(limits, state);
        ActionResult::Done
    }

    fn cause_gone<const N: usize, const B: usize, const H: usize, const D: usize>(
        &self,
        limits: &Limits<N, B>,
        state: &State<N, B, H, D>,
        seen: &Seen<N>,
    ) -> bool {
        let own = state.feeders.get(self.feeder);
        let fact = seen.feeders.get(self.feeder);
        let spec = limits.feeder(self.feeder);
        // A feeder out of use is told nothing, and has nothing to show.
        let off = spec.is_none() || fact.is_some_and(|fact| !fact.drive.may_run());
        let quiet = off && own.is_some_and(|own| own.permit.0 == 0);
        match self.lockout {
            Lockout::PowerLoss | Lockout::Response => true,
            Lockout::StateSeal => self.intact.state,
            Lockout::LimitsSeal => self.intact.limits,
            Lockout::Witnesses => seen.agree && state.disagree.0 == 0,
            Lockout::Line => {
                state.line.purged >= limits.spec().purge && !line_fouled(limits, state)
            }
            Lockout::RecordLost => match state.trust {
                LedgerTrust::Trusted => true,
                LedgerTrust::Lost(age) => age.0 >= DAY_MS,
            },
            Lockout::EmergencyStop => {
                // One that nobody can see may still be pressed.
                let stop = Inhibits::EMERGENCY_STOP.with(Inhibits::NOT_KNOWN);
                !seen.inhibits.any_of(stop)
            }
            Lockout::Probe => fact.is_some_and(|fact| fact.governor_trusted),
            Lockout::RunTime => {
                quiet && own.is_some_and(|own| own.stage == crate::state::CycleStage::Idle)
            }
            Lockout::Drive => {
                let clear = |own: &FeederState| {
                    // Without feedback, any more, there is nothing to wait for.
                    spec.is_none_or(|spec| {
                        !spec.feedback.is_fitted() || own.clear >= spec.feedback_clear
                    })
                };
                quiet && own.is_some_and(clear)
            }
        }
    }

    fn cure<const N: usize, const B: usize, const H: usize, const D: usize>(
        &self,
        limits: &Limits<N, B>,
        state: &mut State<N, B, H, D>,
    ) {
        if self.lockout.is_of_site() {
            state.site_lockouts = state.site_lockouts.without(self.lockout);
        } else if let Some(set) = state.feeder_lockouts.get_mut(self.feeder) {
            *set = set.without(self.lockout);
        }
        match self.lockout {
            // Either way the day counts as used: when it was lost it was filled, and it has passed.
            Lockout::RecordLost => state.trust = LedgerTrust::Trusted,
            Lockout::Response => {
                // Answers to an oxidiser are not judged: a quarter would never end.
                let product = limits.product(self.feeder);
                let quarter = product.is_some_and(|product| !product.is_oxidiser());
                if let Some(response) = state.response.get_mut(limits.account(self.feeder)) {
                    *response = ResponseState {
                        quarter,
                        ..ResponseState::REST
                    };
                }
            }
            Lockout::Drive => {
                if let Some(own) = state.feeders.get_mut(self.feeder) {
                    own.against = Millis(0);
                    own.deaf = Millis(0);
                }
                if let Some(ran) = state.ran_against.get_mut(self.feeder) {
                    *ran = false;
                }
            }
            _ => {}
        }
    }
}

/// Fills hour and day of an account up to their caps: what "the day counts as used" means. Adds to
/// what is there, so that nothing is forgotten.
pub(crate) fn use_up<const N: usize, const B: usize, const H: usize, const D: usize>(
    limits: &Limits<N, B>,
    state: &mut State<N, B, H, D>,
    account: usize,
) {
    for body in 0..B {
        let day = limits.caps(account, body, Stage::Full).day;
        state.ledger.add(account, body, day);
    }
}

/// [`use_up`] for every account.
pub(crate) fn use_up_all<const N: usize, const B: usize, const H: usize, const D: usize>(
    limits: &Limits<N, B>,
    state: &mut State<N, B, H, D>,
) {
    for feeder in 0..N {
        if limits.account(feeder) == feeder {
            use_up(limits, state, feeder);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::clock::TickClock;
    use crate::facts::Facts;
    use crate::limits::FeederLimits;
    use crate::reading::Reading;
    use crate::state::CycleStage;
    use crate::test_site::{LIMITS, SPEC};

    type Small = State<2, 1, 7, 25>;

    fn seen(limits: &Limits<2, 1>, facts: &Facts<2>) -> Seen<2> {
        let mut clock = TickClock::new();
        clock.step(0);
        Seen::of(limits, clock.step(1000), facts)
    }

    fn flowing() -> Facts<2> {
        Facts {
            flow_switch: Reading::now(true),
            pump_run: Reading::now(true),
            ..Facts::UNKNOWN
        }
    }

    /// A technician releases a lockout of the first feeder, or of the site.
    fn release(
        limits: &Limits<2, 1>,
        state: &mut Small,
        facts: &Facts<2>,
        lockout: Lockout,
    ) -> ActionResult {
        let intact = Intact {
            state: true,
            limits: true,
        };
        let action = Action::Release {
            lockout,
            feeder: 0,
            pool_empty: true,
            remedy: None,
        };
        let by = Authority::Technician;
        let person = PersonAction { by, action };
        take(limits, state, &seen(limits, facts), intact, person)
    }

    #[test]
    fn a_drive_that_ran_too_long_is_released_once_it_is_seen_off_and_its_cycle_is_booked() {
        let mut spec = SPEC;
        if let FeederLimits::Enabled(acid) = &mut spec.feeders[0] {
            acid.feedback = Fitted::Fitted(Millis(3000));
        }
        let limits = Limits::try_new(spec).unwrap();
        let mut facts = flowing();
        let mut state = Small::POWER_ON;
        state.feeder_lockouts[0] = LockoutSet::NONE.with(Lockout::RunTime);
        let mut attempt = |feedback, stage| {
            facts.feeders[0].feedback = feedback;
            state.feeders[0].stage = stage;
            release(&limits, &mut state, &facts, Lockout::RunTime)
        };
        let (on, off) = (Reading::now(Millis(1)), Reading::now(Millis(0)));
        for (feedback, stage) in [
            (on, CycleStage::Idle),
            (Reading::unknown(Millis(0)), CycleStage::Idle),
            (off, CycleStage::Closing),
        ] {
            assert_eq!(attempt(feedback, stage), ActionResult::CauseStands);
        }
        assert_eq!(attempt(off, CycleStage::Idle), ActionResult::Done);
        let again = attempt(off, CycleStage::Idle);
        assert_eq!(again, ActionResult::NothingToRelease);
    }

    #[test]
    fn witnesses_have_to_agree_when_they_are_released() {
        let mut state = Small::POWER_ON;
        state.site_lockouts = LockoutSet::NONE.with(Lockout::Witnesses);
        // After a power cut no time of disagreement stands; that shows nothing.
        let mut facts = flowing();
        facts.pump_run = Reading::unknown(true);
        let result = release(&LIMITS, &mut state, &facts, Lockout::Witnesses);
        assert_eq!(result, ActionResult::CauseStands);
        let result = release(&LIMITS, &mut state, &flowing(), Lockout::Witnesses);
        assert_eq!(result, ActionResult::Done);
    }

    #[test]
    fn a_line_is_released_after_its_purge_and_no_sooner() {
        let mut state = Small::POWER_ON;
        state.site_lockouts = LockoutSet::NONE.with(Lockout::Line);
        state.line.purged = Millis(SPEC.purge.0 - 1);
        let result = release(&LIMITS, &mut state, &flowing(), Lockout::Line);
        assert_eq!(result, ActionResult::CauseStands);
        state.line.purged = SPEC.purge;
        let result = release(&LIMITS, &mut state, &flowing(), Lockout::Line);
        assert_eq!(result, ActionResult::Done);
    }

    #[test]
    fn a_chlorine_test_may_be_as_old_as_the_limits_say() {
        let Fitted::Fitted(fallback) = SPEC.fallback else {
            panic!("the site has it");
        };
        let oldest = fallback.test_age_max;
        let mut state = Small::POWER_ON;
        let seen = seen(&LIMITS, &flowing());
        let mut enter = |age| enter_fallback(&LIMITS, &mut state, &seen, Millis(age));
        assert_eq!(enter(oldest.0 + 1), ActionResult::TestTooOld);
        assert_eq!(enter(oldest.0), ActionResult::Done);
        // Time runs from the test on.
        let left = fallback.run_max.0 - oldest.0;
        assert_eq!(state.fallback_left, Millis(left));
    }
}
