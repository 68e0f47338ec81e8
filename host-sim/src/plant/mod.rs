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
//! Combined chlorine, the filter and air in it, scale that forms or dissolves (the saturation index is told, not acted
//! on), heat of products, and stratification. ORP depends on HOCl alone. Rain is pure water.

mod amounts;
mod basin;
mod build;
mod cell;
mod circulation;
mod fault;
mod feeder;
mod hands;
mod interface;
mod line;
mod lone_probe;
pub(crate) mod noise;
mod probe;
mod relay;
mod sample;
mod spec;
mod store;
#[cfg(any(test, feature = "strategies"))]
pub mod strategies;
#[cfg(test)]
mod tests;
mod validate;
mod valves;

pub use amounts::Amounts;
pub use basin::{BATHER_CHLORINE_G, ORP_RANGE_MV};
pub use cell::Counted;
pub use fault::{FeederFault, PlantFault, ProbeFault, ProbeId, SPIKE_EVERY};
pub use feeder::HYDROGEN_L_PER_MOL;
pub use interface::{
    BodyTruth, Commands, FeederCommand, FeederSense, FeederTruth, LineTruth, MAX_FEEDERS,
    ProbeSense, Product, Senses, Truth,
};
pub use lone_probe::LoneProbe;
pub use spec::{
    BasinSpec, CirculationSpec, CornerSpec, DayWindow, DrumDecay, FeederKind, FeederSpec,
    FrostSpec, MakeUpSpec, PlantError, PlantSpec, PlasterSpec, ProbeSpec, SpeedWindow,
    TemperatureSpec, WaterSpec,
};
pub use store::{TwoCopyStore, WriteStart};
pub use valves::ValvesSpec;

use crate::water::Reagent;
use basin::{Around, Basin};
use circulation::{Circulation, approach};
use fault::Faults;
use feeder::Feeder;
use line::ReturnLine;
use noise::Noise;
use probe::Probe;
use relay::{Interval, Relay};
use sample::{SamplePath, Sampled};
use valves::Valves;

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
    valves: Valves,
    circulation: Circulation,
    line: ReturnLine,
    feeders: Vec<Feeder>,
    master: Relay,
    master_welded: bool,
    master_dead: bool,
    dead_man_bridged: bool,
    /// What pH and ORP probe stand in, out of the water: pH, mV.
    dipped: [Option<f64>; 2],
    bather_factor: f64,
    /// Somebody has switched the pump's timetable off.
    timetable_off: bool,
    /// Share of what left the line that comes to the body.
    kept_share: f64,
    sample_stands: bool,
    /// Something is wrong that is none of the plant.
    faulty_elsewhere: bool,
    since_kick_ms: u32,
    ph_probe: Probe,
    orp_probe: Probe,
    sample: SamplePath,
    sample_share: f64,
    rain_mm_h: f64,
    /// Step length for which the first-order shares hold; 0: none yet.
    shares_dt_ms: u32,
    mains: bool,
    truth: Truth,
    senses: Senses,
}

impl Plant {
    /// Lets `dt_ms` pass, 1 to [`STEP_MAX_MS`] (outside it the nearest), with the controller's
    /// outputs as in `commands` from its start. Allocates nothing.
    pub fn step(&mut self, dt_ms: u32, commands: &Commands) {
        let dt_ms = dt_ms.clamp(1, STEP_MAX_MS);
        self.set_shares(dt_ms);
        self.valves.step(dt_ms);
        self.truth.body = self.valves.body();
        let clock_ms = u64::from(self.spec.start_min) * 60_000 + self.truth.now_ms;
        let minute = minute_of_day(clock_ms);
        let pump_due = self.circulation.due(minute) && !self.timetable_off;
        let pump_powered = (pump_due || self.against_frost(minute)) && self.mains;
        let moved_l = self.circulation.step(dt_ms, pump_powered, &mut self.noise);
        let moving = self.circulation.moving();

        let injected = self.feed(dt_ms, commands, moving);
        let delivered = self
            .line
            .step(injected, moved_l, moving, self.circulation.falling())
            .times(self.kept_share);
        self.truth.line.stream_ph = self.stream_ph(injected, moved_l, moving);
        self.waters(dt_ms, clock_ms, delivered, moving);

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
            stream_ph: t.line.stream_ph,
        };
        if moving && !self.sample_stands {
            let water = &t.bodies[t.body];
            let water = Sampled {
                ph: water.ph,
                orp_mv: water.orp_mv,
            };
            let arrived = self.sample.step(water, moved_l, self.sample_share);
            t.sample_ph = arrived.ph;
            t.sample_orp_mv = arrived.orp_mv;
        }
        self.note_faults();
        self.read_wiring(dt_ms);
    }

    /// Whether the pump runs against frost, timetable or not.
    fn against_frost(&self, minute: u16) -> bool {
        let frost = self.spec.circulation.frost;
        let celsius = self.bodies.get(self.truth.body).map(Basin::temperature_c);
        frost
            .zip(celsius)
            .is_some_and(|(frost, celsius)| frost.runs(minute, celsius))
    }

    /// Each body's part of the step; what left the line comes to the one that the valves select.
    fn waters(&mut self, dt_ms: u32, clock_ms: u64, delivered: line::Product, moving: bool) {
        let strip: f64 = self
            .feeders
            .iter()
            .zip(&self.truth.feeders)
            .map(|(feeder, truth)| feeder.strip_cm_h(truth, dt_ms))
            .sum();
        for (i, body) in self.bodies.iter_mut().enumerate() {
            let here = i == self.truth.body;
            body.step(&Around {
                dt_ms,
                clock_ms,
                came: if here {
                    delivered
                } else {
                    line::Product::default()
                },
                bather_factor: if self.truth.closed {
                    0.0
                } else {
                    self.bather_factor
                },
                strip_cm_h: if here { strip } else { 0.0 },
                moving: moving && here,
                rain_mm_h: self.rain_mm_h,
            });
            self.truth.bodies[i] = *body.truth();
        }
    }

    /// pH of the water just behind the injectors, before the line mixes it with anything else.
    fn stream_ph(&self, injected: line::Product, moved_l: f64, moving: bool) -> Option<f64> {
        if !moving || moved_l <= 0.0 || injected == line::Product::default() {
            return None;
        }
        let main = self.bodies.get(self.truth.body)?.main();
        let mut water = main.water();
        water.add(Reagent::HYDROCHLORIC, injected.acid / moved_l);
        water.add(Reagent::HYPOCHLORITE, injected.chlorine / moved_l);
        water.add(Reagent::HYDROXIDE, injected.alkali / moved_l);
        Some(main.equilibrium().solve_from(&water, main.solved()).ph)
    }

    /// Drives, then feeds, all feeders; gives the moles that went into the line.
    fn feed(&mut self, dt_ms: u32, commands: &Commands, moving: bool) -> line::Product {
        let allowed_ms = self.allowed_ms(dt_ms, commands);
        let series = self.series_contact(dt_ms, commands, allowed_ms);
        let mut injected = line::Product::default();
        for (i, feeder) in self.feeders.iter_mut().enumerate() {
            let on = feeder.drive(commands.feeders[i], allowed_ms, dt_ms, series);
            let out = feeder.feed(on, dt_ms, moving, &mut self.truth.feeders[i]);
            injected.add(out);
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
        let [ph, orp] = self.dipped;
        let (ph, orp) = (ph.unwrap_or(t.sample_ph), orp.unwrap_or(t.sample_orp_mv));
        s.ph = self.ph_probe.step(dt_ms, ph, &mut self.noise);
        s.orp = self.orp_probe.step(dt_ms, orp, &mut self.noise);
        let cell_flow = self.circulation.true_switch();
        for (i, feeder) in self.feeders.iter().enumerate() {
            s.feeders[i] = feeder.sense(&t.feeders[i], dt_ms, cell_flow);
        }
        let clock_ms = u64::from(self.spec.start_min) * 60_000 + t.now_ms;
        s.clock_minute = minute_of_day(clock_ms);
        s.clock_s = u32::try_from(clock_ms / 1000).unwrap_or(u32::MAX);
        s.body = self.valves.seen();
        s.water_c = t.bodies.get(t.body).map_or(25.0, |one| one.temperature_c);
        s.mains = self.mains;
    }

    fn note_faults(&mut self) {
        let mut faulty = self.faulty_elsewhere || !self.faults.active().is_empty();
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

    /// Somebody dips a probe into a solution of this pH or mV; `None`: back into the water.
    pub fn dip(&mut self, probe: ProbeId, into: Option<f64>) {
        let [ph, orp] = &mut self.dipped;
        match probe {
            ProbeId::Ph => *ph = into,
            ProbeId::Orp => *orp = into,
        }
    }

    /// What the controller's wiring shows after the last step.
    #[must_use]
    pub fn senses(&self) -> Senses {
        self.senses
    }

    /// The same, not copied.
    pub(crate) fn wiring(&self) -> &Senses {
        &self.senses
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
}

fn minute_of_day(clock_ms: u64) -> u16 {
    (clock_ms / 60_000 % 1440) as u16
}
