//! A unit without any guard, for what happens then: it feeds whatever its regulators ask for, with flow or without.
//!
//! It has the same regulators as ours and believes every probe. There is nothing like it outside this simulator.

use dosewarden::guard::units::{Body, Dose, MilliPh, Millis, Millivolts};
use dosewarden::guard::{Closed, FeederSpec, Governor, Mode};
use dosewarden::regulate::{Regulator, Standard, View};

use super::{ControlUnit, FeederStatus, Reply, UnitStatus};
use crate::plant::{Commands, FeederCommand, MAX_FEEDERS, Senses};
use crate::scenario::{PersonAct, Scenario};

const MS_PER_HOUR: u64 = 3_600_000;

/// A feeder and the dose that it is giving.
struct Feeder {
    spec: FeederSpec<1>,
    regulator: Standard,
    dose: Dose,
    left_ms: u64,
    closed: Option<Closed>,
}

impl Feeder {
    fn view(&self, dt_ms: u32, senses: &Senses) -> View {
        let ph = (!senses.ph.open).then(|| (senses.ph.value * 1000.0).round() as i32);
        let orp = (!senses.orp.open).then(|| senses.orp.value.round() as i32);
        let cap = self.spec.bodies.first().map_or(Dose(0), |b| b.cycle_cap);
        View {
            elapsed: Millis(dt_ms),
            product: self.spec.product,
            value: match self.spec.governor {
                Governor::Ph => ph,
                Governor::Orp => orp,
                Governor::TimedShare => None,
            },
            ph: ph.map(MilliPh),
            orp: orp.map(Millivolts),
            in_cycle: self.left_ms > 0,
            closed: self.closed,
            dose_min: self.spec.dose_min,
            cycle_cap: cap,
            rate: self.spec.rate,
            learned_milli: 1000,
        }
    }

    /// Whether it is driven in this tick.
    fn tick(&mut self, dt_ms: u32, senses: &Senses) -> bool {
        let view = self.view(dt_ms, senses);
        let asked = self.regulator.propose(&view);
        self.closed = None;
        if asked.0 == 0 {
            self.left_ms = 0;
            return false;
        }
        if self.left_ms == 0 {
            let rate = u64::from(self.spec.rate.0).max(1);
            self.dose = asked;
            self.left_ms = u64::from(asked.0) * MS_PER_HOUR / rate;
        }
        self.left_ms = self.left_ms.saturating_sub(u64::from(dt_ms));
        if self.left_ms == 0 {
            self.closed = Some(Closed {
                fed: self.dose,
                charged: self.dose,
                full: true,
                body: Body(0),
                mode: Mode::Automatic,
            });
        }
        true
    }
}

/// Regulators and contacts, and nothing between them.
pub struct UnguardedUnit {
    feeders: Vec<Feeder>,
    status: UnitStatus,
}

impl UnguardedUnit {
    /// With a scenario's regulators and rates.
    #[must_use]
    pub fn for_scenario(scenario: &Scenario) -> Self {
        let plans = scenario.feeders.iter().enumerate();
        let feeders = plans.filter_map(|(index, plan)| {
            Some(Feeder {
                spec: *scenario.limits.feeder(index)?,
                regulator: plan.regulator,
                dose: Dose(0),
                left_ms: 0,
                closed: None,
            })
        });
        Self {
            feeders: feeders.take(MAX_FEEDERS).collect(),
            status: UnitStatus::default(),
        }
    }
}

impl ControlUnit for UnguardedUnit {
    fn power_up(&mut self) {}

    fn power_down(&mut self) {
        for feeder in &mut self.feeders {
            feeder.left_ms = 0;
        }
        self.status = UnitStatus::default();
    }

    fn tick(&mut self, dt_ms: u32, senses: &Senses) -> Commands {
        let mut commands = Commands {
            master: true,
            ..Commands::IDLE
        };
        let outputs = commands.feeders.iter_mut().zip(&mut self.status.feeders);
        for (feeder, (command, shown)) in self.feeders.iter_mut().zip(outputs) {
            if feeder.tick(dt_ms, senses) {
                *command = FeederCommand::ON;
            }
            *shown = FeederStatus {
                asked: command.on,
                asked_dose: feeder.dose.0,
                ..FeederStatus::default()
            };
        }
        self.status.ph = Some((senses.ph.value * 1000.0).round() as i32);
        self.status.orp = Some(senses.orp.value.round() as i32);
        commands
    }

    /// There is nothing to release, and nothing that a person could set.
    fn person(&mut self, _act: &PersonAct) -> Reply {
        Reply::Done
    }

    fn status(&self) -> UnitStatus {
        self.status
    }

    fn refusal_names(&self) -> &[String] {
        &[]
    }

    fn alarm_names(&self) -> &[String] {
        &[]
    }
}
