//! The kept record in two ranges of flash.

use core::ops::Range;

use embedded_storage::nor_flash::NorFlash;

use super::error::{Found, StoreError};
use super::flash::Layout;
use super::kept::{KeptError, KeptRecord};
use super::log::Log;
use super::newest::newest;

/// What was read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LoadedKept<const N: usize> {
    /// The newest record, or why there is none to use. Never an older one that is still whole: a
    /// pause may be missing in it. For [`KeptRecord::to_start`].
    pub record: Result<KeptRecord<N>, KeptError>,
    /// What was found in each range. If both are not [`Found::Whole`], save the record again.
    pub found: [Found; 2],
}

/// Why a record was not kept.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum KeepError {
    /// It could not be made.
    Record(KeptError),
    /// The flash did not keep it.
    Store(StoreError),
}

impl core::fmt::Display for KeepError {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            Self::Record(error) => error.fmt(f),
            Self::Store(error) => error.fmt(f),
        }
    }
}

impl core::error::Error for KeepError {}

/// Keeps what persons did and found in two ranges of a NOR flash of its own, in slots of `SLOT`
/// bytes. Give it the flash for as long as it is needed, as
/// [`SettingsStore`](super::SettingsStore).
#[derive(Debug)]
pub struct KeptStore<F, const SLOT: usize = 512> {
    log: Log<F, SLOT>,
}

impl<F: NorFlash> KeptStore<F> {
    /// A store with slots of 512 bytes, enough for two feeders. Nothing is read or written yet.
    ///
    /// # Errors
    /// [`StoreError::Range`], [`StoreError::Overlap`] or [`StoreError::Slot`].
    pub fn new(flash: F, ranges: [Range<u32>; 2]) -> Result<Self, StoreError> {
        Self::with_slots(flash, ranges)
    }
}

impl<F: NorFlash, const SLOT: usize> KeptStore<F, SLOT> {
    /// As [`KeptStore::new`], with slots of another size, which has to stay the same.
    ///
    /// # Errors
    /// [`StoreError::Range`], [`StoreError::Overlap`] or [`StoreError::Slot`].
    pub fn with_slots(flash: F, ranges: [Range<u32>; 2]) -> Result<Self, StoreError> {
        let layout = Layout::try_new(&flash, ranges, SLOT)?;
        Ok(Self {
            log: Log::new(flash, layout),
        })
    }

    /// Reads the newest record. Writes nothing.
    pub fn load<const N: usize>(&mut self) -> LoadedKept<N> {
        let (found, bytes) = newest(&mut self.log);
        let record = bytes.map_err(KeptError::from).and_then(KeptRecord::decode);
        LoadedKept { record, found }
    }

    /// Saves a record, made in `buffer`, and reads both copies back. Blocks, erases included: save
    /// while no permit stands.
    ///
    /// # Errors
    /// The record could not be made, or the flash did not keep it. One range is whole at any time,
    /// with the record before or this one.
    pub fn save<const N: usize>(
        &mut self,
        record: &KeptRecord<N>,
        buffer: &mut [u8],
    ) -> Result<(), KeepError> {
        let length = record.encode(buffer).map_err(KeepError::Record)?;
        let bytes = buffer.get(..length).unwrap_or(&[]);
        self.log.write(bytes).map_err(KeepError::Store)
    }

    /// Gives the flash back.
    #[must_use]
    pub fn into_flash(self) -> F {
        self.log.flash
    }
}
