//! How far a dose should move the water by the last tests of it. Needs the feature `water`: without it
//! no test changes what is expected.

use super::{BufferingWater, ExpectedResponse};
use crate::guard::units::MilliPh;
use crate::probe::MicrogramsPerL;
use crate::water::{Balance, WaterTest};
use crate::water_tests::{TestedValue, WaterTests};

/// Taken for every water.
const CALCIUM_MG_L: u32 = 250;
/// Bounds of [`BufferingWater::step_milli`]: a quarter and four times.
const STEP_MILLI: (i64, i64) = (250, 4000);

impl ExpectedResponse {
    /// The step to be expected by the last tests of the water, over the commissioned one,
    /// thousandths. `None` if nothing can be said: the settings name no water, or no water is so.
    pub(super) fn step_milli(&self, tests: &WaterTests) -> Option<u16> {
        let was = self.water.get()?;
        let found = |value, was| {
            let test = tests.of(value).map(|test| test.found);
            let MicrogramsPerL(ug_l) = test.unwrap_or(MicrogramsPerL::from_mg_l(u32::from(was)));
            u16::try_from(ug_l.saturating_add(500) / 1000).unwrap_or(u16::MAX)
        };
        let is = BufferingWater {
            alkalinity_mg_l: found(TestedValue::Alkalinity, was.alkalinity_mg_l),
            cyanuric_acid_mg_l: found(TestedValue::Cyanurate, was.cyanuric_acid_mg_l),
            borate_mg_l: found(TestedValue::Borate, was.borate_mg_l),
            ..was
        };
        is.step_milli(&was, self.at)
    }
}

impl BufferingWater {
    /// How far a dose moves this water at pH `at` (x 1000) over how far it moves another, thousandths,
    /// 250 to 4000. `None` if there is no such water.
    pub(super) fn step_milli(&self, other: &Self, at: u16) -> Option<u16> {
        let (own, others) = (self.acid_nmol_per_l(at)?, other.acid_nmol_per_l(at)?);
        let milli = others.checked_mul(1000)?.checked_div(own)?;
        u16::try_from(milli.clamp(STEP_MILLI.0, STEP_MILLI.1)).ok()
    }

    /// Acid for a tenth of pH about `at`. Calcium is the same in both waters and cancels: within 1 %,
    /// as a test holds.
    fn acid_nmol_per_l(&self, at: u16) -> Option<i64> {
        let at = i32::from(at);
        let test = WaterTest {
            ph: MilliPh(at.saturating_add(50)),
            cyanuric_acid_mg_l: u32::from(self.cyanuric_acid_mg_l),
            borate_mg_l: u32::from(self.borate_mg_l),
            ..WaterTest::of(
                i32::from(self.temperature_c).saturating_mul(100),
                u32::from(self.alkalinity_mg_l),
                CALCIUM_MG_L,
                u32::from(self.tds_mg_l),
            )
        };
        let acid = Balance::try_new(&test).ok()?;
        let acid = acid.acid_nmol_per_l(MilliPh(at.saturating_sub(50)))?;
        Some(i64::from(acid)).filter(|acid| *acid > 0)
    }
}

#[cfg(test)]
mod tests;
