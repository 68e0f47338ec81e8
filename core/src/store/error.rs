//! What can go wrong with flash, and what was found in it.

use crate::guard::RecordError;

/// Why a store could not be made, or did not keep something.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum StoreError {
    /// A range is not made of whole erase pages inside the flash, or has fewer than two.
    Range {
        /// Which range, 0 or 1.
        range: u8,
    },
    /// The two ranges overlap: one erase would take both copies.
    Overlap,
    /// A slot is not a multiple of 64 bytes, does not fit into an erase page, or the flash reads or
    /// writes in units that do not fit into a slot.
    Slot {
        /// Bytes of a slot.
        bytes: usize,
    },
    /// It does not fit into a slot.
    TooLong {
        /// Its bytes.
        bytes: usize,
        /// The most that fits.
        most: usize,
    },
    /// What was to be kept does not end with the CRC-32 of all before it: it was not sealed, or
    /// changed in memory since. Nothing was written.
    NotSealed,
    /// Every page of a range was tried and none gave back what was written. The other range holds
    /// what it held. The flash is worn out or does not answer: nothing is durable any more.
    NotWritten {
        /// Which range, 0 or 1.
        range: u8,
    },
    /// A page could not be erased ahead. It will be passed over.
    NotErased {
        /// Which range, 0 or 1.
        range: u8,
    },
}

impl core::fmt::Display for StoreError {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            Self::Range { range } => write!(
                f,
                "range {range} has to be two or more whole erase pages inside the flash"
            ),
            Self::Overlap => write!(f, "the two ranges overlap"),
            Self::Slot { bytes } => write!(
                f,
                "slots of {bytes} bytes: right is a multiple of 64 and of the flash's units, at \
                 most an erase page"
            ),
            Self::TooLong { bytes, most } => {
                write!(
                    f,
                    "{bytes} bytes do not fit into a slot, which takes {most}"
                )
            }
            Self::NotSealed => write!(f, "the bytes do not end with their CRC-32"),
            Self::NotWritten { range } => {
                write!(f, "no page of range {range} gives back what was written")
            }
            Self::NotErased { range } => write!(f, "a page of range {range} cannot be erased"),
        }
    }
}

impl core::error::Error for StoreError {}

/// Why a slot is not whole, as far as that can be told. Nothing rests on the difference.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Damage {
    /// Writing ended before its last bytes: the power was cut.
    Torn,
    /// Written to its end, and changed since.
    Rotten,
    /// The flash does not give it back.
    Unreadable,
}

/// What was found in one range.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Found {
    /// The newest that was begun here is whole, and is given.
    Whole,
    /// Nothing was ever written.
    Empty,
    /// An older one is given: a newer one was begun here, and is not whole.
    Older(Damage),
    /// Something was begun, and nothing is whole.
    NotWhole(Damage),
    /// The newest whole one is of another version or shape. Older ones are not looked at.
    NotUnderstood(RecordError),
    /// A whole one is there and is not given: it is known to be out of date. Either a newer one was
    /// begun in both ranges and is whole in none, so that it may have been durable; or the other
    /// range holds one that was written later though its sequence is not higher, as after a
    /// person began the ledger anew.
    Outdated,
}
