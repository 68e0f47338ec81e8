//! Two-point calibration of a pH probe: from two buffers to a straight line, or why not.

use super::age::Age;
use super::buffers::Buffer;
use super::nernst::nernst_uv_per_ph;
use super::numbers::{narrow, round_div};
use super::raw::Microvolts;
use super::settling::{NotStill, Settling};
use super::units::CentiCelsius;
use crate::guard::units::MilliPh;

/// Least slope that is accepted, millionths of the Nernst slope (common practice, no source).
pub const SLOPE_MIN_PPM: u32 = 850_000;
/// Most (common practice, no source).
pub const SLOPE_MAX_PPM: u32 = 1_050_000;
/// Furthest from 0 mV that the electrode may be at pH 7 (common practice, no source).
pub const OFFSET_MAX: Microvolts = Microvolts(30_000);
/// Two buffers have to be at least this far apart, pH. Our choice: 0.01 pH of error in a buffer is
/// then 0.5 % of slope.
pub const APART_MIN: MilliPh = MilliPh(2000);
/// pH of the electrode's zero. That the offset does not change with temperature is a simplification:
/// real electrodes cross near pH 7, not at it.
const ZERO_PH: i32 = 7000;

/// Why a calibration was refused. Nothing has changed then.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum CalibrationRefused {
    /// The reading does not stand still.
    NotStill(NotStill),
    /// The buffer's pH is not known at this temperature.
    Temperature {
        /// Buffer.
        buffer: Buffer,
        /// Its temperature.
        temperature: CentiCelsius,
    },
    /// No electrode that would be accepted reads so in this buffer: another bottle, buffers
    /// swapped, or a probe that is out of the water or at its end.
    NotThisBuffer {
        /// The buffer that was named.
        named: Buffer,
        /// What the electrode says.
        reads: Microvolts,
        /// The buffer in which a perfect electrode reads most like this, if one is near.
        looks_like: Option<Buffer>,
    },
    /// The same buffer twice, or two that are too near each other.
    TooClose {
        /// How far apart they are.
        apart: MilliPh,
    },
    /// The slope is outside [`SLOPE_MIN_PPM`] to [`SLOPE_MAX_PPM`].
    Slope {
        /// Millionths of the Nernst slope; may be negative.
        ppm: i32,
    },
    /// The offset is beyond [`OFFSET_MAX`].
    Offset {
        /// Potential at pH 7.
        at_seven: Microvolts,
    },
}

impl core::fmt::Display for CalibrationRefused {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            Self::NotStill(not_still) => write!(f, "{not_still}"),
            Self::Temperature {
                buffer,
                temperature,
            } => write!(
                f,
                "the pH of {buffer} is known from 5 to 40 C, and it is at {} C",
                temperature.0 / 100
            ),
            Self::NotThisBuffer {
                named,
                reads,
                looks_like,
            } => {
                write!(f, "{} mV is no reading of {named}", reads.to_millivolts().0)?;
                match looks_like {
                    Some(other) => write!(f, "; it reads like {other}: are they swapped?"),
                    None => f.write_str("; is the probe in it, and whole?"),
                }
            }
            Self::TooClose { apart } => write!(
                f,
                "the buffers are {} thousandths of a pH apart; right is {} and more",
                apart.0, APART_MIN.0
            ),
            Self::Slope { ppm } => write!(
                f,
                "the slope is {} % of what it should be; right is 85 to 105: clean or replace the \
                 probe",
                ppm / 10_000
            ),
            Self::Offset { at_seven } => write!(
                f,
                "the probe gives {} mV at pH 7; right is -30 to 30: clean or replace it",
                at_seven.to_millivolts().0
            ),
        }
    }
}

impl core::error::Error for CalibrationRefused {}

/// Potential of an electrode at a pH, uV.
fn potential(zero: Microvolts, slope_ppm: u32, ph: MilliPh, temperature: CentiCelsius) -> i32 {
    let below = i64::from(ZERO_PH.saturating_sub(ph.0));
    let slope = i64::from(nernst_uv_per_ph(temperature)).saturating_mul(i64::from(slope_ppm));
    let uv = round_div(slope.saturating_mul(below), 1_000_000_000);
    narrow(uv.saturating_add(i64::from(zero.0)))
}

/// How far a reading is from a perfect electrode's in a buffer, uV; `None` outside its table.
fn off_by(buffer: Buffer, uv: Microvolts, temperature: CentiCelsius) -> Option<u32> {
    let perfect = potential(
        Microvolts(0),
        1_000_000,
        buffer.ph(temperature)?,
        temperature,
    );
    Some(perfect.abs_diff(uv.0))
}

/// Nearest buffer whose reading is within the offset bound of this.
fn looks_like(uv: Microvolts, temperature: CentiCelsius) -> Option<Buffer> {
    let off = |buffer: &Buffer| off_by(*buffer, uv, temperature).unwrap_or(u32::MAX);
    let nearest = Buffer::ALL.into_iter().min_by_key(off)?;
    (off(&nearest) <= OFFSET_MAX.0.unsigned_abs()).then_some(nearest)
}

/// A probe's reading in one buffer: stood still, at a known temperature, and such as an electrode
/// that would be accepted can give.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct BufferReading {
    ph: MilliPh,
    uv: Microvolts,
    temperature: CentiCelsius,
}

impl BufferReading {
    /// Takes what the probe settled at.
    ///
    /// # Errors
    /// If it does not stand still, the temperature is outside the buffer's table, or the reading
    /// contradicts the buffer.
    pub fn try_new(
        named: Buffer,
        settling: &Settling,
        temperature: CentiCelsius,
    ) -> Result<Self, CalibrationRefused> {
        let stable = settling.stable().map_err(CalibrationRefused::NotStill)?;
        let uv = stable.value();
        let ph = named
            .ph(temperature)
            .ok_or(CalibrationRefused::Temperature {
                buffer: named,
                temperature,
            })?;
        let weak = potential(Microvolts(0), SLOPE_MIN_PPM, ph, temperature);
        let strong = potential(Microvolts(0), SLOPE_MAX_PPM, ph, temperature);
        let low = weak.min(strong).saturating_sub(OFFSET_MAX.0);
        let high = weak.max(strong).saturating_add(OFFSET_MAX.0);
        if uv.0 < low || uv.0 > high {
            return Err(CalibrationRefused::NotThisBuffer {
                named,
                reads: uv,
                looks_like: looks_like(uv, temperature),
            });
        }
        Ok(Self {
            ph,
            uv,
            temperature,
        })
    }
}

/// The straight line of one electrode, and how long ago it was measured.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Calibration {
    zero: Microvolts,
    slope_ppm: u32,
    /// How long ago.
    pub age: Age,
}

impl Calibration {
    /// A perfect electrode's, as old as can be: to show something before the first calibration.
    pub(super) const PERFECT: Self = Self {
        zero: Microvolts(0),
        slope_ppm: 1_000_000,
        age: Age::UNKNOWN,
    };

    /// From readings in two buffers, in either order; each at its own temperature.
    ///
    /// # Errors
    /// If the buffers are too close, or slope or offset are out of bounds.
    pub fn two_point(a: &BufferReading, b: &BufferReading) -> Result<Self, CalibrationRefused> {
        let apart = MilliPh(narrow(i64::from(a.ph.0.abs_diff(b.ph.0))));
        if apart < APART_MIN {
            return Err(CalibrationRefused::TooClose { apart });
        }
        // Nernst potential of each, uV x 1000.
        let ideal = |reading: &BufferReading| {
            let below = i64::from(ZERO_PH.saturating_sub(reading.ph.0));
            i64::from(nernst_uv_per_ph(reading.temperature)).saturating_mul(below)
        };
        let (mut span, mut by) = (
            i64::from(a.uv.0).saturating_sub(i64::from(b.uv.0)),
            ideal(a).saturating_sub(ideal(b)),
        );
        if by < 0 {
            (span, by) = (span.saturating_neg(), by.saturating_neg());
        }
        let ppm = narrow(round_div(span.saturating_mul(1_000_000_000), by));
        let slope_ppm = u32::try_from(ppm).unwrap_or(0);
        let middle = |reading: &BufferReading| {
            let at = potential(Microvolts(0), slope_ppm, reading.ph, reading.temperature);
            i64::from(reading.uv.0).saturating_sub(i64::from(at))
        };
        let zero = round_div(middle(a).saturating_add(middle(b)), 2);
        Self::bounded(Microvolts(narrow(zero)), ppm, Age::NEW)
    }

    /// As it was kept.
    ///
    /// # Errors
    /// If slope or offset are out of bounds.
    pub fn restore(zero: Microvolts, slope_ppm: u32, age: Age) -> Result<Self, CalibrationRefused> {
        Self::bounded(zero, i32::try_from(slope_ppm).unwrap_or(i32::MAX), age)
    }

    fn bounded(zero: Microvolts, ppm: i32, age: Age) -> Result<Self, CalibrationRefused> {
        let slope_ppm = u32::try_from(ppm).unwrap_or(0);
        if !(SLOPE_MIN_PPM..=SLOPE_MAX_PPM).contains(&slope_ppm) {
            return Err(CalibrationRefused::Slope { ppm });
        }
        if zero.0.unsigned_abs() > OFFSET_MAX.0.unsigned_abs() {
            return Err(CalibrationRefused::Offset { at_seven: zero });
        }
        Ok(Self {
            zero,
            slope_ppm,
            age,
        })
    }

    /// Potential at pH 7.
    #[must_use]
    pub const fn zero(&self) -> Microvolts {
        self.zero
    }

    /// Millionths of the Nernst slope.
    #[must_use]
    pub const fn slope_ppm(&self) -> u32 {
        self.slope_ppm
    }

    /// The line at one temperature.
    #[must_use]
    pub fn line(&self, temperature: CentiCelsius) -> Line {
        let slope =
            i64::from(nernst_uv_per_ph(temperature)).saturating_mul(i64::from(self.slope_ppm));
        Line {
            zero: self.zero,
            milli_ph_per_uv: narrow(round_div(ONE_Q32.saturating_mul(1_000_000_000), slope)),
            temperature,
        }
    }
}

const ONE_Q32: i64 = 0x1_0000_0000;

/// A calibration at one temperature: a tick then multiplies, and does not divide.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Line {
    zero: Microvolts,
    /// Thousandths of a pH per microvolt, in 2^-32.
    milli_ph_per_uv: i32,
    temperature: CentiCelsius,
}

impl Line {
    /// The pH of a potential; within 0.0006 of the exact line from -500 to 500 mV.
    #[must_use]
    pub fn ph(&self, uv: Microvolts) -> MilliPh {
        let above = i64::from(uv.0).saturating_sub(i64::from(self.zero.0));
        let scaled = above.saturating_mul(i64::from(self.milli_ph_per_uv));
        let below_seven = scaled.saturating_add(ONE_Q32 / 2) >> 32;
        MilliPh(narrow(i64::from(ZERO_PH).saturating_sub(below_seven)))
    }

    /// Temperature for which it holds.
    #[must_use]
    pub const fn temperature(&self) -> CentiCelsius {
        self.temperature
    }
}
