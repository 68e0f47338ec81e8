//! Figures packed one after the other into the words of a world, and read back in the same order.

use dosewarden::guard::units::{Dose, Millis};

use super::pack::{Packed, WORDS};
use super::site::{TICK, UNIT, ticks};

/// Writes fields, or gives them back.
pub(super) struct Coder<const WRITES: bool> {
    pub(super) words: Packed,
    /// Bits so far.
    pub(super) at: u32,
    /// The first field that was larger than it can be.
    pub(super) bad: Option<&'static str>,
}

impl<const WRITES: bool> Coder<WRITES> {
    pub(super) const fn new(words: Packed) -> Self {
        Self {
            words,
            at: 0,
            bad: None,
        }
    }

    /// A figure of at most `most`; takes no room if that is 0.
    #[inline]
    pub(super) fn field(&mut self, name: &'static str, value: u32, most: u32) -> u32 {
        let bits = u32::BITS - most.leading_zeros();
        let (word, shift) = ((self.at >> 6) as usize, self.at & 63);
        self.at += bits;
        if self.at > 64 * WORDS as u32 {
            self.bad = self.bad.or(Some("more than 32 bytes"));
            return 0;
        }
        let over = shift + bits > 64;
        if WRITES {
            if value > most {
                self.bad = self.bad.or(Some(name));
            }
            let value = u64::from(value);
            if bits > 0 {
                self.words[word] |= value << shift;
                if over {
                    self.words[word + 1] |= value >> (64 - shift);
                }
            }
            value as u32
        } else if bits == 0 {
            0
        } else {
            let mut found = self.words[word] >> shift;
            if over {
                found |= self.words[word + 1] << (64 - shift);
            }
            (found & ((1_u64 << bits) - 1)) as u32
        }
    }

    pub(super) fn flag(&mut self, name: &'static str, value: bool) -> bool {
        self.field(name, u32::from(value), 1) == 1
    }

    pub(super) fn small(&mut self, name: &'static str, value: u8, most: u8) -> u8 {
        self.field(name, u32::from(value), u32::from(most)) as u8
    }

    /// A time in whole ticks.
    pub(super) fn time(&mut self, name: &'static str, time: Millis, most: u8) -> Millis {
        if WRITES && !time.0.is_multiple_of(TICK) {
            self.bad = self.bad.or(Some(name));
        }
        ticks(self.field(name, time.0 / TICK, u32::from(most)))
    }

    /// A time in whole ticks that saturates a millisecond past `most`.
    pub(super) fn past(&mut self, name: &'static str, time: Millis, most: u8) -> Millis {
        let (whole, rest) = (time.0 / TICK, time.0 % TICK);
        if WRITES && rest > 1 {
            self.bad = self.bad.or(Some(name));
        }
        let code = self.field(name, whole * 2 + rest, u32::from(most) * 2 + 1);
        Millis((code >> 1) * TICK + (code & 1))
    }

    pub(super) fn dose(&mut self, name: &'static str, dose: Dose, most: u8) -> Dose {
        if WRITES && !dose.0.is_multiple_of(UNIT) {
            self.bad = self.bad.or(Some(name));
        }
        Dose(self.field(name, dose.0 / UNIT, u32::from(most)) * UNIT)
    }
}
