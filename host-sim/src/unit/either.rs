//! Our own unit, as a site needs it: for two feeders or four, for one body of water or two.

use dosewarden::Controller;
use dosewarden::guard::Authority;
use dosewarden::guard::units::ClockSeconds;
use dosewarden::proof::{Interlock, InterlockSet, Proof, ProofStep};
use dosewarden::regulate::Standard;
use dosewarden::store::{BoardError, DayUsed};
use dosewarden::water_tests::WaterTests;

use super::canary::{Canary, Wrong};
use super::fewer::{self, USUAL};
use super::ours::{DAY, HOUR, OurUnit};
use super::{ControlUnit, InsideFault, RateFound, Reply, Told, UnitStatus};
use crate::plant::{Commands, MAX_FEEDERS, Senses, TwoCopyStore};
use crate::scenario::{PersonAct, Scenario};

/// By how many feeders and bodies its controller counts.
#[derive(Clone)]
enum Counts {
    Usual(Box<OurUnit<USUAL, 1>>),
    One(Box<OurUnit<MAX_FEEDERS, 1>>),
    Two(Box<OurUnit<MAX_FEEDERS, 2>>),
}

/// The controller of the crate `dosewarden` as a control unit.
///
/// Where a scenario has two bodies of water and tells the unit which of them the valves select, it counts for each;
/// otherwise for one. Where a scenario has at most two feeders and one body, it counts for as many.
#[derive(Clone)]
pub struct DosewardenUnit(Counts);

/// The same of either.
macro_rules! either {
    ($unit:expr, $own:ident => $what:expr) => {
        match $unit {
            Counts::Usual($own) => $what,
            Counts::One($own) => $what,
            Counts::Two($own) => $what,
        }
    };
}

impl DosewardenUnit {
    /// A new unit, its store erased, with a scenario's limits, settings and regulators.
    #[must_use]
    pub fn for_scenario(scenario: &Scenario) -> Self {
        Self::with(scenario, None)
    }

    /// One that is broken on purpose, for a campaign that has to catch it.
    #[must_use]
    pub fn canary(scenario: &Scenario, canary: Canary) -> Self {
        Self::with(scenario, Some(Wrong::new(canary)))
    }

    fn with(scenario: &Scenario, wrong: Option<Wrong>) -> Self {
        if let Some(usual) = fewer::usual(scenario) {
            return Self(Counts::Usual(Box::new(OurUnit::new(
                scenario, usual, wrong,
            ))));
        }
        let settings = scenario.settings;
        Self(match &scenario.limits_of_two {
            None => {
                let all = (scenario.limits.clone(), settings);
                Counts::One(Box::new(OurUnit::new(scenario, all, wrong)))
            }
            Some(limits) => {
                let all = (limits.clone(), settings);
                Counts::Two(Box::new(OurUnit::new(scenario, all, wrong)))
            }
        })
    }

    /// The controller of a site with at most two feeders and one body, while it has power, to look at.
    #[must_use]
    pub fn controller(&self) -> Option<&Controller<USUAL, 1, HOUR, DAY, Standard>> {
        match &self.0 {
            Counts::Usual(own) => own.controller.as_ref(),
            Counts::One(_) | Counts::Two(_) => None,
        }
    }

    /// That of a site with two bodies.
    #[must_use]
    pub fn controller_of_two(&self) -> Option<&Controller<MAX_FEEDERS, 2, HOUR, DAY, Standard>> {
        match &self.0 {
            Counts::Usual(_) | Counts::One(_) => None,
            Counts::Two(own) => own.controller.as_ref(),
        }
    }

    /// The tests of the water that persons entered.
    #[must_use]
    pub fn tests(&self) -> &WaterTests {
        either!(&self.0, own => own.wiring.probes.tests())
    }

    /// The last proof test of an interlock.
    #[must_use]
    pub fn proof(&self, one: Interlock) -> Proof {
        either!(&self.0, own => own.care.tests().proofs().of(one))
    }

    /// A person gives the pool to another board, or takes it back; done in the next tick.
    pub fn hand_over(&mut self, by: Authority, back: bool) {
        either!(&mut self.0, own => own.hand_over(by, back));
    }

    /// What its board has as settings, field by field, without the regulators.
    #[cfg(feature = "tools")]
    pub(crate) fn settings_value(&self) -> serde_json::Value {
        either!(&self.0, own => crate::board::settings_of(&own.image()))
    }

    /// The image of its board, once that was given away. The regulators are not in it: here they stay the
    /// scenario's.
    ///
    /// # Errors
    /// Why there is none.
    pub fn export(&mut self) -> Result<Vec<u8>, BoardError> {
        either!(&mut self.0, own => own.export())
    }

    /// Takes up the image of another board, while it has no power. `now`: the clock, if it is trusted. Why the day
    /// counts as used, if it does.
    ///
    /// # Errors
    /// Why it was refused; the unit keeps what it has then.
    pub fn take_up(
        &mut self,
        image: &[u8],
        by: Authority,
        now: Option<ClockSeconds>,
    ) -> Result<Option<DayUsed>, BoardError> {
        either!(&mut self.0, own => own.take_up(image, by, now))
    }

    /// How often what persons did and found was written since the unit was fitted, that included.
    #[must_use]
    pub fn kept_writes(&self) -> u32 {
        either!(&self.0, own => own.kept.writes())
    }

    /// The flash that holds the record, for faults of it.
    pub fn flash_mut(&mut self) -> &mut TwoCopyStore {
        either!(&mut self.0, own => own.store.flash_mut())
    }
}

impl ControlUnit for DosewardenUnit {
    fn power_up(&mut self) {
        either!(&mut self.0, own => own.power_up());
    }

    fn power_down(&mut self) {
        either!(&mut self.0, own => own.power_down());
    }

    fn time_passes(&mut self, true_ms: u32) {
        either!(&mut self.0, own => own.time_passes(true_ms));
    }

    fn tick(&mut self, dt_ms: u32, senses: &Senses) -> Commands {
        either!(&mut self.0, own => own.tick(dt_ms, senses))
    }

    fn person(&mut self, act: &PersonAct) -> Reply {
        either!(&mut self.0, own => own.person(act))
    }

    fn late_reply(&mut self) -> Option<Reply> {
        either!(&mut self.0, own => own.late_reply())
    }

    fn breaks(&mut self, fault: InsideFault) -> bool {
        either!(&mut self.0, own => own.breaks(fault))
    }

    fn rate_found(&self, feeder: usize) -> Option<RateFound> {
        either!(&self.0, own => own.rate_found(feeder))
    }

    fn stored(&self) -> Option<[Option<&[u8]>; 2]> {
        either!(&self.0, own => own.stored())
    }

    fn told(&self, feeder: usize) -> Option<Told> {
        either!(&self.0, own => own.told(feeder))
    }

    fn interlocks(&self) -> InterlockSet {
        either!(&self.0, own => own.interlocks())
    }

    fn proof_waits_for(&self) -> Option<ProofStep> {
        either!(&self.0, own => own.proof_waits_for())
    }

    fn status(&self) -> UnitStatus {
        either!(&self.0, own => own.status())
    }

    fn refusal_names(&self) -> &[String] {
        either!(&self.0, own => own.refusal_names())
    }

    fn alarm_names(&self) -> &[String] {
        either!(&self.0, own => own.alarm_names())
    }
}
