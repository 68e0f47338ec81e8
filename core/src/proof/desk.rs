//! What is on record, and the test under way.

use super::interlock::{Interlock, InterlockSet, ProofSettings};
use super::record::Proofs;
use super::run::{ProofAct, ProofEnd, ProofRefused, ProofRun, Sight};
use crate::care::Care;
use crate::guard::units::Millis;
use crate::guard::{Authority, Limits};

/// The proof tests of a site with `N` feeders.
#[derive(Clone, Debug)]
pub struct ProofTests<const N: usize> {
    proofs: Proofs<N>,
    run: Option<ProofRun>,
}

impl<const N: usize> ProofTests<N> {
    /// From what was kept. Say next how long the power was off ([`Proofs::pass_off`]).
    #[must_use]
    pub const fn restore(proofs: Proofs<N>) -> Self {
        Self { proofs, run: None }
    }

    /// What is on record, to look at and to keep.
    #[must_use]
    pub const fn proofs(&self) -> &Proofs<N> {
        &self.proofs
    }

    /// The test under way.
    #[must_use]
    pub const fn run(&self) -> Option<&ProofRun> {
        self.run.as_ref()
    }

    /// After a winter: every test is due anew, one that failed stays failed, and one under way is
    /// given up.
    pub(crate) fn lay_up(&mut self) {
        *self = Self::restore(self.proofs.due_anew());
    }

    /// Says in a tick's [`Inputs::care`](crate::Inputs) what is due and what failed.
    pub fn tell<const B: usize>(
        &self,
        settings: &ProofSettings,
        limits: &Limits<N, B>,
        care: &mut Care,
    ) {
        let fitted = settings.of_site(limits);
        care.unproven = Some(self.proofs.due_of(settings, fitted));
        // One that needs feed for its test could never pass it while feed is held; its own rule locks
        // its feeder out.
        let failed = self.proofs.failed_of(fitted).without_feed();
        care.interlock_failed = failed != InterlockSet::NONE;
    }

    /// Takes an act. The interlock that it is about, how its test ended if it did, or why not.
    pub(crate) fn take<const B: usize>(
        &mut self,
        about: (&ProofSettings, &Limits<N, B>),
        by: Authority,
        act: ProofAct,
    ) -> (Option<Interlock>, Result<Option<ProofEnd>, ProofRefused>) {
        let named = match act {
            ProofAct::Start(one) => Some(one),
            _ => self.run.map(|run| run.interlock()),
        };
        let told = ProofRun::take(&mut self.run, about, by, act);
        if let (Ok(Some(end)), Some(one)) = (told, named) {
            self.end(one, end);
        }
        (named, told)
    }

    /// Follows a tick. The interlock whose test ended in it, and how.
    pub(crate) fn tick<const B: usize>(
        &mut self,
        elapsed: Millis,
        sight: &Sight<'_, N, B>,
    ) -> Option<(Interlock, ProofEnd)> {
        self.proofs.pass(elapsed);
        let run = self.run.as_mut()?;
        let one = run.interlock();
        let end = run.tick(elapsed, sight)?;
        self.end(one, end);
        Some((one, end))
    }

    fn end(&mut self, one: Interlock, end: ProofEnd) {
        self.proofs.end(one, end);
        self.run = None;
    }
}
