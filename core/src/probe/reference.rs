//! An ORP probe is checked in a reference solution, never trimmed: its platinum has no slope to
//! set, and a shift would hide dirt on it.

use super::age::Age;
use super::numbers::{narrow, round_div};
use super::settling::{NotStill, Settling};
use super::units::CentiCelsius;
use crate::guard::units::Millivolts;

/// Furthest from the solution's potential that a probe passes with (common practice, no source).
pub const REFERENCE_TOLERANCE: Millivolts = Millivolts(20);
/// Further off than this, and it is not the solution that was named, or no probe in it. Our choice.
pub const NOT_THIS_SOLUTION: Millivolts = Millivolts(100);

/// What the probe's reference electrode is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
pub enum ReferenceElectrode {
    /// Silver chloride in saturated potassium chloride.
    SilverSaturated,
    /// Silver chloride in 3.5 mol/L potassium chloride.
    Silver3M5,
}

/// A solution of known potential.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
pub enum Solution {
    /// ZoBell's, 15 to 35 C: `428 - 2.2 (T - 25)` mV against the hydrogen electrode, and the
    /// potential of the probe's reference taken off.
    Zobell,
    /// Light's, at 20 to 30 C: 476 mV against saturated silver chloride at 25 C (from memory).
    Light,
    /// Another, with the potential on its bottle for this reference and temperature.
    Bottle(Millivolts),
}

/// ZoBell's solution at 15, 20, ... 35 C, mV.
const ZOBELL_SATURATED: [i16; 5] = [241, 235, 229, 223, 217];
const ZOBELL_3M5: [i16; 5] = [238, 231, 223, 216, 209];

impl Solution {
    /// What a probe reads in it; `None` at a temperature for which that is not known.
    #[must_use]
    pub fn expected(
        self,
        electrode: ReferenceElectrode,
        temperature: CentiCelsius,
    ) -> Option<Millivolts> {
        match self {
            Self::Bottle(mv) => Some(mv),
            Self::Zobell => zobell(electrode, temperature),
            Self::Light if temperature.apart(CentiCelsius::from_whole(25)) > 500 => None,
            Self::Light => Some(match electrode {
                ReferenceElectrode::SilverSaturated => Millivolts(476),
                // As far apart as ZoBell's are at 25 C.
                ReferenceElectrode::Silver3M5 => Millivolts(470),
            }),
        }
    }
}

fn zobell(electrode: ReferenceElectrode, temperature: CentiCelsius) -> Option<Millivolts> {
    let table = match electrode {
        ReferenceElectrode::SilverSaturated => &ZOBELL_SATURATED,
        ReferenceElectrode::Silver3M5 => &ZOBELL_3M5,
    };
    let past = temperature.0.checked_sub(CentiCelsius::from_whole(15).0)?;
    let row = usize::try_from(past.checked_div_euclid(500)?).ok()?;
    let past = i64::from(past.checked_rem_euclid(500)?);
    let low = i64::from(*table.get(row)?);
    let high = match table.get(row.saturating_add(1)) {
        Some(high) => i64::from(*high),
        None if past == 0 => low,
        None => return None,
    };
    let part = high.saturating_sub(low).saturating_mul(past);
    let mv = low.saturating_mul(500).saturating_add(part);
    Some(Millivolts(narrow(round_div(mv, 500))))
}

/// Why a check says nothing. The last one stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum CheckRefused {
    /// The reading does not stand still.
    NotStill(NotStill),
    /// The solution's potential is not known at this temperature.
    Temperature(CentiCelsius),
    /// So far off that it is another solution, or the probe is not in it.
    NotThisSolution {
        /// What the probe reads.
        reads: Millivolts,
        /// What it should.
        expected: Millivolts,
    },
}

impl core::fmt::Display for CheckRefused {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            Self::NotStill(not_still) => write!(f, "{not_still}"),
            Self::Temperature(at) => write!(
                f,
                "the solution's potential is not known at {} C",
                at.0 / 100
            ),
            Self::NotThisSolution { reads, expected } => write!(
                f,
                "{} mV is no reading of this solution, which gives {} mV: is the probe in it?",
                reads.0, expected.0
            ),
        }
    }
}

impl core::error::Error for CheckRefused {}

/// A check in a reference solution: how far off, and how long ago.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct ReferenceCheck {
    /// Reading less what the solution gives.
    pub error: Millivolts,
    /// How long ago.
    pub age: Age,
}

impl ReferenceCheck {
    /// Takes what the probe settled at. Both a pass and a fail are results.
    ///
    /// # Errors
    /// If it does not stand still, or cannot be this solution.
    pub fn take(
        solution: Solution,
        electrode: ReferenceElectrode,
        settling: &Settling,
        temperature: CentiCelsius,
    ) -> Result<Self, CheckRefused> {
        let stable = settling.stable().map_err(CheckRefused::NotStill)?;
        let reads = stable.value().to_millivolts();
        let expected = solution
            .expected(electrode, temperature)
            .ok_or(CheckRefused::Temperature(temperature))?;
        let error = Millivolts(reads.0.saturating_sub(expected.0));
        if error.0.unsigned_abs() > NOT_THIS_SOLUTION.0.unsigned_abs() {
            return Err(CheckRefused::NotThisSolution { reads, expected });
        }
        Ok(Self {
            error,
            age: Age::NEW,
        })
    }

    /// Whether the probe is within [`REFERENCE_TOLERANCE`].
    #[must_use]
    pub const fn passed(&self) -> bool {
        self.error.0.unsigned_abs() <= REFERENCE_TOLERANCE.0.unsigned_abs()
    }
}
