//! An ORP probe: filter and checks, and how long ago it was checked in a reference solution.

use core::convert::Infallible;

use super::anchor::{Anchor, AnchorRefused, Beside, ChlorineTest};
use super::care::{ProbeAct, ProbeKind, ProbeLog, ProbeRefused, Trying};
use super::condition::{ConditionLimits, Conditioner};
use super::conditioned::Conditioned;
use super::finding::Finding;
use super::ph::ProbeInput;
use super::reference::{CheckRefused, ReferenceCheck, ReferenceElectrode, Solution};
use super::settling::Settling;
use super::units::CentiCelsius;
use crate::guard::units::{Fitted, Millis, Millivolts};
use crate::guard::{Authority, Reading};

/// What an ORP probe is told about its site.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct OrpSetup {
    /// Of the checks.
    pub limits: ConditionLimits,
    /// Its reference electrode.
    pub electrode: ReferenceElectrode,
    /// Oldest check in a reference solution, days. Not fitted: the site does not check, and only a
    /// check that failed counts.
    pub check_days_max: Fitted<u16>,
}

/// An ORP probe.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct OrpProbe {
    conditioner: Conditioner,
    check: Option<ReferenceCheck>,
    is_in_work: bool,
}

impl OrpProbe {
    /// As it was kept; `None`: never checked.
    #[must_use]
    pub const fn new(check: Option<ReferenceCheck>) -> Self {
        Self {
            conditioner: Conditioner::NEW,
            check,
            is_in_work: false,
        }
    }

    /// One tick. `elapsed` since the last.
    pub fn tick(
        &mut self,
        setup: &OrpSetup,
        elapsed: Millis,
        input: &ProbeInput,
    ) -> Conditioned<Millivolts> {
        if let Some(check) = &mut self.check {
            check.age.pass(elapsed);
        }
        // From one solution to the next is no jump.
        let is_steady = input.is_steady && !self.is_in_work;
        let found = self
            .conditioner
            .tick(&setup.limits, elapsed, &input.seen, is_steady);
        let finding = if self.is_in_work {
            Finding::InWork
        } else {
            found.gravest(self.of_check(setup))
        };
        let reading = Reading {
            value: self.conditioner.value().to_millivolts(),
            age: self.conditioner.age(),
            health: finding.health(),
        };
        Conditioned::new(reading, finding)
    }

    fn of_check(&self, setup: &OrpSetup) -> Finding {
        match (self.check, setup.check_days_max) {
            (Some(check), _) if !check.passed() => Finding::CheckFailed,
            (None, Fitted::Fitted(_)) => Finding::CheckOld,
            (Some(check), Fitted::Fitted(days)) if check.age.is_over_days(days) => {
                Finding::CheckOld
            }
            _ => Finding::Fine,
        }
    }

    /// The power was off; `None`: for nobody knows how long.
    pub const fn pass_off(&mut self, hours: Option<u16>) {
        if let Some(check) = &mut self.check {
            check.age.pass_off(hours);
        }
    }

    /// Someone takes the probe out of the water, or has put it back.
    pub const fn set_in_work(&mut self, is_in_work: bool) {
        if self.is_in_work && !is_in_work {
            self.conditioner.restart();
        }
        self.is_in_work = is_in_work;
    }

    /// A check in a reference solution. A check that the probe fails is done, too.
    ///
    /// # Errors
    /// Why it says nothing; all is as before then.
    pub fn check(
        &mut self,
        by: Authority,
        solution: Solution,
        settling: &Settling,
        temperature: CentiCelsius,
        setup: &OrpSetup,
        log: &mut ProbeLog,
    ) -> Result<ReferenceCheck, ProbeRefused<CheckRefused>> {
        let before = self.check.map_or(0, |check| check.error.0);
        let error = |check: &ReferenceCheck| check.error.0;
        let made = trying(ProbeAct::CheckReference, by, before).run(log, error, || {
            ReferenceCheck::take(solution, setup.electrode, settling, temperature)
        })?;
        self.check = Some(made);
        Ok(made)
    }

    /// A set point from a DPD test; kept by whoever keeps the settings.
    ///
    /// # Errors
    /// Why it was refused; `last` stands then.
    pub fn anchor(
        &self,
        by: Authority,
        test: ChlorineTest,
        beside: &Beside,
        last: Option<&Anchor>,
        log: &mut ProbeLog,
    ) -> Result<Anchor, ProbeRefused<AnchorRefused>> {
        let before = last.map_or(0, |last| last.orp.0);
        let orp = |made: &Anchor| made.orp.0;
        trying(ProbeAct::Anchor, by, before).run(log, orp, || Anchor::take(test, beside, last))
    }

    /// A person has found that a jump is true.
    ///
    /// # Errors
    /// For want of authority.
    pub fn confirm(
        &mut self,
        by: Authority,
        log: &mut ProbeLog,
    ) -> Result<(), ProbeRefused<Infallible>> {
        trying(ProbeAct::Confirm, by, 0).run(log, |()| 0, || Ok(()))?;
        self.conditioner.confirm();
        Ok(())
    }

    /// The probe is another. Its anchor goes too; the guard wants to know (`Action::NewProbe`).
    ///
    /// # Errors
    /// For want of authority.
    pub fn replace(
        &mut self,
        by: Authority,
        anchor: &mut Option<Anchor>,
        log: &mut ProbeLog,
    ) -> Result<(), ProbeRefused<Infallible>> {
        trying(ProbeAct::Replace, by, 0).run(log, |()| 0, || Ok(()))?;
        *anchor = None;
        *self = Self::new(None);
        Ok(())
    }

    /// Its last check.
    #[must_use]
    pub const fn last_check(&self) -> Option<&ReferenceCheck> {
        self.check.as_ref()
    }

    /// Its filter, for noise and the potential.
    #[must_use]
    pub const fn conditioner(&self) -> &Conditioner {
        &self.conditioner
    }
}

const fn trying(act: ProbeAct, by: Authority, before: i32) -> Trying {
    Trying {
        probe: ProbeKind::Orp,
        act,
        by,
        before,
    }
}
