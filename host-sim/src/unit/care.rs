//! The unit's proof tests, and what it is told about care.

use dosewarden::guard::units::{Dose, Fitted, Millis};
use dosewarden::guard::{Authority, FeederLimits, Limits, Reading};
use dosewarden::probe::CentiCelsius;
use dosewarden::proof::{InterlockSet, ProofAct, ProofTests, Proofs};
use dosewarden::store::SettingsImage;
use dosewarden::water_tests::{TestedValue, WaterTests};
use dosewarden::{Care, CareSettings, Inputs, LimitsRefused};

use super::Reply;
use super::ours::Ours;
use crate::scenario::{CareAct, CarePlan};

/// What the unit has of care: where a scenario has none, nothing.
#[derive(Clone, Debug)]
pub(super) struct CareDesk<const N: usize> {
    plan: Option<CarePlan>,
    tests: ProofTests<N>,
}

impl<const N: usize> CareDesk<N> {
    pub(super) const fn new(plan: Option<CarePlan>) -> Self {
        Self {
            plan,
            tests: ProofTests::restore(Proofs::NEVER),
        }
    }

    /// Goes by what another board was set to. One that had nothing of care leaves this one's.
    pub(super) fn bring<const B: usize>(&mut self, image: &SettingsImage<N, B>) {
        let Fitted::Fitted(proof) = image.proof else {
            return;
        };
        let rule = |value: TestedValue| {
            let mut all = TestedValue::ALL.iter().zip(image.tests);
            let own = all.find(|(of, _)| **of == value);
            own.map_or(value.usual(), |(_, rule)| rule)
        };
        self.plan = Some(CarePlan {
            settings: image.care,
            proof,
            alkalinity: rule(TestedValue::Alkalinity),
            cyanurate: rule(TestedValue::Cyanurate),
        });
    }

    pub(super) fn settings(&self) -> CareSettings {
        self.plan.map_or(CareSettings::NONE, |plan| plan.settings)
    }

    pub(super) const fn plan(&self) -> Option<&CarePlan> {
        self.plan.as_ref()
    }

    pub(super) const fn tests(&self) -> &ProofTests<N> {
        &self.tests
    }

    /// The interlocks that can be tested here.
    pub(super) fn interlocks<const B: usize>(&self, limits: &Limits<N, B>) -> InterlockSet {
        let plan = self.plan.as_ref();
        plan.map_or(InterlockSet::NONE, |plan| plan.proof.of_site(limits))
    }

    /// Supply comes, with what is on record. `off`: how long it was gone, if at all.
    pub(super) fn start(&mut self, mut proofs: Proofs<N>, off: Option<Option<u16>>) {
        if let Some(hours) = off {
            proofs.pass_off(hours);
        }
        self.tests = ProofTests::restore(proofs);
    }

    /// What the controller is told in a tick.
    pub(super) fn tell<const B: usize>(
        &self,
        limits: &Limits<N, B>,
        water: &WaterTests,
        celsius: f64,
    ) -> Care {
        let mut care = Care::UNKNOWN;
        if let Some(plan) = &self.plan {
            care.overdue = water.all_overdue(|value| plan.rule(value));
            let hundredths = CentiCelsius((celsius * 100.0).round() as i32);
            care.temperature = Reading::now(hundredths);
            self.tests.tell(&plan.proof, limits, &mut care);
        }
        care
    }

    /// Follows a proof test after a tick.
    pub(super) fn watch<const B: usize>(
        &mut self,
        controller: &mut Ours<N, B>,
        elapsed: Millis,
        inputs: &Inputs<N>,
    ) {
        if self.plan.is_some() {
            controller.watch_proof(&mut self.tests, elapsed, inputs);
        }
    }

    /// Takes an act that the controller takes at once; `None`: it goes through a tick.
    pub(super) fn take<const B: usize>(
        &mut self,
        controller: &mut Ours<N, B>,
        limits: &mut Limits<N, B>,
        by: Authority,
        act: CareAct,
    ) -> Option<Reply> {
        let proof = match act {
            CareAct::Prove(one) => ProofAct::Start(one),
            CareAct::Trip => ProofAct::Done,
            CareAct::StoodStill(seen) => ProofAct::StoodStill(seen),
            CareAct::ChangeCaps {
                feeder,
                share,
                confirmed,
            } => return Some(change(controller, limits, by, (feeder, share, confirmed))),
            CareAct::ProveAll(_) => {
                return Some(Reply::Refused("one proof test at a time".to_owned()));
            }
            CareAct::Observe
            | CareAct::KitPh(_)
            | CareAct::Prime { .. }
            | CareAct::Strength { .. } => return None,
        };
        let Some(plan) = &self.plan else {
            return Some(Reply::Refused("the site has no [care]".to_owned()));
        };
        let told = controller.prove(&mut self.tests, &plan.proof, by, proof);
        Some(told.map_or_else(|why| Reply::Refused(why.to_string()), |()| Reply::Done))
    }
}

/// A dose at a share, in hundredths of a percent.
fn at(dose: Dose, share: u32) -> Dose {
    let dose = u64::from(dose.0) * u64::from(share) / 10_000;
    Dose(u32::try_from(dose).unwrap_or(u32::MAX))
}

fn change<const N: usize, const B: usize>(
    controller: &mut Ours<N, B>,
    limits: &mut Limits<N, B>,
    by: Authority,
    (feeder, share, confirmed): (usize, u32, bool),
) -> Reply {
    let mut spec = *limits.spec();
    if let Some(FeederLimits::Enabled(one)) = spec.feeders.get_mut(feeder) {
        for body in &mut one.bodies {
            body.cycle_cap = at(body.cycle_cap, share);
            body.hour_cap = at(body.hour_cap, share);
            body.day_cap = at(body.day_cap, share);
        }
    }
    let new = match Limits::try_new(spec) {
        Ok(new) => new,
        Err(error) => return Reply::Refused(error.to_string()),
    };
    let mut told = controller.change_limits(by, new.clone(), None);
    if let (Err(LimitsRefused::Confirm(with)), true) = (told, confirmed) {
        told = controller.change_limits(by, new.clone(), Some(with));
    }
    match told {
        Ok(()) => {
            *limits = new;
            Reply::Done
        }
        Err(why) => Reply::Refused(why.to_string()),
    }
}
