//! Stages of trust: observe only, reduced caps, full caps. Each step up needs a person, the
//! authority, and its evidence; a step down is done at once.
//!
//! # Invariants
//! - Observing is an inhibit of the controller's, as a pause is: the guard decides as ever, and is
//!   refused by `inhibits_clear` alone where it would have fed. That is logged as
//!   [`EventKind::WouldFeed`]. It stands outside the guard, since
//!   a stage in there could only be one more cap; and every other rule judges while observing as
//!   it does later. Nothing is booked, so caps, holds and the water's answer do not bind yet.
//! - Evidence is hours and flags, never a date: nothing of it comes from a clock that may lie. Hours count where the time
//!   since the last tick can be, water flows, probes are trusted, and nothing but observing holds feed. That something
//!   was fed is not asked for.
//! - A controller that was told nothing goes by [`CareSettings::USUAL`](crate::CareSettings::USUAL): what nobody set must not
//!   feed on the first day. Nor after a reset: one that restores a record observes until what was kept beside it is put
//!   back ([`KeptRecord`](crate::store::KeptRecord), or [`Controller::set_restraints`](crate::Controller::set_restraints)).
//! - Where no evidence is asked for ([`CareSettings::stages`](crate::CareSettings) not fitted) the
//!   guard's own authority alone decides.
//!
//! A proof test of a drive's feedback needs feed and ends in a lockout: make it first in the reduced
//! stage.
//!
//! | step | evidence |
//! |---|---|
//! | observe only, to reduced | [`observe_hours`](StageSettings::observe_hours) with flow proven and every fitted probe normal; a catch test on record of every feeder of a liquid; every interlock of the site proven that can be without feed |
//! | reduced, to full | [`reduced_hours`](StageSettings::reduced_hours) of the same without a lockout, which begins them anew; a kit's test of pH that agrees with the probe; no feeder whose answer by the water is wrong or missing; catch tests as before, and every interlock proven |

mod needs;
#[cfg(test)]
mod restarts;
#[cfg(test)]
mod tests;

pub use needs::StageNeeds;

use crate::act::{Act, ActResult, Person};
use crate::around::Around;
use crate::ask::{Water, blocking};
use crate::care::Care;
use crate::event::EventKind;
use crate::guard::units::{Fitted, MilliPh, Millis};
use crate::guard::{
    Action, Authority, Decision, Guard, Inhibits, Limits, PersonAction, Product, Rule, Stage, State,
};
use crate::probe::Age;
use crate::settings::{Checked, held, of_u16, ranged};

/// How far a kit's test of pH may be from what the probe shows, milli-pH. A kit reads to about 0.2
/// (common practice, no source).
pub const KIT_AGREES: u32 = 200;

/// Where a unit stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Rung {
    /// Decides and logs, drives nothing.
    ObserveOnly,
    /// Caps at the reduced share.
    Reduced,
    /// Caps in full.
    Full,
}

/// What the steps need.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub struct StageSettings {
    /// A unit that a person initialises only observes at first.
    pub begins_observing: bool,
    /// Hours of sound flow and probes before feeding.
    pub observe_hours: u16,
    /// Hours of them in the reduced stage.
    pub reduced_hours: u16,
}

impl StageSettings {
    /// What a controller goes by that nobody told: a day of sound flow and probes, and three with reduced caps. Our
    /// choice; `dosewarden plan` works hours out from a site's pump.
    pub const USUAL: Self = Self {
        begins_observing: true,
        observe_hours: 24,
        reduced_hours: 72,
    };

    /// Most hours of a stage. Our choice: after six weeks nobody knows any more what is waited for.
    pub const HOURS_MAX: u16 = 1000;

    pub(crate) const fn check(&self) -> Checked {
        let max = of_u16(Self::HOURS_MAX);
        held! {
            ranged("observe_hours", of_u16(self.observe_hours), 1, max);
            ranged("reduced_hours", of_u16(self.reduced_hours), 1, max);
        }
        Ok(())
    }
}

/// Evidence of the stage in which the unit is, and whether it observes. 12 bytes; kept with the
/// rest of [`Restraints`](crate::Restraints).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Evidence {
    /// Nothing is driven.
    pub is_observing: bool,
    /// A kit's test of pH agreed with the probe in this stage.
    pub kit_agreed: bool,
    /// Doses that would have been fed; saturates.
    pub would_feed: u16,
    /// Time with sound flow and probes in this stage.
    pub sound: Age,
}

impl Evidence {
    /// None; feeding.
    pub const NONE: Self = Self {
        is_observing: false,
        kit_agreed: false,
        would_feed: 0,
        sound: Age::NEW,
    };

    /// None; observing.
    pub const OBSERVING: Self = Self {
        is_observing: true,
        ..Self::NONE
    };
}

/// What an act is looked at with.
pub(crate) struct Scene<'a, const N: usize, const B: usize, const H: usize, const D: usize> {
    pub(crate) limits: &'a Limits<N, B>,
    pub(crate) state: &'a State<N, B, H, D>,
    pub(crate) water: Water,
    pub(crate) care: &'a Care,
    /// Feeders whose rate is named as wrong, as bits: by the water, by the drum, or by who asks.
    pub(crate) rate_wrong: u8,
}

impl<const N: usize, const B: usize, const H: usize, const D: usize> Scene<'_, N, B, H, D> {
    fn feeders(&self, which: impl Fn(usize, Product) -> bool) -> u8 {
        let bit = |feeder: usize| 1_u8.checked_shl(u32::try_from(feeder).unwrap_or(8));
        (0..N).fold(0, |bits, feeder| match self.limits.product(feeder) {
            Some(product) if which(feeder, product) => bits | bit(feeder).unwrap_or(0),
            _ => bits,
        })
    }

    /// What is missing for the next step up from `evidence`.
    fn missing(&self, settings: &StageSettings, evidence: &Evidence) -> StageNeeds {
        let (spec, care) = (self.limits.spec(), self.care);
        let hours = if evidence.is_observing {
            settings.observe_hours
        } else {
            settings.reduced_hours
        };
        let uncaught = |feeder: usize, product: Product| {
            let feeder = self.limits.feeder(feeder);
            product != Product::GeneratedChlorine
                && feeder.is_some_and(|one| !one.catch_test_on_record)
        };
        let answers = |feeder: usize, _: Product| {
            let own = self.state.response.get(self.limits.account(feeder));
            own.is_some_and(|own| own.wrong || own.unanswered > 0)
        };
        let for_full = !evidence.is_observing;
        let unproven = care.unproven.unwrap_or_default();
        let proofs = if for_full {
            unproven
        } else {
            unproven.without_feed()
        };
        let mut needs = StageNeeds {
            hours: hours.saturating_sub(evidence.sound.hours()),
            catch_tests: self.feeders(uncaught),
            proofs_unknown: care.unproven.is_none(),
            proofs,
            ..StageNeeds::NOTHING
        };
        if for_full {
            needs.kit_test = spec.ph_probe.is_fitted() && !evidence.kit_agreed;
            needs.response = self.feeders(answers) | self.feeders(|_, _| true) & self.rate_wrong;
        }
        needs
    }
}

impl<const N: usize> Around<N> {
    /// Where the unit stands.
    pub(crate) const fn rung(&self, stage: Stage) -> Rung {
        match stage {
            _ if self.restraints.evidence.is_observing => Rung::ObserveOnly,
            Stage::Reduced => Rung::Reduced,
            Stage::Full => Rung::Full,
        }
    }

    /// Looks at a change of stage: hands it on to the guard, or says what is missing.
    pub(crate) fn step<const B: usize, const H: usize, const D: usize>(
        &mut self,
        scene: &Scene<'_, N, B, H, D>,
        (by, to): (Authority, Rung),
    ) -> Result<PersonAction, ActResult> {
        let now = self.rung(scene.state.stage);
        let settings = self.caring.settings.stages;
        let stage = if to == Rung::Full {
            Stage::Full
        } else {
            Stage::Reduced
        };
        let handed = |by| {
            let action = Action::SetStage(stage);
            Ok(PersonAction { by, action })
        };
        if !settings.is_fitted() && now != Rung::ObserveOnly && to != Rung::ObserveOnly {
            return handed(by);
        }
        // Down, whoever runs the site may go. The guard knows one authority for either direction.
        let down = to < now && (to == Rung::ObserveOnly || settings.is_fitted());
        if down && by < Authority::Operator {
            return Err(ActResult::NeedsAuthority(Authority::Operator));
        }
        if to == Rung::ObserveOnly {
            if now == Rung::ObserveOnly {
                return Err(ActResult::AlreadySo);
            }
            self.observe(true);
        }
        if down {
            return handed(by.max(Authority::Technician));
        }
        if by < Authority::Technician {
            return Err(ActResult::NeedsAuthority(Authority::Technician));
        }
        if now == Rung::ObserveOnly && to == Rung::Full {
            return Err(ActResult::StageNeeds(StageNeeds {
                reduced_first: true,
                ..StageNeeds::NOTHING
            }));
        }
        if let (true, Fitted::Fitted(settings)) = (to > now, settings) {
            let needs = scene.missing(&settings, &self.restraints.evidence);
            if !needs.is_nothing() {
                return Err(ActResult::StageNeeds(needs));
            }
        }
        handed(by)
    }

    /// What the guard has done about a stage.
    pub(crate) fn stepped(&mut self, person: Person) {
        match person.act {
            Act::Guard(Action::Initialise) => {
                let begins = match self.caring.settings.stages {
                    Fitted::Fitted(settings) => settings.begins_observing,
                    Fitted::NotFitted => false,
                };
                if begins {
                    self.observe(true);
                }
            }
            Act::Guard(Action::SetStage(_)) => self.observe(false),
            _ => {}
        }
    }

    /// Begins or ends observing; evidence is gathered anew.
    fn observe(&mut self, is_observing: bool) {
        let own = &mut self.restraints.evidence;
        let changes = own.is_observing != is_observing;
        *own = if is_observing {
            Evidence::OBSERVING
        } else {
            Evidence::NONE
        };
        if changes {
            self.would_wait = [Millis(0); N];
            self.events.push(EventKind::Observing { now: is_observing });
        }
    }

    /// Compares a kit's test of pH with the probe.
    pub(crate) fn kit(&mut self, kit: MilliPh, shown: Option<MilliPh>) -> ActResult {
        let Some(shown) = shown else {
            return ActResult::ProbeNotTrusted;
        };
        let agrees = kit.0.abs_diff(shown.0) <= KIT_AGREES;
        self.restraints.evidence.kit_agreed = agrees;
        if agrees {
            ActResult::Done
        } else {
            ActResult::KitDisagrees(shown)
        }
    }

    /// Gathers evidence: sound time, which a lockout begins anew.
    pub(crate) fn gather<const B: usize, const H: usize, const D: usize>(
        &mut self,
        guard: &Guard<N, B, H, D>,
        (water, inhibits): (Water, Inhibits),
        elapsed: Millis,
    ) {
        let (site, state) = (guard.limits().spec(), guard.state());
        if !self.caring.settings.stages.is_fitted() {
            return;
        }
        let locked = state.feeder_lockouts.iter().any(|own| !own.is_empty());
        let own = &mut self.restraints.evidence;
        if locked || !state.site_lockouts.is_empty() {
            own.sound = Age::NEW;
            return;
        }
        // Where nothing could be fed for another reason than observing, nothing is shown.
        let besides = Inhibits::from_bits(inhibits.bits() & !Inhibits::OBSERVE_ONLY.bits());
        if !besides.is_empty() {
            return;
        }
        let ph = water.ph.is_some() || !site.ph_probe.is_fitted();
        let orp = water.orp.is_some() || !site.orp_probe.is_fitted();
        if ph && orp && state.flow_proven >= site.flow_prove {
            own.sound.pass(elapsed);
        }
    }

    /// The longest hold of each feeder, while observing: what [`Around::would_feed`] waits for.
    pub(crate) fn would_holds<const B: usize>(&self, limits: &Limits<N, B>) -> [Millis; N] {
        let mut holds = [Millis(0); N];
        if self.restraints.evidence.is_observing {
            for (feeder, hold) in holds.iter_mut().enumerate() {
                let bodies = limits.feeder(feeder).map(|spec| spec.bodies.iter());
                let longest = bodies.and_then(|all| all.map(|body| body.spread_hold).max());
                *hold = longest.unwrap_or(Millis(0)).max(Millis(1));
            }
        }
        holds
    }

    /// Logs what would have been fed: where observing is all that refuses, a dose after each hold.
    pub(crate) fn would_feed(
        &mut self,
        holds: &[Millis; N],
        (decision, inhibits): (&Decision<N>, Inhibits),
        (flows, elapsed): (bool, Millis),
    ) {
        if !self.restraints.evidence.is_observing {
            return;
        }
        let rows = decision.feeders.iter().zip(self.asks.iter());
        let waits = self.would_wait.iter_mut().zip(holds.iter());
        for (feeder, ((row, ask), (wait, hold))) in (0..u8::MAX).zip(rows.zip(waits)) {
            if flows {
                wait.0 = wait.0.saturating_sub(elapsed.0);
            }
            let alone = blocking(row.vetoes).is_only(Rule::InhibitsClear);
            let only = inhibits == Inhibits::OBSERVE_ONLY && alone && ask.held.is_none();
            if !only || !ask.wants() || wait.0 > 0 {
                continue;
            }
            *wait = *hold;
            let own = &mut self.restraints.evidence.would_feed;
            *own = own.saturating_add(1);
            let dose = ask.dose;
            self.events.push(EventKind::WouldFeed { feeder, dose });
        }
    }
}
