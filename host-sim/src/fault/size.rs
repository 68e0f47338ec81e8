//! How large a fault is, in figures that a bound can be worked out from.

use super::{Chosen, Lasts, Step};
use crate::plant::{FeederFault, PlantFault};
use crate::scenario::{Act, Scenario};
use crate::unit::{InsideFault, UnitFault};

impl Chosen {
    /// The largest of what a figure gives for each of its steps.
    fn largest(&self, scenario: &Scenario, least: f64, of: impl Fn(&Act) -> Option<f64>) -> f64 {
        let steps = self.made(scenario).map_or(Vec::new(), |made| made.steps);
        let values = steps.iter().filter_map(|step: &Step| of(&step.act));
        values.fold(least, f64::max)
    }

    /// How many times as much as it should the feeders may give for it, or the caps be, 1 and up.
    #[must_use]
    pub fn times(&self, scenario: &Scenario) -> f64 {
        self.largest(scenario, self.times_caps(scenario), |act| match act {
            Act::Fault {
                fault: PlantFault::Feeder(_, FeederFault::Rate(x) | FeederFault::Strength(x)),
                ..
            } => Some(*x),
            _ => None,
        })
    }

    /// How many times as high as they should the caps are for it, 1 and up.
    #[must_use]
    pub fn times_caps(&self, scenario: &Scenario) -> f64 {
        self.largest(scenario, 1.0, |act| match act {
            Act::Inside(InsideFault::Caps(percent)) => Some(f64::from(*percent) / 100.0),
            _ => None,
        })
    }

    /// How many times as long as it should something may take by the unit's time, or be short by, 1 and up.
    #[must_use]
    pub fn clock_times(&self, scenario: &Scenario) -> f64 {
        self.largest(scenario, 1.0, |act| match act {
            Act::Unit {
                fault: UnitFault::CounterRate(rate),
                ..
            } => Some(rate.max(1.0 / rate)),
            _ => None,
        })
    }

    /// Whether the unit's time runs slower than true time.
    #[must_use]
    pub fn is_clock_slow(&self, scenario: &Scenario) -> bool {
        let rate = self.largest(scenario, 0.0, |act| match act {
            Act::Unit {
                fault: UnitFault::CounterRate(rate),
                ..
            } => Some(*rate),
            _ => None,
        });
        rate > 0.0 && rate < 1.0
    }

    /// How much later than it should a command may reach a drive, ms.
    #[must_use]
    pub fn late_ms(&self, scenario: &Scenario) -> f64 {
        let tick_ms = f64::from(scenario.tick_ms);
        self.largest(scenario, 0.0, |act| match act {
            Act::Fault {
                fault: PlantFault::Feeder(_, FeederFault::LateOff(ms)),
                ..
            } => Some(f64::from(*ms)),
            Act::Unit { fault, .. } => match fault {
                UnitFault::TickLate(ms) => Some(f64::from(*ms)),
                UnitFault::TickSkipped(_) | UnitFault::CommandLate => Some(tick_ms),
                // Its last kick came up to a tick before.
                UnitFault::Hung => Some(f64::from(scenario.plant.dead_man_ms?) + tick_ms),
                _ => None,
            },
            _ => None,
        })
    }

    /// How long it stands, ms; `None`: to the end of the run.
    #[must_use]
    pub fn stands_ms(&self, scenario: &Scenario) -> Option<u64> {
        let own = |step: &Step| match step.act {
            Act::Fault { for_ms, .. } | Act::Unit { for_ms, .. } => for_ms,
            _ => None,
        };
        let steps = self.made(scenario).map_or(Vec::new(), |made| made.steps);
        let usual = match self.fault.lasts {
            Lasts::For(ms) => Some(ms),
            Lasts::ToTheEnd | Lasts::Once => steps.iter().filter_map(own).max(),
        };
        self.for_ms.or(usual)
    }

    /// Whether it leaves nothing that tells standing water from moving water: the pump's contact lies too, or is not there.
    #[must_use]
    pub fn leaves_no_witness(&self, scenario: &Scenario) -> bool {
        let has_contact = scenario.plant.circulation.pump_contact;
        let lies = |act: &Act| match act {
            Act::Fault {
                fault: PlantFault::PumpContactStuckOn,
                ..
            } => Some(1.0),
            _ => None,
        };
        !has_contact || self.largest(scenario, 0.0, lies) > 0.0
    }

    /// What leaks through a stopped feeder for it, mL/h.
    #[must_use]
    pub fn leak_ml_h(&self, scenario: &Scenario) -> f64 {
        self.largest(scenario, 0.0, |act| match act {
            Act::Fault {
                fault: PlantFault::Feeder(_, FeederFault::Siphon(ml_h)),
                ..
            } => Some(*ml_h),
            _ => None,
        })
    }
}
