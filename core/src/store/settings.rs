//! The settings image in two ranges of flash.

use core::ops::Range;

use embedded_storage::nor_flash::NorFlash;

use super::error::{Found, StoreError};
use super::flash::Layout;
use super::image::{ImageError, SettingsImage};
use super::log::Log;
use super::newest::newest;

/// What was read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LoadedSettings<const N: usize, const B: usize> {
    /// The newest image, or why there is none to use. Never an older one that is still whole: it
    /// may have looser limits.
    pub image: Result<SettingsImage<N, B>, ImageError>,
    /// Version of the image as it was stored.
    pub version: Option<u16>,
    /// What was found in each range. If both are not [`Found::Whole`], save the image again.
    pub found: [Found; 2],
}

/// Why an image was not saved.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum SaveError {
    /// It could not be made.
    Image(ImageError),
    /// The flash did not keep it.
    Store(StoreError),
}

impl core::fmt::Display for SaveError {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            Self::Image(error) => error.fmt(f),
            Self::Store(error) => error.fmt(f),
        }
    }
}

impl core::error::Error for SaveError {}

/// Keeps limits, settings and regulators in two ranges of a NOR flash, in slots of `SLOT` bytes.
/// Give it the flash for as long as it is needed: `SettingsStore::new(records.flash_mut(), ..)`.
#[derive(Debug)]
pub struct SettingsStore<F, const SLOT: usize = 1024> {
    log: Log<F, SLOT>,
}

impl<F: NorFlash> SettingsStore<F> {
    /// A store with slots of 1024 bytes. Nothing is read or written yet.
    ///
    /// # Errors
    /// [`StoreError::Range`], [`StoreError::Overlap`] or [`StoreError::Slot`].
    pub fn new(flash: F, ranges: [Range<u32>; 2]) -> Result<Self, StoreError> {
        Self::with_slots(flash, ranges)
    }
}

impl<F: NorFlash, const SLOT: usize> SettingsStore<F, SLOT> {
    /// As [`SettingsStore::new`], with slots of another size, which has to stay the same.
    ///
    /// # Errors
    /// [`StoreError::Range`], [`StoreError::Overlap`] or [`StoreError::Slot`].
    pub fn with_slots(flash: F, ranges: [Range<u32>; 2]) -> Result<Self, StoreError> {
        let layout = Layout::try_new(&flash, ranges, SLOT)?;
        Ok(Self {
            log: Log::new(flash, layout),
        })
    }

    /// Reads the newest image. Writes nothing.
    pub fn load<const N: usize, const B: usize>(&mut self) -> LoadedSettings<N, B> {
        let (found, bytes) = newest(&mut self.log);
        let decoded = bytes
            .map_err(ImageError::from)
            .and_then(SettingsImage::decode);
        LoadedSettings {
            version: decoded.as_ref().ok().map(|(_, version)| *version),
            image: decoded.map(|(image, _)| image),
            found,
        }
    }

    /// Saves an image, made in `buffer`, and reads both copies back. Blocks, erases included: save
    /// while no permit stands.
    ///
    /// # Errors
    /// The image could not be made, or the flash did not keep it. One range is whole at any time,
    /// with the image before or this one.
    pub fn save<const N: usize, const B: usize>(
        &mut self,
        image: &SettingsImage<N, B>,
        buffer: &mut [u8],
    ) -> Result<(), SaveError> {
        let length = image.encode(buffer).map_err(SaveError::Image)?;
        let bytes = buffer.get(..length).unwrap_or(&[]);
        self.log.write(bytes).map_err(SaveError::Store)
    }

    /// Gives the flash back.
    #[must_use]
    pub fn into_flash(self) -> F {
        self.log.flash
    }
}
