//! What is on record of each interlock: whether its last test passed, in what time, how long ago.

use super::interlock::{Interlock, InterlockSet, OF_FEEDER, OF_SITE, ProofSettings};
use crate::guard::Limits;
use crate::guard::units::{HOUR_MS, Millis};

/// Age of a test that was never made.
const NEVER: u16 = u16::MAX;
/// Time of a test that failed.
const FAILED: u16 = u16::MAX;

/// The last test of one interlock; 4 bytes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Proof {
    hours: u16,
    took_ms: u16,
}

impl Proof {
    /// Never tested.
    pub const NEVER: Self = Self {
        hours: NEVER,
        took_ms: 0,
    };

    /// Passed just now: feed stopped in this time.
    pub(super) const fn passed(took_ms: u16) -> Self {
        let took_ms = if took_ms == FAILED {
            FAILED - 1
        } else {
            took_ms
        };
        Self { hours: 0, took_ms }
    }

    /// Failed just now.
    pub(super) const FAILED: Self = Self {
        hours: 0,
        took_ms: FAILED,
    };

    /// Whether the last test failed. Age does not mend that.
    #[must_use]
    pub const fn has_failed(&self) -> bool {
        self.took_ms == FAILED
    }

    /// Whole hours since it, rounded up; `None`: never tested, or longer ago than 7 years.
    #[must_use]
    pub const fn age_hours(&self) -> Option<u16> {
        if self.hours == NEVER {
            None
        } else {
            Some(self.hours)
        }
    }

    /// In what time feed stopped, ms; `None` if it failed or was never made. 0 where nothing was timed: the
    /// series contact, and who did it before saying so.
    #[must_use]
    pub const fn took_ms(&self) -> Option<u16> {
        if self.has_failed() || self.hours == NEVER {
            None
        } else {
            Some(self.took_ms)
        }
    }

    /// Whether a test is due: it failed, was never made, or is older than so many days.
    #[must_use]
    pub const fn is_due(&self, every_days: u16) -> bool {
        self.took_ms().is_none() || self.hours > every_days.saturating_mul(24)
    }
}

/// The last test of each interlock of a site with `N` feeders: 24 + 12 `N` bytes. Keep it across a
/// restart.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Proofs<const N: usize> {
    site: [Proof; OF_SITE],
    #[cfg_attr(feature = "serde", serde(with = "crate::serial::array"))]
    feeders: [[Proof; OF_FEEDER]; N],
    part_ms: u32,
}

impl<const N: usize> Proofs<N> {
    /// Nothing was ever tested.
    pub const NEVER: Self = Self {
        site: [Proof::NEVER; OF_SITE],
        feeders: [[Proof::NEVER; OF_FEEDER]; N],
        part_ms: 0,
    };

    fn all_mut(&mut self) -> impl Iterator<Item = &mut Proof> {
        self.site
            .iter_mut()
            .chain(self.feeders.iter_mut().flatten())
    }

    /// Their ages, hours.
    #[cfg(feature = "store")]
    pub(crate) fn hours(&self) -> impl Iterator<Item = u16> {
        let all = self.site.iter().chain(self.feeders.iter().flatten());
        all.map(|one| one.hours)
    }

    /// As if all that were made had been made now.
    #[cfg(feature = "store")]
    pub(crate) fn ageless(mut self) -> Self {
        self.part_ms = 0;
        for one in self.all_mut().filter(|one| one.hours != NEVER) {
            one.hours = 0;
        }
        self
    }

    /// As on a board that was wired anew, and after a winter: every test is due, and one that failed
    /// stays failed.
    pub(crate) fn due_anew(mut self) -> Self {
        for one in self.all_mut().filter(|one| !one.has_failed()) {
            *one = Proof::NEVER;
        }
        self
    }

    /// The last test of one; [`Proof::NEVER`] where there is no such feeder.
    #[must_use]
    pub fn of(&self, one: Interlock) -> Proof {
        let number = one.number();
        let own = match (number.checked_sub(OF_SITE), one.feeder()) {
            (Some(at), Some(feeder)) => {
                let own = self.feeders.get(usize::from(feeder));
                own.and_then(|own| own.get(at % OF_FEEDER))
            }
            _ => self.site.get(number),
        };
        own.copied().unwrap_or(Proof::NEVER)
    }

    pub(super) fn note(&mut self, one: Interlock, proof: Proof) {
        if let Some(own) = self.all_mut().nth(one.number()) {
            *own = proof;
        }
    }

    /// More time passes with power on. A test ages by up to an hour too much, never too little.
    pub fn pass(&mut self, elapsed: Millis) {
        self.part_ms = self.part_ms.saturating_add(elapsed.0);
        if self.part_ms >= HOUR_MS {
            let hours = self.part_ms / HOUR_MS;
            self.part_ms %= HOUR_MS;
            self.age(u16::try_from(hours).unwrap_or(u16::MAX));
        }
    }

    /// The power was off; `None`: for nobody knows how long, and it counts as a day.
    pub fn pass_off(&mut self, hours: Option<u16>) {
        self.age(hours.unwrap_or(24));
    }

    fn age(&mut self, hours: u16) {
        self.all_mut()
            .for_each(|one| one.hours = one.hours.saturating_add(hours));
    }

    /// The interlocks of the site without a test that passed and is young enough.
    #[must_use]
    pub fn due<const B: usize>(
        &self,
        settings: &ProofSettings,
        limits: &Limits<N, B>,
    ) -> InterlockSet {
        self.due_of(settings, settings.of_site(limits))
    }

    /// Of these.
    pub(super) fn due_of(&self, settings: &ProofSettings, fitted: InterlockSet) -> InterlockSet {
        self.those(fitted, |one| one.is_due(settings.every_days))
    }

    /// The interlocks of the site whose last test failed.
    #[must_use]
    pub fn failed<const B: usize>(
        &self,
        settings: &ProofSettings,
        limits: &Limits<N, B>,
    ) -> InterlockSet {
        self.failed_of(settings.of_site(limits))
    }

    /// Of these.
    pub(super) fn failed_of(&self, fitted: InterlockSet) -> InterlockSet {
        self.those(fitted, |one| one.has_failed())
    }

    fn those(&self, fitted: InterlockSet, which: impl Fn(Proof) -> bool) -> InterlockSet {
        fitted
            .iter()
            .filter(|one| which(self.of(*one)))
            .fold(InterlockSet::NONE, InterlockSet::with)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::SPEC;
    use crate::guard::units::DAY_MS;
    use crate::proof::{ProofEnd, ProofTests};

    #[test]
    fn a_proof_is_due_after_its_days_and_time_without_power_counts() {
        let limits = Limits::try_new(SPEC).unwrap();
        let only = ProofSettings {
            emergency_stop: false,
            master_contact: false,
            every_days: 30,
        };
        let mut proofs = Proofs::<2>::NEVER;
        assert_eq!(
            proofs.due(&only, &limits),
            only.of_site(&limits),
            "never made"
        );
        assert!(proofs.failed(&only, &limits).is_empty());
        let passed = ProofEnd::Passed {
            took_ms: 400,
            fed: true,
        };
        for one in only.of_site(&limits).iter() {
            proofs.end(one, passed);
        }
        assert_eq!(proofs.of(Interlock::FlowSwitch).took_ms(), Some(400));
        proofs.pass(Millis(DAY_MS * 20));
        proofs.pass_off(Some(10 * 24));
        assert!(proofs.due(&only, &limits).is_empty());
        proofs.pass(Millis::from_hours(1));
        assert_eq!(proofs.due(&only, &limits), only.of_site(&limits));
        proofs.end(Interlock::FlowSwitch, ProofEnd::FedOn);
        let failed = InterlockSet::NONE.with(Interlock::FlowSwitch);
        assert_eq!(proofs.failed(&only, &limits), failed);
        proofs.end(Interlock::FlowSwitch, ProofEnd::GivenUp);
        assert_eq!(
            proofs.failed(&only, &limits),
            failed,
            "given up changes nothing"
        );
        proofs.end(Interlock::FlowSwitch, passed);
        assert!(proofs.failed(&only, &limits).is_empty());
        assert_eq!(core::mem::size_of::<Proofs<2>>(), 48);
        assert!(core::mem::size_of::<ProofTests<2>>() <= 64);
    }

    #[cfg(feature = "store")]
    #[test]
    fn without_their_ages_those_that_were_made_are_of_now_and_the_others_were_never_made() {
        let passed = ProofEnd::Passed {
            took_ms: 400,
            fed: true,
        };
        let mut proofs = Proofs::<2>::NEVER;
        proofs.end(Interlock::FlowSwitch, passed);
        proofs.pass(Millis(DAY_MS * 20 + 1));
        assert_eq!(proofs.of(Interlock::FlowSwitch).age_hours(), Some(480));
        let hours: std::vec::Vec<u16> = proofs.hours().collect();
        assert_eq!(hours.len(), OF_SITE + 2 * OF_FEEDER);
        let known: std::vec::Vec<_> = hours.iter().filter(|hours| **hours != NEVER).collect();
        assert_eq!(known, [&480]);
        let ageless = proofs.ageless();
        assert_eq!(ageless.of(Interlock::FlowSwitch).age_hours(), Some(0));
        assert_eq!(ageless.of(Interlock::PumpContact), Proof::NEVER);
        let mut anew = Proofs::<2>::NEVER;
        anew.end(Interlock::FlowSwitch, passed);
        assert_eq!(ageless, anew);
    }
}
