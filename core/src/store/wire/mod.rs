//! The wire format of `postcard` 1, of what the images hold: numbers, options, arrays, structs, enums.
//!
//! # Why not the crate
//! It reads and writes numbers through places that are counted and indexed, and leaves a path to a
//! panic at every one. Here bytes are split off the front, and running out of them is an error. The
//! bytes are the same, which the tests hold against the crate.

mod read;
mod write;

pub(crate) use read::Reader;
pub(crate) use write::Writer;

/// No room, bytes that mean nothing, or a type that no image holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Misfit;

impl core::fmt::Display for Misfit {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str("does not fit")
    }
}

impl core::error::Error for Misfit {}

// What is wrong with a field is said by whoever reads the image: text here would be formatted.
impl serde::ser::Error for Misfit {
    fn custom<T: core::fmt::Display>(_: T) -> Self {
        Self
    }
}

impl serde::de::Error for Misfit {
    fn custom<T: core::fmt::Display>(_: T) -> Self {
        Self
    }
}

/// Small numbers of either sign as small numbers: 0, -1, 1, -2, ...
const fn zigzag(value: i64) -> u64 {
    let sign = value.wrapping_shr(63);
    u64::from_le_bytes((value.wrapping_shl(1) ^ sign).to_le_bytes())
}

/// And back.
const fn unzigzag(value: u64) -> i64 {
    let sign = i64::from_le_bytes((value & 1).to_le_bytes()).wrapping_neg();
    i64::from_le_bytes((value >> 1).to_le_bytes()) ^ sign
}

#[cfg(test)]
mod tests;
