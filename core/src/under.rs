//! What was found or learned under settings: it holds under no others.

use core::hash::Hash;

use crate::guard::Crc32;

/// Something that was found or learned, with the CRC-32 of the settings that it was found under. Put
/// back after a restart only where that is still the same.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Under<T> {
    /// What was found.
    pub found: T,
    /// CRC-32 of the settings. The same on the same build only: with another it begins anew.
    pub settings: u32,
}

impl<T> Under<T> {
    /// What was found, if the settings are still these.
    #[must_use]
    pub fn still(self, settings: u32) -> Option<T> {
        (self.settings == settings).then_some(self.found)
    }
}

/// The CRC-32 of settings.
pub(crate) fn settings_crc(settings: impl Hash) -> u32 {
    let mut sum = Crc32::new();
    settings.hash(&mut sum);
    sum.value()
}
