//! Buffers for calibration, and what pH they have at a temperature.

use super::numbers::{narrow, round_div};
use super::units::CentiCelsius;
use crate::guard::units::MilliPh;

/// A buffer, named by what its bottle says at 25 C.
///
/// Values from 5 to 40 C: JIS Z 8802 (phthalate, phosphate, tetraborate, carbonate) and the usual
/// table of technical buffers 4, 7 and 10, each to 0.01. Which of the two kinds a bottle holds
/// stands on it: 6.86 taken for 7.00 is an error of 0.14 pH that no check can see.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
pub enum Buffer {
    /// Phthalate, 4.01.
    Phthalate401,
    /// Phosphate, 6.86.
    Phosphate686,
    /// Tetraborate, 9.18.
    Tetraborate918,
    /// Carbonate, 10.02; to 35 C.
    Carbonate1002,
    /// Technical, 4.00.
    Technical400,
    /// Technical, 7.00.
    Technical700,
    /// Technical, 10.01.
    Technical1001,
}

/// First temperature of the table, C, and its step.
const FIRST_C: i32 = 5;
const STEP_CENTI: i32 = 500;

impl Buffer {
    /// All of them.
    pub const ALL: [Self; 7] = [
        Self::Phthalate401,
        Self::Phosphate686,
        Self::Tetraborate918,
        Self::Carbonate1002,
        Self::Technical400,
        Self::Technical700,
        Self::Technical1001,
    ];

    /// pH x 100 at 5, 10, ... C.
    const fn table(self) -> &'static [i16] {
        match self {
            Self::Phthalate401 => &[401, 400, 400, 400, 401, 401, 402, 403],
            Self::Phosphate686 => &[695, 692, 690, 688, 686, 685, 684, 684],
            Self::Tetraborate918 => &[939, 933, 927, 922, 918, 914, 910, 907],
            Self::Carbonate1002 => &[1025, 1018, 1012, 1007, 1002, 997, 993],
            Self::Technical400 => &[400, 400, 400, 400, 400, 401, 402, 403],
            Self::Technical700 => &[709, 706, 704, 702, 700, 699, 699, 698],
            Self::Technical1001 => &[1025, 1018, 1012, 1006, 1001, 997, 993, 989],
        }
    }

    /// pH at this temperature, by a straight line between the table's steps; `None` outside it.
    /// Within 0.01 of the buffer's true pH, by the table's own rounding.
    #[must_use]
    pub fn ph(self, temperature: CentiCelsius) -> Option<MilliPh> {
        let from_first = temperature
            .0
            .checked_sub(CentiCelsius::from_whole(FIRST_C).0)?;
        let row = usize::try_from(from_first.checked_div_euclid(STEP_CENTI)?).ok()?;
        let past = from_first.checked_rem_euclid(STEP_CENTI)?;
        let table = self.table();
        let low = i64::from(*table.get(row)?);
        let high = match table.get(row.saturating_add(1)) {
            Some(high) => i64::from(*high),
            None if past == 0 => low,
            None => return None,
        };
        let part = high.saturating_sub(low).saturating_mul(i64::from(past));
        let hundredths = low
            .saturating_mul(i64::from(STEP_CENTI))
            .saturating_add(part);
        let milli = round_div(hundredths.saturating_mul(10), i64::from(STEP_CENTI));
        Some(MilliPh(narrow(milli)))
    }
}

impl core::fmt::Display for Buffer {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str(match self {
            Self::Phthalate401 => "buffer 4.01 (phthalate)",
            Self::Phosphate686 => "buffer 6.86 (phosphate)",
            Self::Tetraborate918 => "buffer 9.18 (tetraborate)",
            Self::Carbonate1002 => "buffer 10.02 (carbonate)",
            Self::Technical400 => "buffer 4.00 (technical)",
            Self::Technical700 => "buffer 7.00 (technical)",
            Self::Technical1001 => "buffer 10.01 (technical)",
        })
    }
}
