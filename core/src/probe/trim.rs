//! One-point trim of a pH probe by a kit's test: small, expiring, and refused when the kit cannot
//! be right.

use super::age::Age;
use super::units::MicrogramsPerL;
use crate::guard::units::MilliPh;

/// Most that all trims together may move the reading: more is a matter for two buffers.
pub const TRIM_MAX: MilliPh = MilliPh(200);
/// Free chlorine above which the kit's dye misreads (common practice, no source).
pub const TRIM_CHLORINE_MAX: MicrogramsPerL = MicrogramsPerL(5000);
/// What a kit with phenol red can tell: at the ends of its scale the water may be anywhere beyond
/// (from memory).
pub const KIT_PH: (MilliPh, MilliPh) = (MilliPh(6800), MilliPh(8200));

/// A test of the water with a kit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct KitTest {
    /// pH by the kit.
    pub ph: MilliPh,
    /// Free chlorine by the kit; `None`: not tested.
    pub chlorine: Option<MicrogramsPerL>,
}

/// Why a trim was refused. Nothing has changed then.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum TrimRefused {
    /// The probe has to work, and be calibrated.
    ProbeNotTrusted,
    /// Free chlorine was not tested with it.
    ChlorineUnknown,
    /// Free chlorine is over [`TRIM_CHLORINE_MAX`]: the dye misreads.
    ChlorineTooHigh(MicrogramsPerL),
    /// At or beyond the end of the kit's scale.
    OffKitScale(MilliPh),
    /// All trims together would be over [`TRIM_MAX`]: calibrate in two buffers.
    TooFar {
        /// What they would be.
        total: MilliPh,
    },
}

impl core::fmt::Display for TrimRefused {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            Self::ProbeNotTrusted => {
                f.write_str("the probe has to work and be calibrated before it is trimmed")
            }
            Self::ChlorineUnknown => {
                f.write_str("test free chlorine too: over 5 mg/L the pH dye misreads")
            }
            Self::ChlorineTooHigh(found) => write!(
                f,
                "free chlorine is {found}; over {TRIM_CHLORINE_MAX} the pH dye misreads"
            ),
            Self::OffKitScale(_) => f.write_str(
                "the kit's pH is at the end of its scale; the water may be anywhere beyond",
            ),
            Self::TooFar { total } => write!(
                f,
                "the trim would be {} thousandths of a pH in all; at most {}: calibrate in two \
                 buffers",
                total.0, TRIM_MAX.0
            ),
        }
    }
}

impl core::error::Error for TrimRefused {}

/// What is added to a calibrated pH, until it expires.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Trim {
    by: MilliPh,
    /// How long ago it was last trimmed.
    pub age: Age,
}

impl Default for Trim {
    fn default() -> Self {
        Self::NONE
    }
}

impl Trim {
    /// None. Never expires.
    pub const NONE: Self = Self {
        by: MilliPh(0),
        age: Age::NEW,
    };

    /// A trim so that the probe shows what the kit does. `untrimmed` is the calibrated pH without
    /// any trim, so that one trim after the other cannot walk past the bound.
    ///
    /// # Errors
    /// If the kit cannot be right, or the trim is too large.
    pub fn take(untrimmed: MilliPh, kit: KitTest) -> Result<Self, TrimRefused> {
        let chlorine = kit.chlorine.ok_or(TrimRefused::ChlorineUnknown)?;
        if chlorine > TRIM_CHLORINE_MAX {
            return Err(TrimRefused::ChlorineTooHigh(chlorine));
        }
        if kit.ph <= KIT_PH.0 || kit.ph >= KIT_PH.1 {
            return Err(TrimRefused::OffKitScale(kit.ph));
        }
        Self::bounded(MilliPh(kit.ph.0.saturating_sub(untrimmed.0)), Age::NEW)
    }

    /// As it was kept.
    ///
    /// # Errors
    /// If it is too large.
    pub fn restore(by: MilliPh, age: Age) -> Result<Self, TrimRefused> {
        Self::bounded(by, age)
    }

    fn bounded(by: MilliPh, age: Age) -> Result<Self, TrimRefused> {
        if by.0.unsigned_abs() > TRIM_MAX.0.unsigned_abs() {
            return Err(TrimRefused::TooFar { total: by });
        }
        Ok(Self { by, age })
    }

    /// What is added while it holds.
    #[must_use]
    pub const fn by(&self) -> MilliPh {
        self.by
    }

    /// Whether it is too old to be used.
    #[must_use]
    pub const fn is_expired(&self, days_max: u16) -> bool {
        self.by.0 != 0 && self.age.is_over_days(days_max)
    }

    /// What is added now: nothing once it has expired.
    #[must_use]
    pub const fn now(&self, days_max: u16) -> MilliPh {
        if self.is_expired(days_max) {
            MilliPh(0)
        } else {
            self.by
        }
    }
}
