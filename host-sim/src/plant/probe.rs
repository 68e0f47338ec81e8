//! A probe in the sample cell: first-order lag, offset, noise, and what can go wrong with it.

use super::circulation::approach;
use super::fault::{PlantFault, ProbeFault, ProbeId, SPIKE_EVERY};
use super::interface::ProbeSense;
use super::noise::Noise;
use super::spec::ProbeSpec;

const DAY_MS: f64 = 86_400_000.0;

#[derive(Clone, Debug)]
struct Upset {
    open: bool,
    shorted: bool,
    frozen: bool,
    drift_per_day: f64,
    offset: f64,
    noise: f64,
    slope: f64,
    lag_factor: f64,
    spikes: f64,
    is_dry: bool,
}

impl Default for Upset {
    fn default() -> Self {
        Self {
            open: false,
            shorted: false,
            frozen: false,
            drift_per_day: 0.0,
            offset: 0.0,
            noise: 0.0,
            slope: 1.0,
            lag_factor: 1.0,
            spikes: 0.0,
            is_dry: false,
        }
    }
}

/// A probe. `zero` is the value at 0 mV and `mv_per_unit` its slope there.
#[derive(Clone, Debug)]
pub(super) struct Probe {
    spec: ProbeSpec,
    id: ProbeId,
    zero: f64,
    mv_per_unit: f64,
    upset: Upset,
    share: f64,
    lagged: f64,
    drifted: f64,
    steps: u32,
    /// What it showed last.
    value: f64,
}

impl Probe {
    /// A pH probe in water of `ph`, with the Nernst slope in mV per pH.
    pub(super) fn ph(spec: &ProbeSpec, ph: f64, nernst: f64) -> Self {
        Self::new(spec, ProbeId::Ph, 7.0, -nernst, ph)
    }

    /// An ORP probe in water of `mv`.
    pub(super) fn orp(spec: &ProbeSpec, mv: f64) -> Self {
        Self::new(spec, ProbeId::Orp, 0.0, 1.0, mv)
    }

    fn new(spec: &ProbeSpec, id: ProbeId, zero: f64, mv_per_unit: f64, water: f64) -> Self {
        let value = water + spec.offset;
        Self {
            spec: spec.clone(),
            id,
            zero,
            mv_per_unit,
            upset: Upset::default(),
            share: 1.0,
            lagged: water,
            drifted: 0.0,
            steps: 0,
            value,
        }
    }

    pub(super) fn set_faults(&mut self, active: &[PlantFault]) {
        let mut upset = Upset::default();
        for fault in active {
            let PlantFault::Probe(id, fault) = *fault else {
                continue;
            };
            if id != self.id {
                continue;
            }
            match fault {
                ProbeFault::Open => upset.open = true,
                ProbeFault::Shorted => upset.shorted = true,
                ProbeFault::Frozen => upset.frozen = true,
                ProbeFault::Drift(per_day) => upset.drift_per_day = per_day,
                ProbeFault::Offset(step) => upset.offset = step,
                ProbeFault::Noise(spread) => upset.noise = spread,
                ProbeFault::Slope(factor) => upset.slope = factor,
                ProbeFault::Sluggish(factor) => upset.lag_factor = factor.max(1.0),
                ProbeFault::Spikes(size) => upset.spikes = size,
                ProbeFault::Dried => upset.is_dry = true,
            }
        }
        if upset.drift_per_day == 0.0 {
            self.drifted = 0.0;
        }
        if upset.is_dry {
            upset.slope *= 0.5;
            upset.lag_factor *= 20.0;
            upset.noise += self.spec.noise;
        }
        self.upset = upset;
    }

    pub(super) fn set_step(&mut self, dt_ms: u32) {
        self.share = approach(dt_ms, self.spec.lag_s * self.upset.lag_factor);
    }

    /// One step in water of `water`; gives what the input shows.
    #[inline]
    pub(super) fn step(&mut self, dt_ms: u32, water: f64, noise: &mut Noise) -> ProbeSense {
        self.pass(dt_ms, water, noise);
        ProbeSense {
            millivolts: (self.value - self.zero) * self.mv_per_unit,
            value: self.value,
            open: self.upset.open,
            is_dry: self.upset.is_dry,
            age_ms: 0,
        }
    }

    fn pass(&mut self, dt_ms: u32, water: f64, noise: &mut Noise) {
        self.lagged += (water - self.lagged) * self.share;
        self.drifted += self.upset.drift_per_day * f64::from(dt_ms) / DAY_MS;
        // One draw a step whatever the faults, so that a fault does not move the others' noise.
        let draw = noise.normal();
        if self.upset.frozen {
            return;
        }
        let about_zero = (self.lagged - self.zero) * self.upset.slope;
        let errors = self.spec.offset + self.upset.offset + self.drifted;
        let spread = self.spec.noise + self.upset.noise;
        let mut value = self.zero + about_zero + errors + spread * draw;
        self.steps = self.steps.wrapping_add(1);
        if self.steps.is_multiple_of(SPIKE_EVERY) {
            value += self.upset.spikes;
        }
        if self.upset.shorted {
            value = self.zero;
        }
        self.value = value;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const CLEAN: ProbeSpec = ProbeSpec {
        lag_s: 10.0,
        noise: 0.0,
        offset: 0.0,
    };

    fn settled(fault: Option<ProbeFault>, water: f64) -> ProbeSense {
        let mut probe = Probe::ph(&CLEAN, 7.5, 59.16);
        let mut noise = Noise::new(1);
        probe.set_faults(
            &fault
                .map(|f| PlantFault::Probe(ProbeId::Ph, f))
                .into_iter()
                .collect::<Vec<_>>(),
        );
        probe.set_step(1000);
        for _ in 0..600 {
            probe.step(1000, water, &mut noise);
        }
        probe.step(1000, water, &mut noise)
    }

    #[test]
    fn lags_first_order() {
        let mut probe = Probe::ph(&CLEAN, 7.0, 59.16);
        let mut noise = Noise::new(1);
        probe.set_step(10_000);
        let sense = probe.step(10_000, 8.0, &mut noise);
        // One time constant: 1 - 1/e of the step.
        assert!((sense.value - 7.632_12).abs() < 1e-5);
        assert!((sense.millivolts + 59.16 * 0.632_12).abs() < 1e-3);
    }

    #[test]
    fn faults_of_a_probe() {
        assert!((settled(None, 7.8).value - 7.8).abs() < 1e-9);
        assert!(settled(Some(ProbeFault::Open), 7.8).open);
        assert_eq!(settled(Some(ProbeFault::Shorted), 7.8).value, 7.0);
        assert_eq!(settled(Some(ProbeFault::Shorted), 7.8).millivolts, 0.0);
        assert_eq!(settled(Some(ProbeFault::Frozen), 7.8).value, 7.5);
        assert!((settled(Some(ProbeFault::Offset(-0.3)), 7.8).value - 7.5).abs() < 1e-9);
        assert!((settled(Some(ProbeFault::Slope(0.5)), 7.8).value - 7.4).abs() < 1e-9);
        let drifted = settled(Some(ProbeFault::Drift(1.44)), 7.8).value - 7.8;
        assert!((drifted - 601.0 / 60_000.0).abs() < 1e-9);
        let dried = settled(Some(ProbeFault::Dried), 7.8);
        // Three time constants of 200 s, half the slope.
        assert!(
            dried.is_dry && (dried.value - 7.385).abs() < 0.01,
            "{dried:?}"
        );
    }

    #[test]
    fn spikes_are_one_sample_long() {
        let mut probe = Probe::ph(&CLEAN, 7.5, 59.16);
        probe.set_faults(&[PlantFault::Probe(ProbeId::Ph, ProbeFault::Spikes(2.0))]);
        probe.set_step(1000);
        let mut noise = Noise::new(1);
        let senses: Vec<f64> = (0..970)
            .map(|_| probe.step(1000, 7.5, &mut noise).value)
            .collect();
        assert_eq!(senses.iter().filter(|value| **value == 9.5).count(), 10);
        assert_eq!(senses.iter().filter(|value| **value == 7.5).count(), 960);
    }

    #[test]
    fn a_fault_of_the_other_probe_does_nothing() {
        let mut probe = Probe::orp(&CLEAN, 700.0);
        probe.set_faults(&[PlantFault::Probe(ProbeId::Ph, ProbeFault::Shorted)]);
        probe.set_step(1000);
        let sense = probe.step(1000, 700.0, &mut Noise::new(1));
        assert_eq!((sense.value, sense.millivolts), (700.0, 700.0));
    }
}
