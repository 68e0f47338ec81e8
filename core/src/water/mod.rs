//! What a device can work out about its water: acid for a step of pH, where a dose ends, how much of the
//! chlorine works.
//!
//! Invariant: advice, never a permission. Nothing here is asked by the guard, and a figure that is
//! missing is `None` or an error, not a zero.
//!
//! ```
//! use dosewarden::guard::units::MilliPh;
//! use dosewarden::water::{AcidStrength, Balance, WaterTest};
//!
//! let test = WaterTest { ph: MilliPh(7800), ..WaterTest::of(2500, 100, 300, 1000) };
//! let water = Balance::try_new(&test)?;
//! let muriatic = AcidStrength { meq_per_l: 9971 }; // 31.45 % hydrochloric acid
//! let dose = water.acid_ul_per_m3_floor(MilliPh(7200), muriatic);
//! assert!(dose.is_some_and(|ul| ul.abs_diff(17_850) < 200), "{dose:?}");
//! # Ok::<(), dosewarden::water::WaterError>(())
//! ```
//!
//! # Model and error
//! The simulator's chemistry (carbonate with calcium's and sodium's pairs, borate, cyanurate with its chlorine, Davies) in
//! fixed-point numbers, with constants tabled every 5 C. Against that chemistry, which itself is within
//! 0.02 pH and 3 % of acid of PHREEQC, over 2 to 40 C, TA 40 to 200, Ca 100 to 600, TDS 300 to 6000 mg/L, pH
//! 6.5 to 8.5, cyanuric acid to 100, borate to 60 as boron and chlorine to 10 mg/L:
//!
//! | figure | off by at most |
//! |---|---|
//! | acid for a step of 0.1 pH or more | 0.5 % and 0.1 umol/L |
//! | pH after a dose | 0.003 |
//! | HOCl | 0.5 % and 0.05 ug/L |
//!
//! The workspace's tests hold these bounds. Alkalinity is total, as titrated: cyanurate and borate are in it. A
//! whole mg/L in a test is more than any of these errors.

mod balance;
mod constants;
mod number;

use core::fmt;

use dosewarden_guard::units::MilliPh;

use balance::{Chlorine, Totals, number as of_ph};
use constants::Constants;
pub use constants::TABLE;
use number::{Q, add, div, lit, mul, sub, whole};

/// pH between which [`Balance::ph_after_acid`] looks for its answer.
pub const PH_RANGE: (MilliPh, MilliPh) = (MilliPh(4000), MilliPh(10_000));

/// Halvings of [`PH_RANGE`], to under a thousandth.
const PH_HALVINGS: u32 = 14;

const CHLORINE_UG_PER_UMOL: Q = Q::lit("70.906");

/// What a test of the water gave.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct WaterTest {
    /// Hundredths of a degree Celsius, 0 to 4500.
    pub temperature_centi_c: i32,
    /// Total alkalinity, mg/L as CaCO3, 0 to 500; cyanurate and borate are in it.
    pub alkalinity_mg_l: u32,
    /// Calcium hardness, mg/L as CaCO3, 0 to 2000.
    pub calcium_mg_l: u32,
    /// Total dissolved solids, mg/L, 0 to 10,000.
    pub tds_mg_l: u32,
    /// pH, 6.0 to 9.0.
    pub ph: MilliPh,
    /// Cyanuric acid, mg/L, 0 to 300.
    pub cyanuric_acid_mg_l: u32,
    /// Borate, mg/L as boron, 0 to 100.
    pub borate_mg_l: u32,
    /// Free chlorine by DPD, ug/L as Cl2, 0 to 20,000. Cyanurate's reservoir is in it.
    pub chlorine_ug_l: u32,
}

/// Acid by what a litre of it takes off.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct AcidStrength {
    /// Milliequivalents a litre: 9971 for 31.45 % hydrochloric acid at 20 C.
    pub meq_per_l: u32,
}

/// Why a test is of no water.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub enum WaterError {
    /// Temperature out of its range.
    Temperature,
    /// Alkalinity out of its range.
    Alkalinity,
    /// Calcium out of its range.
    Calcium,
    /// Dissolved solids out of their range.
    Solids,
    /// pH out of its range.
    Ph,
    /// Cyanuric acid out of its range.
    CyanuricAcid,
    /// Borate out of its range.
    Borate,
    /// Chlorine out of its range.
    Chlorine,
    /// Cyanurate, borate and chlorine have more alkalinity at this pH than was measured.
    NoCarbonate,
}

impl fmt::Display for WaterError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Temperature => "temperature is not 0 to 45 C",
            Self::Alkalinity => "alkalinity is over 500 mg/L",
            Self::Calcium => "calcium is over 2000 mg/L",
            Self::Solids => "dissolved solids are over 10,000 mg/L",
            Self::Ph => "pH is not 6.0 to 9.0",
            Self::CyanuricAcid => "cyanuric acid is over 300 mg/L",
            Self::Borate => "borate is over 100 mg/L",
            Self::Chlorine => "free chlorine is over 20 mg/L",
            Self::NoCarbonate => {
                "cyanurate, borate and chlorine have more alkalinity than was measured"
            }
        })
    }
}

impl core::error::Error for WaterError {}

impl WaterTest {
    /// A water at pH 7.5 without cyanuric acid, borate and chlorine; set the rest by update syntax.
    #[must_use]
    pub const fn of(
        temperature_centi_c: i32,
        alkalinity_mg_l: u32,
        calcium_mg_l: u32,
        tds_mg_l: u32,
    ) -> Self {
        Self {
            temperature_centi_c,
            alkalinity_mg_l,
            calcium_mg_l,
            tds_mg_l,
            ph: MilliPh(7500),
            cyanuric_acid_mg_l: 0,
            borate_mg_l: 0,
            chlorine_ug_l: 0,
        }
    }

    fn check(&self) -> Result<(), WaterError> {
        let within = [
            (
                (0..=4500).contains(&self.temperature_centi_c),
                WaterError::Temperature,
            ),
            (self.alkalinity_mg_l <= 500, WaterError::Alkalinity),
            (self.calcium_mg_l <= 2000, WaterError::Calcium),
            (self.tds_mg_l <= 10_000, WaterError::Solids),
            ((6000..=9000).contains(&self.ph.0), WaterError::Ph),
            (self.cyanuric_acid_mg_l <= 300, WaterError::CyanuricAcid),
            (self.borate_mg_l <= 100, WaterError::Borate),
            (self.chlorine_ug_l <= 20_000, WaterError::Chlorine),
        ];
        match within.into_iter().find(|(fine, _)| !fine) {
            Some((_, error)) => Err(error),
            None => Ok(()),
        }
    }
}

/// A tested water, ready for questions. Making one and asking one each take some hundred
/// multiplications and divisions of 64 bits: not for every tick.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Balance {
    constants: Constants,
    totals: Totals,
    /// Total alkalinity, meq/L.
    alkalinity: Q,
    /// Dissolved inorganic carbon, mmol/L.
    carbon: Q,
}

impl Balance {
    /// The water that tests so.
    ///
    /// # Errors
    /// [`WaterError`]: the first figure that is out of its range, or no alkalinity left for carbonate.
    pub fn try_new(test: &WaterTest) -> Result<Self, WaterError> {
        test.check()?;
        let per = |mg_l: u32, mg_per_mmol: Q| div(whole(mg_l), mg_per_mmol);
        let calcium = per(test.calcium_mg_l, lit!("100.0869"));
        let alkalinity = per(test.alkalinity_mg_l, lit!("50.04345"));
        // As the simulator weighs its salts: CaCl2, NaHCO3, and NaCl for the rest.
        let weighed = add(
            mul(calcium, lit!("110.984")),
            mul(alkalinity, lit!("84.0066")),
        );
        let salt = div(sub(whole(test.tds_mg_l), weighed), lit!("58.443")).max(Q::ZERO);
        let sodium = add(alkalinity, salt);
        let ionic_strength = div(add(mul(calcium, whole(3)), sodium), whole(1000));
        let totals = Totals {
            calcium,
            sodium,
            borate: per(test.borate_mg_l, lit!("10.81")),
            cyanurate: mul(per(test.cyanuric_acid_mg_l, lit!("129.075")), whole(1000)),
            chlorine: per(test.chlorine_ug_l, CHLORINE_UG_PER_UMOL),
        };
        let constants = Constants::at(test.temperature_centi_c, ionic_strength);
        let carbon = totals
            .carbon(&constants, alkalinity, of_ph(test.ph))
            .ok_or(WaterError::NoCarbonate)?;
        Ok(Self {
            constants,
            totals,
            alkalinity,
            carbon,
        })
    }

    /// Strong acid from the tested pH to `to`, closed to the air, nmol/L; negative is base.
    /// `None` outside [`PH_RANGE`].
    #[must_use]
    pub fn acid_nmol_per_l(&self, to: MilliPh) -> Option<i32> {
        let (low, high) = PH_RANGE;
        if !(low.0..=high.0).contains(&to.0) {
            return None;
        }
        let there = self
            .totals
            .alkalinity(&self.constants, self.carbon, of_ph(to));
        let nano = mul(sub(self.alkalinity, there), whole(1_000_000));
        Some(nano.round_to_zero().saturating_to_num())
    }

    /// Microlitres of acid a m3 of water from the tested pH down to `to`, rounded down. `None` if
    /// `to` is higher than the water, out of [`PH_RANGE`], or the acid has no strength.
    #[must_use]
    pub fn acid_ul_per_m3_floor(&self, to: MilliPh, acid: AcidStrength) -> Option<u32> {
        let nmol = u64::try_from(self.acid_nmol_per_l(to)?).ok()?;
        // nmol/L is ueq/m3, and ueq over meq/L is mL/1000: uL.
        let ul = nmol
            .saturating_mul(1000)
            .checked_div(u64::from(acid.meq_per_l))?;
        u32::try_from(ul).ok()
    }

    /// pH after `ul_per_m3` of acid, closed to the air, rounded down; the low end of [`PH_RANGE`] if it
    /// falls that far.
    #[must_use]
    pub fn ph_after_acid(&self, ul_per_m3: u32, acid: AcidStrength) -> MilliPh {
        // uL/m3 times meq/L is neq/m3: 1e9 of them make a meq a litre.
        let neq = u64::from(ul_per_m3).saturating_mul(u64::from(acid.meq_per_l));
        let meq = div(
            Q::saturating_from_num(neq.div_euclid(1000)),
            whole(1_000_000),
        );
        let left = sub(self.alkalinity, meq);
        let (mut low, mut high) = (PH_RANGE.0.0, PH_RANGE.1.0);
        for _ in 0..PH_HALVINGS {
            let middle = low.saturating_add(high).div_euclid(2);
            let there =
                self.totals
                    .alkalinity(&self.constants, self.carbon, of_ph(MilliPh(middle)));
            if there > left {
                high = middle;
            } else {
                low = middle;
            }
        }
        MilliPh(low)
    }

    /// HOCl at `ph` in ng/L as Cl2, of the free chlorine that was tested: what disinfects of it. With
    /// cyanurate this is a few percent; by other published constants it may be a third more or less.
    #[must_use]
    pub fn hypochlorous_ng_l(&self, ph: MilliPh) -> u32 {
        let chlorine = Chlorine::at(&self.constants, &self.totals, of_ph(ph));
        let x = chlorine.hypochlorous(self.totals.chlorine);
        mul(mul(x, CHLORINE_UG_PER_UMOL), whole(1000)).saturating_to_num()
    }

    /// Share of HOCl in HOCl and OCl- at `ph`, in thousandths, rounded down.
    #[must_use]
    pub fn hypochlorous_permille(&self, ph: MilliPh) -> u32 {
        let share = Chlorine::at(&self.constants, &self.totals, of_ph(ph)).unbound_share();
        mul(share, whole(1000)).saturating_to_num()
    }
}

/// Microlitres of hypochlorite a m3 of water that raise its free chlorine by `rise_ug_l`, rounded
/// down; `chlorine_g_per_l` is ten times the trade percent (White 1972, second-hand). `None` without strength.
#[must_use]
pub fn hypochlorite_ul_per_m3_floor(rise_ug_l: u32, chlorine_g_per_l: u32) -> Option<u32> {
    // ug/L is mg/m3, and g/L is ug/uL.
    let ug = u64::from(rise_ug_l).saturating_mul(1000);
    u32::try_from(ug.checked_div(u64::from(chlorine_g_per_l))?).ok()
}

#[cfg(test)]
mod tests;
