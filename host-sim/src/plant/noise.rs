//! The plant's only source of chance: one generator from one seed.

use rand_pcg::Pcg64Mcg;
use rand_pcg::rand_core::{Rng, SeedableRng};

/// Reproducible noise; the same seed gives the same bits on every platform.
#[derive(Clone, Debug)]
pub(crate) struct Noise {
    rng: Pcg64Mcg,
}

impl Noise {
    pub(crate) fn new(seed: u64) -> Self {
        Self {
            rng: Pcg64Mcg::seed_from_u64(seed),
        }
    }

    /// Near-normal noise of mean 0 and standard deviation 1, never beyond 3.47.
    ///
    /// The sum of four even parts of one draw: bounded, and no logarithm to differ in the last bit.
    pub(crate) fn normal(&mut self) -> f64 {
        const HALF_SUM: f64 = 2.0 * 65_535.0;
        const SQRT_3: f64 = 1.732_050_807_568_877_2;
        let draw = self.rng.next_u64();
        let sum = (draw & 0xffff) + (draw >> 16 & 0xffff) + (draw >> 32 & 0xffff) + (draw >> 48);
        // Four even parts of width 1 have a variance of 4/12.
        (sum as f64 - HALF_SUM) / 65_535.0 * SQRT_3
    }

    /// True with a chance of `percent` in a hundred.
    pub(crate) fn chance(&mut self, percent: u32) -> bool {
        u64::from(self.rng.next_u32()) * 100 < u64::from(percent) << 32
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn mean_and_spread_are_as_stated() {
        let mut noise = Noise::new(7);
        let draws: Vec<f64> = (0..40_000).map(|_| noise.normal()).collect();
        let mean = draws.iter().sum::<f64>() / draws.len() as f64;
        let variance = draws.iter().map(|x| x * x).sum::<f64>() / draws.len() as f64;
        assert!(mean.abs() < 0.02, "{mean}");
        assert!((variance - 1.0).abs() < 0.03, "{variance}");
        assert!(draws.iter().all(|x| x.abs() < 3.47));
    }

    #[test]
    fn one_seed_one_sequence() {
        let take = |seed| {
            let mut noise = Noise::new(seed);
            (0..50)
                .map(|_| noise.normal().to_bits())
                .collect::<Vec<_>>()
        };
        assert_eq!(take(1), take(1));
        assert_ne!(take(1), take(2));
    }
}
