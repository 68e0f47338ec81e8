//! One figure of everything that came out.
//!
//! Invariant: the same values give the same figure on 32-bit and 64-bit machines. What differs
//! between them, `usize` and `isize` (lengths and which variant of an enum), is widened first.

use core::hash::Hasher;

/// A 64-bit sum over words, each mixed in by rotation, exclusive or and multiplication. It is there
/// to see a difference, not an attacker.
#[derive(Clone, Debug)]
pub struct Sum(u64);

impl Sum {
    /// Of nothing yet.
    #[must_use]
    pub const fn new() -> Self {
        Self(0x0DA7_5000_0000_0001)
    }

    const fn mix(&mut self, word: u64) {
        self.0 = (self.0.rotate_left(23) ^ word).wrapping_mul(0x9E37_79B9_7F4A_7C15);
    }
}

impl Default for Sum {
    fn default() -> Self {
        Self::new()
    }
}

impl Hasher for Sum {
    fn finish(&self) -> u64 {
        self.0 ^ (self.0 >> 32)
    }

    fn write(&mut self, bytes: &[u8]) {
        // The length first, so that what follows cannot pass for a part of it.
        self.write_usize(bytes.len());
        for chunk in bytes.chunks(4) {
            let mut word = [0; 4];
            for (to, from) in word.iter_mut().zip(chunk) {
                *to = *from;
            }
            self.write_u32(u32::from_le_bytes(word));
        }
    }

    fn write_u8(&mut self, word: u8) {
        self.mix(u64::from(word));
    }

    fn write_u16(&mut self, word: u16) {
        self.mix(u64::from(word));
    }

    fn write_u32(&mut self, word: u32) {
        self.mix(u64::from(word));
    }

    fn write_u64(&mut self, word: u64) {
        self.mix(word);
    }

    /// As the four words that it is, the lowest first: times and doses come so, four at once.
    fn write_u128(&mut self, words: u128) {
        for word in words.to_le_bytes().as_chunks::<4>().0 {
            self.write_u32(u32::from_le_bytes(*word));
        }
    }

    fn write_usize(&mut self, word: usize) {
        self.mix(u64::try_from(word).unwrap_or(u64::MAX));
    }

    fn write_isize(&mut self, word: isize) {
        self.mix(i64::try_from(word).unwrap_or(i64::MAX).cast_unsigned());
    }
}

#[cfg(test)]
mod tests {
    use core::hash::Hash;

    use super::*;

    fn of<T: Hash>(value: T) -> u64 {
        let mut sum = Sum::new();
        value.hash(&mut sum);
        sum.finish()
    }

    #[test]
    fn every_flipped_bit_and_every_swap_changes_it() {
        let words = [1_u32, 2, 3, 4];
        for index in 0..4 {
            for bit in 0..32 {
                let mut other = words;
                other[index] ^= 1 << bit;
                assert_ne!(of(words), of(other));
            }
        }
        assert_ne!(of([1_u32, 2, 3, 4]), of([2_u32, 1, 3, 4]));
        assert_ne!(of(Some(0_u8)), of(None::<u8>));
    }

    #[test]
    fn the_figure_of_a_few_values_stands() {
        // Of lengths, variants, signs and bytes: a change of the sum shows here, and not only as other
        // sums of whole days.
        assert_eq!(
            of((true, Some(7_u16), -1_isize, [1_u8, 2, 3])),
            5_179_835_337_900_138_890
        );
    }
}
