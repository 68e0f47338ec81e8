//! A simulated pool: water, circulation, feeders, probes, power and flash, with its own truth.
//!
//! Invariant: nothing here knows the controller. The plant takes [`Commands`], shows what the
//! wiring would show ([`Senses`]), and keeps what really happened ([`Truth`]). The same
//! specification, seed and commands give the same bits on every platform: transcendental functions
//! come from the crate `libm`, chance from one seed.
//!
//! ```
//! use dosewarden_sim::plant::{Commands, FeederCommand, Plant, PlantSpec};
//!
//! let mut spec = PlantSpec::default();
//! spec.start_min = 9 * 60; // the circulation pump is due from 8:00
//! let mut plant = Plant::new(spec, 42)?;
//! for _ in 0..60 {
//!     plant.step(1000, &Commands::IDLE);
//! }
//! assert!(plant.senses().flow_switch);
//!
//! let mut feed_acid = Commands { master: true, ..Commands::IDLE };
//! feed_acid.feeders[0] = FeederCommand::ON;
//! for _ in 0..60 {
//!     plant.step(1000, &feed_acid);
//! }
//! // 60 mL/min for a minute, less the 30 ms in which the contact pulled in.
//! assert!((plant.truth().feeders[0].fed_total - 59_970.0).abs() < 1e-6);
//! assert_eq!(plant.truth().feeders[0].fed_standing_total, 0.0);
//! # Ok::<(), dosewarden_sim::plant::PlantError>(())
//! ```
//!
//! # What it leaves out
//! Ion pairs, cyanurate equilibria, calcium, plaster, a slow corner of the basin, temperature over
//! the day, pump speeds, and air in the filter. A body's water is well mixed whether it circulates
//! or not. ORP depends on HOCl alone.

mod basin;
pub mod chemistry;
mod circulation;
mod fault;
mod feeder;
mod interface;
mod line;
mod lone_probe;
mod noise;
mod probe;
mod relay;
mod spec;
mod store;
#[cfg(any(test, feature = "strategies"))]
pub mod strategies;
#[cfg(test)]
mod tests;
mod validate;

pub use basin::{BATHER_CHLORINE_G, ORP_RANGE_MV};
pub use fault::{FeederFault, PlantFault, ProbeFault, ProbeId, SPIKE_EVERY};
pub use interface::{
    BodyTruth, Commands, FeederCommand, FeederSense, FeederTruth, LineTruth, MAX_FEEDERS,
    ProbeSense, Product, Senses, Truth,
};
pub use lone_probe::LoneProbe;
pub use spec::{
    BasinSpec, CirculationSpec, DayWindow, FeederKind, FeederSpec, PlantError, PlantSpec, ProbeSpec,
};
pub use store::{TwoCopyStore, WriteStart};

use basin::Basin;
use circulation::{Circulation, approach};
use fault::Faults;
use feeder::Feeder;
use line::ReturnLine;
use noise::Noise;
use probe::Probe;
use relay::{Interval, Relay};

/// Pull-in and drop-out time of the master contact, ms.
pub const MASTER_DELAY_MS: u32 = 20;

/// Longest step that [`Plant::step`] takes, ms.
pub const STEP_MAX_MS: u32 = 60_000;

/// A simulated pool.
#[derive(Clone, Debug)]
pub struct Plant {
    spec: PlantSpec,
    noise: Noise,
    faults: Faults,
    bodies: Vec<Basin>,
    circulation: Circulation,
    line: ReturnLine,
    feeders: Vec<Feeder>,
    master: Relay,
    master_welded: bool,
    master_dead: bool,
    dead_man_bridged: bool,
    bather_factor: f64,
    since_kick_ms: u32,
    ph_probe: Probe,
    orp_probe: Probe,
    sample_share: f64,
    /// Step length for which the first-order shares hold; 0: none yet.
    shares_dt_ms: u32,
    mains: bool,
    truth: Truth,
    senses: Senses,
}

impl Plant {
    /// A plant at rest, its pump off and its drums as specified.
    ///
    /// # Errors
    /// What [`PlantSpec::validate`] finds.
    pub fn new(spec: PlantSpec, seed: u64) -> Result<Self, PlantError> {
        spec.validate()?;
        let bodies: Vec<Basin> = spec.bodies.iter().map(Basin::new).collect();
        let feeders: Vec<Feeder> = spec.feeders.iter().map(Feeder::new).collect();
        let water = bodies.first().map(|b| *b.truth()).unwrap_or_default();
        let celsius = bodies.first().map_or(25.0, Basin::temperature_c);
        let nernst = chemistry::nernst_mv_per_ph(celsius);
        let truth = Truth {
            now_ms: 0,
            dt_ms: 0,
            powered: false,
            mains: true,
            pump_due: false,
            pump_running: false,
            flow_l_min: 0.0,
            water_moving: false,
            body: 0,
            sample_ph: water.ph,
            sample_orp_mv: water.orp_mv,
            dead_man_tripped: spec.dead_man_ms.is_some(),
            master_closed: false,
            faulty: false,
            line: LineTruth::default(),
            bodies: bodies.iter().map(|b| *b.truth()).collect(),
            feeders: feeders.iter().map(Feeder::truth).collect(),
        };
        let mut plant = Self {
            noise: Noise::new(seed),
            faults: Faults::default(),
            circulation: Circulation::new(&spec.circulation),
            line: ReturnLine::new(spec.circulation.line_volume_l),
            master: Relay::default(),
            master_welded: false,
            master_dead: false,
            dead_man_bridged: false,
            bather_factor: 1.0,
            since_kick_ms: u32::MAX,
            ph_probe: Probe::ph(&spec.ph_probe, water.ph, nernst),
            orp_probe: Probe::orp(&spec.orp_probe, water.orp_mv),
            sample_share: 1.0,
            shares_dt_ms: 0,
            mains: true,
            senses: Senses {
                flow_switch: false,
                flow_ml_s: spec.circulation.flow_meter.then_some(0.0),
                pump_contact: spec.circulation.pump_contact.then_some(false),
                ph: ProbeSense::default(),
                orp: ProbeSense::default(),
                feeders: [FeederSense::default(); MAX_FEEDERS],
                clock_minute: spec.start_min,
                body: 0,
                mains: true,
            },
            truth,
            bodies,
            feeders,
            spec,
        };
        plant.read_wiring(0);
        Ok(plant)
    }

    /// Lets `dt_ms` pass, 1 to [`STEP_MAX_MS`] (outside it the nearest), with the controller's
    /// outputs as in `commands` from its start. Allocates nothing.
    pub fn step(&mut self, dt_ms: u32, commands: &Commands) {
        let dt_ms = dt_ms.clamp(1, STEP_MAX_MS);
        self.set_shares(dt_ms);
        let clock_ms = u64::from(self.spec.start_min) * 60_000 + self.truth.now_ms;
        let pump_due = self.circulation.due(minute_of_day(clock_ms));
        let pump_powered = pump_due && self.mains;
        let moved_l = self.circulation.step(dt_ms, pump_powered, &mut self.noise);
        let moving = self.circulation.moving();

        let injected = self.feed(dt_ms, commands, moving);
        let delivered = self
            .line
            .step(injected, moved_l, moving, self.circulation.falling());
        for (i, body) in self.bodies.iter_mut().enumerate() {
            let came = if i == self.truth.body {
                delivered
            } else {
                line::Product::default()
            };
            body.step(dt_ms, clock_ms, came, self.bather_factor);
            self.truth.bodies[i] = *body.truth();
        }

        let t = &mut self.truth;
        t.now_ms += u64::from(dt_ms);
        t.dt_ms = dt_ms;
        t.powered = commands.powered;
        t.mains = self.mains;
        t.pump_due = pump_due;
        t.pump_running = self.circulation.running();
        t.flow_l_min = self.circulation.flow_l_min();
        t.water_moving = moving;
        let standing = self.line.contents();
        t.line = LineTruth {
            acid_mol: standing.acid,
            chlorine_mol: standing.chlorine,
            gas_potential_g: self.line.gas_potential_g(),
            gas_released_g: self.line.gas_released_g(),
        };
        if moving {
            let water = &t.bodies[t.body];
            t.sample_ph += (water.ph - t.sample_ph) * self.sample_share;
            t.sample_orp_mv += (water.orp_mv - t.sample_orp_mv) * self.sample_share;
        }
        self.note_faults();
        self.read_wiring(dt_ms);
    }

    /// Drives, then feeds, all feeders; gives the moles that went into the line.
    fn feed(&mut self, dt_ms: u32, commands: &Commands, moving: bool) -> line::Product {
        let allowed_ms = self.allowed_ms(dt_ms, commands);
        let series = self.series_contact(dt_ms, commands, allowed_ms);
        let mut injected = line::Product::default();
        for (i, feeder) in self.feeders.iter_mut().enumerate() {
            let on = feeder.drive(commands.feeders[i], allowed_ms, dt_ms, series);
            let out = feeder.feed(on, dt_ms, moving, &mut self.truth.feeders[i]);
            injected.acid += out.acid;
            injected.chlorine += out.chlorine;
        }
        injected
    }

    /// How long from the start of the step the controller's outputs count: not at all without
    /// supply (pull-downs), and no longer than the hardware dead man lets them.
    fn allowed_ms(&mut self, dt_ms: u32, commands: &Commands) -> u32 {
        if commands.powered && commands.kick {
            self.since_kick_ms = 0;
        }
        let left = match self.spec.dead_man_ms {
            Some(limit) if !self.dead_man_bridged => limit.saturating_sub(self.since_kick_ms),
            _ => dt_ms,
        };
        self.since_kick_ms = self.since_kick_ms.saturating_add(dt_ms);
        self.truth.dead_man_tripped = left < dt_ms;
        if commands.powered { left.min(dt_ms) } else { 0 }
    }

    /// When in the step the feeders' common supply is there: mains and master contact.
    fn series_contact(&mut self, dt_ms: u32, commands: &Commands, allowed_ms: u32) -> Interval {
        let asked = if commands.master { allowed_ms } else { 0 };
        let mut closed = self
            .master
            .step(asked, dt_ms, MASTER_DELAY_MS, MASTER_DELAY_MS);
        if self.master_dead {
            closed = Interval::EMPTY;
        }
        if !self.spec.master || self.master_welded {
            closed = Interval::whole(dt_ms);
        }
        self.truth.master_closed = closed.len() > 0 && closed.end == dt_ms;
        if self.mains { closed } else { Interval::EMPTY }
    }

    fn read_wiring(&mut self, dt_ms: u32) {
        let t = &self.truth;
        let s = &mut self.senses;
        s.flow_switch = self.circulation.flow_switch();
        s.flow_ml_s = self.circulation.flow_ml_s();
        s.pump_contact = self.circulation.pump_contact();
        s.ph = self.ph_probe.step(dt_ms, t.sample_ph, &mut self.noise);
        s.orp = self.orp_probe.step(dt_ms, t.sample_orp_mv, &mut self.noise);
        let cell_flow = self.circulation.true_switch();
        for (i, feeder) in self.feeders.iter().enumerate() {
            s.feeders[i] = feeder.sense(&t.feeders[i], dt_ms, cell_flow);
        }
        s.clock_minute = minute_of_day(u64::from(self.spec.start_min) * 60_000 + t.now_ms);
        s.body = t.body;
        s.mains = self.mains;
    }

    fn note_faults(&mut self) {
        let mut faulty = !self.faults.active().is_empty();
        for (feeder, truth) in self.feeders.iter().zip(&self.truth.feeders) {
            faulty |= feeder.is_empty(truth);
        }
        self.truth.faulty = faulty;
    }

    fn set_shares(&mut self, dt_ms: u32) {
        if self.shares_dt_ms == dt_ms {
            return;
        }
        self.shares_dt_ms = dt_ms;
        self.circulation.set_step(dt_ms);
        self.ph_probe.set_step(dt_ms);
        self.orp_probe.set_step(dt_ms);
        self.sample_share = approach(dt_ms, self.spec.sample_lag_s);
    }

    /// What the controller's wiring shows after the last step.
    #[must_use]
    pub fn senses(&self) -> Senses {
        self.senses
    }

    /// What is really so after the last step.
    #[must_use]
    pub fn truth(&self) -> &Truth {
        &self.truth
    }

    /// What the plant was built from.
    #[must_use]
    pub fn spec(&self) -> &PlantSpec {
        &self.spec
    }

    /// Mains for the pump and the feeders come or go.
    pub fn set_mains(&mut self, on: bool) {
        self.mains = on;
    }

    /// The valves select another body; one that is not there changes nothing.
    pub fn set_body(&mut self, body: usize) {
        if body < self.bodies.len() {
            self.truth.body = body;
        }
    }

    /// A person refills a feeder's drum to its specified stock.
    pub fn refill(&mut self, feeder: usize) {
        if let (Some(f), Some(t)) = (self.feeders.get(feeder), self.truth.feeders.get_mut(feeder)) {
            t.drum = f.full_drum();
        }
    }

    /// A fault begins; one of the same kind and part is replaced.
    pub fn set_fault(&mut self, fault: PlantFault) {
        self.faults.set(fault);
        self.spread_faults();
    }

    /// A fault ends, whatever its size was.
    pub fn clear_fault(&mut self, fault: PlantFault) {
        self.faults.clear(fault);
        self.spread_faults();
    }

    /// All faults end.
    pub fn clear_faults(&mut self) {
        self.faults.clear_all();
        self.spread_faults();
    }

    /// Faults that stand now.
    #[must_use]
    pub fn faults(&self) -> &[PlantFault] {
        self.faults.active()
    }

    /// Tells each part what is wrong with it.
    fn spread_faults(&mut self) {
        let active = self.faults.active();
        self.circulation.set_faults(active);
        self.ph_probe.set_faults(active);
        self.orp_probe.set_faults(active);
        for (i, feeder) in self.feeders.iter_mut().enumerate() {
            feeder.set_faults(i, active);
        }
        self.master_welded = active.contains(&PlantFault::MasterWelded);
        self.master_dead = active.contains(&PlantFault::MasterNeverCloses);
        self.dead_man_bridged = active.contains(&PlantFault::DeadManBridged);
        self.bather_factor = active
            .iter()
            .find_map(|f| match f {
                PlantFault::BatherLoad(factor) => Some(factor.max(0.0)),
                _ => None,
            })
            .unwrap_or(1.0);
        // A sluggish probe has another share.
        self.shares_dt_ms = 0;
    }
}

fn minute_of_day(clock_ms: u64) -> u16 {
    (clock_ms / 60_000 % 1440) as u16
}
