//! Checksums: a word sum for every tick, a CRC-32 for what is stored. Both are hashers, so they
//! cover whatever `derive(Hash)` covers, and no field can be forgotten.

use core::hash::{Hash, Hasher};

/// Sums 32-bit words in two ways at once, by addition and by rotation: a few instructions a word
/// and no multiplication, against 70 for a bitwise CRC. One flipped bit always changes it; two stay
/// unseen only at the same place of words 32 apart. It is there to see a flipped bit, not an
/// attacker.
#[derive(Clone, Debug)]
pub(crate) struct WordSum {
    added: u32,
    turned: u32,
}

impl WordSum {
    const fn mix(&mut self, word: u32) {
        self.added = self.added.wrapping_add(word);
        self.turned = self.turned.rotate_left(5) ^ word;
    }

    fn value(&self) -> u64 {
        (u64::from(self.added) << 32) | u64::from(self.turned)
    }

    /// Both sums of anything that can be hashed.
    pub(crate) fn of<T: Hash>(value: &T) -> u64 {
        let mut sum = Self {
            added: 0x5EED_0001,
            turned: 0,
        };
        value.hash(&mut sum);
        sum.value()
    }
}

impl Hasher for WordSum {
    fn finish(&self) -> u64 {
        self.value()
    }

    fn write(&mut self, bytes: &[u8]) {
        let mut rest = bytes;
        while let [a, b, c, d, tail @ ..] = rest {
            self.mix(u32::from_le_bytes([*a, *b, *c, *d]));
            rest = tail;
        }
        for byte in rest {
            self.mix(u32::from(*byte));
        }
    }

    #[inline]
    fn write_u32(&mut self, word: u32) {
        self.mix(word);
    }

    /// The same as its four words one by one, from the lowest; none has to wait for the one before.
    #[inline]
    fn write_u128(&mut self, words: u128) {
        let [a, b, c, d] = words_of(words);
        let added = a.wrapping_add(b).wrapping_add(c.wrapping_add(d));
        self.added = self.added.wrapping_add(added);
        let turned = a.rotate_left(15) ^ b.rotate_left(10) ^ (c.rotate_left(5) ^ d);
        self.turned = self.turned.rotate_left(20) ^ turned;
    }

    // The two below would differ between 32-bit and 64-bit machines.
    fn write_usize(&mut self, word: usize) {
        self.mix(low_word(word));
    }

    fn write_isize(&mut self, word: isize) {
        self.mix(low_word(word.cast_unsigned()));
    }
}

/// The four words of a number, the lowest first.
#[inline]
fn words_of(number: u128) -> [u32; 4] {
    let bytes = number.to_le_bytes();
    let (words, _) = bytes.as_chunks::<4>();
    match words {
        [a, b, c, d] => [*a, *b, *c, *d].map(u32::from_le_bytes),
        _ => [0; 4],
    }
}

fn low_word(word: usize) -> u32 {
    u32::try_from(word).unwrap_or(u32::MAX)
}

/// CRC-32 as in IEEE 802.3 (reflected, polynomial 0xEDB88320), by half bytes: 64 bytes of table.
#[derive(Clone, Debug)]
pub struct Crc32(u32);

impl Crc32 {
    const TABLE: [u32; 16] = [
        0x0000_0000,
        0x1DB7_1064,
        0x3B6E_20C8,
        0x26D9_30AC,
        0x76DC_4190,
        0x6B6B_51F4,
        0x4DB2_6158,
        0x5005_713C,
        0xEDB8_8320,
        0xF00F_9344,
        0xD6D6_A3E8,
        0xCB61_B38C,
        0x9B64_C2B0,
        0x86D3_D2D4,
        0xA00A_E278,
        0xBDBD_F21C,
    ];

    /// Before any byte.
    #[must_use]
    pub const fn new() -> Self {
        Self(u32::MAX)
    }

    /// CRC of some bytes.
    ///
    /// ```
    /// // The check value of the standard: "123456789" gives 0xCBF43926.
    /// assert_eq!(dosewarden_guard::Crc32::of(b"123456789"), 0xCBF4_3926);
    /// ```
    #[must_use]
    pub fn of(bytes: &[u8]) -> u32 {
        let mut crc = Self::new();
        crc.write(bytes);
        crc.value()
    }

    /// CRC of anything that can be hashed. Equal on 32-bit and 64-bit little-endian machines.
    pub(crate) fn of_value<T: Hash>(value: &T) -> u32 {
        let mut crc = Self::new();
        value.hash(&mut crc);
        crc.value()
    }

    /// The CRC of what was written so far.
    #[must_use]
    pub const fn value(&self) -> u32 {
        !self.0
    }

    /// Four bits of what was already taken in.
    #[inline(always)]
    fn turn(&mut self) {
        let index = usize::try_from(self.0 & 0xF).unwrap_or(0);
        self.0 = (self.0 >> 4) ^ Self::TABLE.get(index).copied().unwrap_or(0);
    }

    /// Four bytes, the lowest first. A record is hundreds of bytes, and a small core counts them.
    #[inline(never)]
    fn word(&mut self, word: u32) {
        self.0 ^= word;
        self.turn();
        self.turn();
        self.turn();
        self.turn();
        self.turn();
        self.turn();
        self.turn();
        self.turn();
    }
}

impl Default for Crc32 {
    fn default() -> Self {
        Self::new()
    }
}

impl Hasher for Crc32 {
    fn finish(&self) -> u64 {
        u64::from(self.value())
    }

    fn write(&mut self, bytes: &[u8]) {
        let mut rest = bytes;
        while let [a, b, c, d, tail @ ..] = rest {
            self.word(u32::from_le_bytes([*a, *b, *c, *d]));
            rest = tail;
        }
        for byte in rest {
            self.0 ^= u32::from(*byte);
            self.turn();
            self.turn();
        }
    }

    fn write_u32(&mut self, word: u32) {
        self.word(word);
    }

    fn write_u128(&mut self, words: u128) {
        words_of(words).into_iter().for_each(|word| self.word(word));
    }

    // The two below would differ between 32-bit and 64-bit machines.
    fn write_usize(&mut self, word: usize) {
        self.word(low_word(word));
    }

    fn write_isize(&mut self, word: isize) {
        self.word(low_word(word.cast_unsigned()));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn crc_has_the_check_value_of_the_standard() {
        // IEEE 802.3 / ISO-HDLC check value for "123456789".
        assert_eq!(Crc32::of(b"123456789"), 0xCBF4_3926);
        assert_eq!(Crc32::of(b""), 0);
        // By zlib: they end one and two bytes past a word.
        assert_eq!(Crc32::of(b"a"), 0xE8B7_BE43);
        assert_eq!(Crc32::of(b"abcdefghijklmnopqrstuvwxyz"), 0x4C27_50BD);
    }

    #[test]
    fn four_words_at_once_are_four_words() {
        use crate::units::{Dose, Millis};
        for length in 0..=9_u32 {
            let words: std::vec::Vec<u32> =
                (1..=length).map(|n| n.wrapping_mul(0x9E37_79B9)).collect();
            let doses: std::vec::Vec<Dose> = words.iter().map(|word| Dose(*word)).collect();
            let times: std::vec::Vec<Millis> = words.iter().map(|word| Millis(*word)).collect();
            let mut one_by_one = (
                WordSum {
                    added: 1,
                    turned: 2,
                },
                Crc32::new(),
            );
            let mut by_fours = one_by_one.clone();
            for word in &words {
                word.hash(&mut one_by_one.0);
                word.hash(&mut one_by_one.1);
            }
            Dose::hash_slice(&doses, &mut by_fours.0);
            Millis::hash_slice(&times, &mut by_fours.1);
            assert_eq!(by_fours.0.value(), one_by_one.0.value(), "{length}");
            assert_eq!(by_fours.1.value(), one_by_one.1.value(), "{length}");
        }
    }

    #[test]
    fn as_hashers_they_give_what_was_written_so_far() {
        let mut crc = Crc32::default();
        assert_eq!((crc.finish(), crc.value()), (0, 0));
        crc.write(b"123456789");
        assert_eq!(crc.finish(), 0xCBF4_3926);
        let mut sum = WordSum {
            added: 1,
            turned: 2,
        };
        sum.write_u32(3);
        // 1 + 3, and 2 turned left by five places, with 3.
        assert_eq!(sum.finish(), (4 << 32) | (64 ^ 3));
    }

    #[test]
    fn every_single_flipped_bit_changes_both_sums() {
        let words = [0x0102_0304_u32, 0, u32::MAX, 77];
        for index in 0..words.len() {
            for bit in 0..32 {
                let mut flipped = words;
                flipped[index] ^= 1 << bit;
                assert_ne!(WordSum::of(&words), WordSum::of(&flipped));
                assert_ne!(Crc32::of_value(&words), Crc32::of_value(&flipped));
            }
        }
    }

    #[test]
    fn a_count_is_taken_in_as_32_bits_on_every_machine() {
        let by = |write: fn(&mut WordSum), same: fn(&mut Crc32)| {
            let (mut sum, mut crc) = (
                WordSum {
                    added: 1,
                    turned: 2,
                },
                Crc32::new(),
            );
            write(&mut sum);
            same(&mut crc);
            (sum.value(), crc.value())
        };
        let word = by(|sum| sum.write_u32(7), |crc| crc.write_u32(7));
        assert_eq!(by(|sum| sum.write_usize(7), |crc| crc.write_usize(7)), word);
        assert_eq!(by(|sum| sum.write_isize(7), |crc| crc.write_isize(7)), word);
    }
}
