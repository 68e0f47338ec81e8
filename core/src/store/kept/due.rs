//! When a kept record should be written.

use super::KeptRecord;
use crate::guard::units::{HOUR_MS, Millis};
use crate::probe::Age;
use crate::regulate::CureAge;
use crate::stages::Evidence;
use crate::under::Under;
use crate::upkeep::Kept;

impl<const N: usize> KeptRecord<N> {
    /// Whether it should be written now, where `written` was, so long ago: at once if more than time
    /// has changed it, else once an hour. So a cut costs no act of a person but one that it catches before
    /// its write has ended, which is asked for again; and of what only passes an hour: pauses last
    /// longer then, evidence is less, ages are an hour too low (say so in what was passed without power).
    #[must_use]
    pub fn is_due(&self, written: &Self, ago: Millis) -> bool {
        // Most looks find nothing that has changed at all.
        if self == written {
            return false;
        }
        self.ageless() != written.ageless() || self.is_younger(written) || ago.0 >= HOUR_MS
    }

    /// With all that time alone changes left out.
    fn ageless(&self) -> Self {
        let mut all = self.clone();
        let (upkeep, own) = (&mut all.upkeep, &mut all.restraints);
        let ages = [
            upkeep.calibration.as_mut().map(|one| &mut one.age),
            Some(&mut upkeep.trim.age),
            upkeep.check.as_mut().map(|one| &mut one.age),
            upkeep.anchor.as_mut().map(|one| &mut one.age),
            Some(&mut own.evidence.sound),
        ];
        ages.into_iter().flatten().for_each(|age| *age = Age::NEW);
        own.evidence.would_feed = 0;
        own.paused.0 = own.paused.0.min(1);
        for by_hand in &mut own.by_hand {
            by_hand.counts_for.0 = by_hand.counts_for.0.min(1);
            by_hand.spreads_for.0 = by_hand.spreads_for.0.min(1);
        }
        upkeep.tests = upkeep.tests.ageless();
        all.proofs = all.proofs.ageless();
        for cure in all.cures.iter_mut().flatten() {
            cure.found.age = Age::NEW;
        }
        all
    }

    /// Whether an age fell or a time left rose: something was begun anew with the same figures.
    fn is_younger(&self, written: &Self) -> bool {
        fn ages(kept: &Kept, evidence: &Evidence) -> [u16; 5] {
            let hours = |age: Option<Age>| age.map_or(0, |age| age.hours());
            [
                hours(kept.calibration.map(|one| one.age)),
                kept.trim.age.hours(),
                hours(kept.check.map(|one| one.age)),
                hours(kept.anchor.map(|one| one.age)),
                evidence.sound.hours(),
            ]
        }
        let all = |one: &Self| {
            let (tests, evidence) = (one.upkeep.tests, one.restraints.evidence);
            let own = ages(&one.upkeep, &evidence);
            let more: [u16; 4] = tests.hours();
            (own, more)
        };
        let (now, then) = (all(self), all(written));
        let fell = |now: &[u16], then: &[u16]| now.iter().zip(then).any(|(now, then)| now < then);
        let (own, was) = (&self.restraints, &written.restraints);
        let hands = own.by_hand.iter().zip(was.by_hand.iter());
        let cures = self.cures.iter().zip(&written.cures);
        let mut cures = cures.map(|(now, then)| (now.map(hours_of), then.map(hours_of)));
        let mut proofs = self.proofs.hours().zip(written.proofs.hours());
        fell(&now.0, &then.0)
            || fell(&now.1, &then.1)
            || proofs.any(|(now, then)| now < then)
            || cures.any(|(now, then)| now < then)
            || own.paused > was.paused
            || hands
                .into_iter()
                .any(|(now, then)| now.counts_for > then.counts_for)
    }
}

fn hours_of(cure: Under<CureAge>) -> u16 {
    cure.found.age.hours()
}
