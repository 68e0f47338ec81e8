//! What persons do.

use dosewarden_guard::{Action, Authority, Inhibits, Lockout, PersonAction, Product, Stage};

use super::water::Water;
use super::{Model, Phase, Response, Tick, number};

impl<const N: usize, const B: usize> Model<N, B> {
    pub(super) fn act(&mut self, person: PersonAction, water: &Water, tick: &Tick<N>) {
        // The generators send a technician, who may do all of this.
        if person.by < Authority::Technician {
            return;
        }
        let done = match person.action {
            Action::Release {
                lockout,
                feeder,
                pool_empty,
                remedy,
            } => {
                let of = if lockout.is_of_site() { 0 } else { feeder };
                let said = (lockout != Lockout::Line || pool_empty)
                    && (lockout != Lockout::Response || remedy.is_some());
                self.locked(lockout, of)
                    && said
                    && self.cause_gone(lockout, of, water, tick)
                    && self.release(lockout, of)
            }
            Action::Initialise => self.initialise(),
            Action::NewProbe => {
                self.new_probe = true;
                self.powered = 0;
                true
            }
            Action::EnterFallback { test_age } => {
                let blind = (0..N).any(|feeder| {
                    !water.feeders[feeder].trusted
                        && matches!(
                            self.product(feeder),
                            Product::Hypochlorite | Product::GeneratedChlorine
                        )
                });
                match self.spec.fallback.get() {
                    // The time runs from the test on.
                    Some(limits)
                        if blind
                            && test_age.0 <= limits.test_age_max.0
                            && test_age.0 < limits.run_max.0 =>
                    {
                        self.fallback = u64::from(limits.run_max.0 - test_age.0);
                        true
                    }
                    _ => false,
                }
            }
            Action::LeaveFallback => {
                self.fallback = 0;
                true
            }
            Action::SetStage(stage) => {
                self.stage = stage;
                for feeder in self.feeders.iter_mut().filter(|own| own.in_cycle()) {
                    feeder.phase = Phase::Closing;
                }
                true
            }
        };
        self.changed |= done;
    }

    fn initialise(&mut self) -> bool {
        if self.lost.is_none() {
            return false;
        }
        self.empty_ledger();
        self.lost = None;
        self.stage = Stage::Reduced;
        self.lockouts.remove(&(number(Lockout::RecordLost), 0));
        true
    }

    fn cause_gone(&self, lockout: Lockout, of: usize, water: &Water, tick: &Tick<N>) -> bool {
        let feeder = &self.feeders[of];
        let own = &water.feeders[of];
        let quiet = match own.feedback {
            dosewarden_guard::Fitted::NotFitted => true,
            dosewarden_guard::Fitted::Fitted(on) => on == Some(0),
        } && feeder.permit == 0;
        match lockout {
            Lockout::PowerLoss | Lockout::Response => true,
            Lockout::StateSeal => tick.state_intact,
            Lockout::LimitsSeal => tick.limits_intact,
            Lockout::Witnesses => water.agree && self.disagree == 0,
            Lockout::Line => self.purged() >= u64::from(self.spec.purge.0) && !self.fouled(),
            Lockout::RecordLost => self.lost.is_none_or(|age| age >= 86_400_000),
            Lockout::EmergencyStop => {
                let stop = Inhibits::EMERGENCY_STOP.with(Inhibits::NOT_KNOWN);
                !water.inhibits.any_of(stop)
            }
            Lockout::Probe => own.trusted,
            Lockout::RunTime => quiet && feeder.phase == Phase::Rest,
            Lockout::Drive => {
                quiet && feeder.clear >= u64::from(self.feeder_spec(of).feedback_clear.0)
            }
        }
    }

    fn release(&mut self, lockout: Lockout, of: usize) -> bool {
        self.lockouts.remove(&(number(lockout), of));
        match lockout {
            Lockout::RecordLost => self.lost = None,
            Lockout::Response => {
                let account = self.account(of);
                let judged = matches!(self.product(of), Product::Acid | Product::Base);
                self.responses[account] = Response {
                    quarter: judged,
                    ..Response::REST
                };
            }
            Lockout::Drive => {
                self.feeders[of].against = 0;
                self.feeders[of].deaf = 0;
                self.feeders[of].deaf_before = 0;
                self.ran_against[of] = false;
            }
            _ => {}
        }
        true
    }
}
