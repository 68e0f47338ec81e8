//! Stages, proof tests, changes of limits.

use core::fmt;
use core::hash::Hash;

use super::Controller;
use crate::care::CareSettings;
use crate::event::EventKind;
use crate::guard::units::Millis;
use crate::guard::{Authority, Crc32, Limits, SetLimits};
use crate::io::Inputs;
use crate::proof::{Interlock, ProofAct, ProofEnd, ProofRefused, ProofSettings, ProofTests, Sight};
use crate::regulate::Regulator;
use crate::stages::{Evidence, Rung};

/// Why limits were not changed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum LimitsRefused {
    /// It needs at least this authority.
    NeedsAuthority(Authority),
    /// Something is loosened, or a rate or what is fitted changes: say so once more, with this.
    Confirm(u32),
    /// Confirmed, but a cycle stands: it is being closed and feeds no more. Once more after a tick.
    ClosingFirst,
}

impl fmt::Display for LimitsRefused {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NeedsAuthority(needed) => write!(f, "needs the authority of {needed:?}"),
            Self::Confirm(with) => write!(f, "loosens something: confirm it with {with:08x}"),
            Self::ClosingFirst => f.write_str("a cycle is being closed first: once more after it"),
        }
    }
}

impl core::error::Error for LimitsRefused {}

impl<const N: usize, const B: usize, const H: usize, const D: usize, R: Regulator>
    Controller<N, B, H, D, R>
{
    /// Sets what stages need and when water is too cold. Until then [`CareSettings::USUAL`] holds: a new unit only observes,
    /// and so does one that was on before, until [`Controller::set_restraints`] says how far it was.
    pub const fn set_care(&mut self, settings: CareSettings) {
        self.around.caring.settings = settings;
        if self.around.is_observing_assumed && !settings.stages.is_fitted() {
            // Stages without evidence: the guard's own stage, which its record holds, is all there is.
            self.around.restraints.evidence = Evidence::NONE;
            self.around.is_observing_assumed = false;
        }
    }

    /// Where the unit stands between observing and full caps.
    #[must_use]
    pub const fn rung(&self) -> Rung {
        self.around.rung(self.guard.state().stage)
    }

    /// What has been gathered in this stage.
    #[must_use]
    pub const fn evidence(&self) -> &Evidence {
        &self.around.restraints.evidence
    }

    /// A person begins a proof test, or goes on with it. Logged, done or refused.
    ///
    /// # Errors
    /// Why it was refused; nothing has changed then.
    pub fn prove(
        &mut self,
        tests: &mut ProofTests<N>,
        settings: &ProofSettings,
        by: Authority,
        act: ProofAct,
    ) -> Result<(), ProofRefused> {
        let (interlock, told) = tests.take((settings, self.guard.limits()), by, act);
        self.around.events.push(EventKind::Proof {
            by,
            interlock,
            done: told.is_ok(),
        });
        if let (Ok(Some(end)), Some(interlock)) = (told, interlock) {
            self.around
                .events
                .push(EventKind::ProofEnded { interlock, end });
        }
        told.map(drop)
    }

    /// Follows a proof test after each tick, with what that tick was told, and makes them due where an
    /// opening was begun. The interlock whose test ended, and how. It reads only: nothing of it
    /// reaches the guard.
    pub fn watch_proof(
        &mut self,
        tests: &mut ProofTests<N>,
        elapsed: Millis,
        inputs: &Inputs<N>,
    ) -> Option<(Interlock, ProofEnd)> {
        if self.around.ages_proofs() {
            tests.lay_up();
        }
        let state = self.guard.state();
        let sight = Sight {
            limits: self.guard.limits(),
            facts: &inputs.facts,
            decision: self.guard.decision(),
            lockouts: state.site_lockouts,
            feeder_lockouts: &state.feeder_lockouts,
        };
        let (interlock, end) = tests.tick(elapsed, &sight)?;
        self.around
            .events
            .push(EventKind::ProofEnded { interlock, end });
        Some((interlock, end))
    }

    /// A person changes limits. What only tightens applies at once, by an operator. What loosens
    /// needs a technician, who confirms it with the figure that the first refusal tells, and a unit
    /// that has stopped. Logged, done or refused.
    ///
    /// # Errors
    /// Why not; the old limits apply then.
    pub fn change_limits(
        &mut self,
        by: Authority,
        limits: Limits<N, B>,
        confirmed: Option<u32>,
    ) -> Result<(), LimitsRefused> {
        let loosens = !limits.no_looser_than(self.guard.limits());
        let told = self.try_limits(by, limits, (loosens, confirmed));
        self.around.events.push(EventKind::LimitsChange {
            by,
            loosens,
            done: told.is_ok(),
        });
        told
    }

    fn try_limits(
        &mut self,
        by: Authority,
        limits: Limits<N, B>,
        (loosens, confirmed): (bool, Option<u32>),
    ) -> Result<(), LimitsRefused> {
        let needed = if loosens {
            Authority::Technician
        } else {
            Authority::Operator
        };
        if by < needed {
            return Err(LimitsRefused::NeedsAuthority(needed));
        }
        let mut sum = Crc32::new();
        limits.spec().hash(&mut sum);
        if loosens && confirmed != Some(sum.value()) {
            return Err(LimitsRefused::Confirm(sum.value()));
        }
        match self.set_limits(limits) {
            SetLimits::Applied => Ok(()),
            SetLimits::ClosingFirst => Err(LimitsRefused::ClosingFirst),
        }
    }
}
