//! Chance, repeatable: the same seed draws the same figures on every machine.
//!
//! Xorshift with a multiplied output (Marsaglia 2003, "Xorshift RNGs", J. Stat. Software 8(14);
//! Vigna 2016, ACM TOMS 42(4)). Integers of a fixed width only, so no machine can differ.

/// Draws figures from a seed.
#[derive(Clone, Debug)]
pub struct Draw(u64);

impl Draw {
    /// From a seed; neighbouring seeds draw unlike figures.
    #[must_use]
    pub const fn new(seed: u32) -> Self {
        // A state of 0 would stay 0.
        let [a, b, c, d] = seed.to_le_bytes();
        let wide = u64::from_le_bytes([a, b, c, d, 0, 0, 0, 1]);
        Self(wide.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1)
    }

    /// The next figure.
    pub const fn next(&mut self) -> u32 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        let [.., a, b, c, d] = self.0.wrapping_mul(0x2545_F491_4F6C_DD1D).to_le_bytes();
        u32::from_le_bytes([a, b, c, d])
    }

    /// A figure from 0 to `count` - 1; 0 if `count` is 0.
    pub fn below(&mut self, count: u32) -> u32 {
        let [.., a, b, c, d] = (u64::from(self.next()) * u64::from(count)).to_le_bytes();
        u32::from_le_bytes([a, b, c, d])
    }

    /// A figure from `least` to `most`, both included.
    pub fn within(&mut self, least: u32, most: u32) -> u32 {
        least + self.below(most - least + 1)
    }

    /// A whole number from `-most` to `most`.
    pub fn around_zero(&mut self, most: u16) -> i32 {
        let most = i32::from(most);
        self.below(2 * most.unsigned_abs() + 1).cast_signed() - most
    }

    /// True once in `count` times, on the average.
    pub fn once_in(&mut self, count: u32) -> bool {
        self.below(count) == 0
    }

    /// One of several.
    pub fn one_of<T: Copy, const L: usize>(&mut self, all: [T; L]) -> T {
        let index = self.below(u32::try_from(L).unwrap_or(u32::MAX));
        all[usize::try_from(index).unwrap_or(0)]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_stay_within_their_bounds_and_reach_them() {
        let mut draw = Draw::new(7);
        let mut seen = [0_u32; 3];
        for _ in 0..300 {
            let index = draw.within(4, 6) - 4;
            seen[usize::try_from(index).unwrap()] += 1;
            assert!(draw.around_zero(2).abs() <= 2);
        }
        assert!(seen.iter().all(|count| *count > 50), "{seen:?}");
    }

    #[test]
    fn neighbouring_seeds_differ() {
        let firsts = [0, 1, 2, 3].map(|seed| Draw::new(seed).next());
        for (one, a) in firsts.iter().enumerate() {
            assert!(firsts.iter().skip(one + 1).all(|b| a != b));
        }
    }
}
