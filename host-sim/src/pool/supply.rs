//! Power of the unit and of the plant: cuts, and a unit that has power only with the pump.

use super::{LogWhat, SimPool};
use crate::plant::DayWindow;
use crate::scenario::Scenario;
use crate::unit::ControlUnit;

/// Until when power is away, ms from midnight before day 1.
#[derive(Clone, Debug)]
pub(super) struct Cuts {
    pub(super) controller_until: u64,
    pub(super) pump_until: u64,
    /// When the unit has power, where it has it only with the pump.
    with_pump: Option<Vec<DayWindow>>,
}

impl Cuts {
    pub(super) fn of(scenario: &Scenario) -> Self {
        let windows = || scenario.plant.circulation.timetable.clone();
        Self {
            controller_until: 0,
            pump_until: 0,
            with_pump: scenario.supply.with_pump.then(windows),
        }
    }

    /// The unit's supply is on, but for a cut.
    fn is_fed(&self, clock_ms: u64) -> bool {
        let minute = (clock_ms / 60_000 % 1440) as u16;
        let windows = self.with_pump.as_ref();
        windows.is_none_or(|all| all.iter().any(|window| window.contains(minute)))
    }
}

impl<U: ControlUnit> SimPool<U> {
    pub(super) fn switch_power(&mut self, clock_ms: u64) {
        let mains = clock_ms >= self.cuts.pump_until;
        let powered = clock_ms >= self.cuts.controller_until && self.cuts.is_fed(clock_ms);
        let was_cut = self.cuts.controller_until > 0 || self.cuts.pump_until > 0;
        let back = (mains && !self.mains) || (powered && !self.powered);
        if was_cut && back {
            self.log.push(clock_ms, LogWhat::PowerBack);
        }
        if mains != self.mains {
            self.plant.set_mains(mains);
        }
        if powered && !self.powered {
            self.unit.power_up();
        } else if !powered && self.powered {
            self.unit.power_down();
        }
        self.mains = mains;
        self.powered = powered;
    }
}
