//! Units that only probes and tests of water need.

/// Temperature in hundredths of a degree Celsius.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(transparent))]
pub struct CentiCelsius(pub i32);

impl CentiCelsius {
    /// From whole degrees; saturates.
    #[must_use]
    pub const fn from_whole(degrees: i32) -> Self {
        Self(degrees.saturating_mul(100))
    }

    /// How far apart two are, hundredths of a degree.
    #[must_use]
    pub const fn apart(self, other: Self) -> u32 {
        self.0.abs_diff(other.0)
    }
}

/// Concentration in micrograms a litre: 1000 is 1 mg/L.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(transparent))]
pub struct MicrogramsPerL(pub u32);

impl MicrogramsPerL {
    /// From whole milligrams a litre; saturates.
    #[must_use]
    pub const fn from_mg_l(mg_l: u32) -> Self {
        Self(mg_l.saturating_mul(1000))
    }
}

impl core::fmt::Display for MicrogramsPerL {
    /// In mg/L, with one place.
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        let tenths = self.0.saturating_add(50) / 100;
        write!(f, "{}.{} mg/L", tenths / 10, tenths % 10)
    }
}
