//! A probe without a pool: for checks that need years of it.

use super::fault::{PlantFault, ProbeFault, ProbeId};
use super::interface::ProbeSense;
use super::noise::Noise;
use super::probe::Probe;
use super::spec::ProbeSpec;
use crate::water::nernst_mv_per_ph;

/// The plant's probe in water that its holder makes up. The same specification, seed, faults and
/// water give the same bits.
///
/// ```
/// use dosewarden_sim::plant::{LoneProbe, ProbeFault, ProbeId, ProbeSpec};
/// let spec = ProbeSpec { lag_s: 15.0, noise: 0.005, offset: 0.0 };
/// let mut probe = LoneProbe::new(ProbeId::Ph, &spec, 7.5, 42);
/// assert!((probe.step(1000, 7.5).value - 7.5).abs() < 0.02);
/// probe.set_fault(ProbeFault::Shorted);
/// assert_eq!(probe.step(1000, 7.5).value, 7.0);
/// ```
#[derive(Clone, Debug)]
pub struct LoneProbe {
    id: ProbeId,
    probe: Probe,
    noise: Noise,
    faults: Vec<PlantFault>,
    dt_ms: u32,
}

impl LoneProbe {
    /// In water of this pH or ORP in mV, at 25 C, with its lag settled.
    #[must_use]
    pub fn new(id: ProbeId, spec: &ProbeSpec, water: f64, seed: u64) -> Self {
        let probe = match id {
            ProbeId::Ph => Probe::ph(spec, water, nernst_mv_per_ph(25.0)),
            ProbeId::Orp => Probe::orp(spec, water),
        };
        Self {
            id,
            probe,
            noise: Noise::new(seed),
            faults: Vec::new(),
            dt_ms: 0,
        }
    }

    /// Another fault begins.
    pub fn set_fault(&mut self, fault: ProbeFault) {
        self.faults.push(PlantFault::Probe(self.id, fault));
        self.probe.set_faults(&self.faults);
        self.dt_ms = 0;
    }

    /// One step in water of this pH or ORP; gives what the input shows.
    pub fn step(&mut self, dt_ms: u32, water: f64) -> ProbeSense {
        if dt_ms != self.dt_ms {
            self.probe.set_step(dt_ms);
            self.dt_ms = dt_ms;
        }
        self.probe.step(dt_ms, water, &mut self.noise)
    }
}
