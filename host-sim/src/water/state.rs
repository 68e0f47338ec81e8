//! What a water holds, and how it is known from a test.

use core::fmt;

use super::equilibrium::Equilibrium;
use super::units::{
    BORON_MG_PER_MMOL, CACL2_MG_PER_MMOL, CACO3_MG_PER_MEQ, CACO3_MG_PER_MMOL,
    CHLORINE_MG_PER_MMOL, CYANURIC_ACID_MG_PER_MMOL, NACL_MG_PER_MMOL, NAHCO3_MG_PER_MMOL,
};

/// Conserved totals of a water. They mix in proportion, and reagents add to them.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Water {
    /// Celsius, 0 to 50.
    pub temperature_c: f64,
    /// Total alkalinity, eq/L, as the [module](super) defines it; may be negative in strongly acid water.
    pub alkalinity: f64,
    /// Dissolved inorganic carbon, pairs included, mol/L.
    pub carbon: f64,
    /// Calcium, pairs included, mol/L.
    pub calcium: f64,
    /// Sodium, pairs included, mol/L. Chloride is what balances the charge.
    pub sodium: f64,
    /// Cyanuric acid in all its forms, mol/L.
    pub cyanurate: f64,
    /// Boric acid and borate, mol/L of boron.
    pub borate: f64,
    /// Free chlorine as a DPD test reads it, mol/L of Cl2: HOCl, OCl- and what cyanurate holds.
    pub chlorine: f64,
}

impl Water {
    /// Ionic strength in mol/L: 3 Ca + Na, which is what calcium, sodium, singly charged alkalinity
    /// and balancing chloride come to. Pairs make it up to 6 % less at Ca 600, TA 200, TDS 300.
    #[must_use]
    pub fn ionic_strength(&self) -> f64 {
        3.0 * self.calcium + self.sodium
    }

    /// Constants at this temperature and ionic strength.
    #[must_use]
    pub fn equilibrium(&self) -> Equilibrium {
        Equilibrium::new(self.temperature_c, self.ionic_strength())
    }

    /// pH, from nothing. In a loop keep the [`Equilibrium`] and use
    /// [`solve_from`](Equilibrium::solve_from).
    #[must_use]
    pub fn ph(&self) -> f64 {
        self.equilibrium().solve(self).ph
    }
}

/// What a test of pool water gives. All figures are finite and in the trade's units.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WaterTest {
    /// Celsius.
    pub temp_c: f64,
    /// Total alkalinity as CaCO3, cyanurate and borate in it.
    pub ta_mg_l: f64,
    /// Calcium hardness as CaCO3.
    pub ca_mg_l: f64,
    /// Total dissolved solids, as the weight of CaCl2, NaHCO3 and NaCl that would make this water.
    pub tds_mg_l: f64,
    /// pH.
    pub ph: f64,
    /// Cyanuric acid.
    pub cya_mg_l: f64,
    /// Borate, as boron.
    pub borate_mg_l: f64,
    /// Free chlorine as Cl2, by DPD.
    pub chlorine_mg_l: f64,
}

/// A test that no water has.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum WaterError {
    /// A figure is not a number or out of its range.
    OutOfRange {
        /// The field.
        name: &'static str,
        /// What it was.
        value: f64,
        /// Its smallest value.
        min: f64,
        /// Its largest value.
        max: f64,
    },
    /// Cyanurate, borate and chlorine have more alkalinity at this pH than was measured.
    NoCarbonate {
        /// What they have, mg/L as CaCO3.
        other_mg_l: f64,
        /// What was measured.
        ta_mg_l: f64,
    },
}

impl fmt::Display for WaterError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::OutOfRange {
                name,
                value,
                min,
                max,
            } => {
                write!(f, "{name} is {value}; it has to be {min} to {max}")
            }
            Self::NoCarbonate {
                other_mg_l,
                ta_mg_l,
            } => write!(
                f,
                "ta_mg_l is {ta_mg_l}, but cyanurate, borate and chlorine alone have {other_mg_l:.1} \
                 at this pH; one of them is wrong"
            ),
        }
    }
}

impl std::error::Error for WaterError {}

impl WaterTest {
    /// A water at pH 7.5 without cyanuric acid, borate and chlorine; set the rest by update syntax.
    #[must_use]
    pub const fn of(temp_c: f64, ta_mg_l: f64, ca_mg_l: f64, tds_mg_l: f64) -> Self {
        Self {
            temp_c,
            ta_mg_l,
            ca_mg_l,
            tds_mg_l,
            ph: 7.5,
            cya_mg_l: 0.0,
            borate_mg_l: 0.0,
            chlorine_mg_l: 0.0,
        }
    }

    /// Bounds of each field: what a pool may hold at all, wider than the range of the stated error.
    #[must_use]
    pub const fn bounds(&self) -> [(&'static str, f64, f64, f64); 8] {
        [
            ("temp_c", self.temp_c, 0.0, 50.0),
            ("ta_mg_l", self.ta_mg_l, 0.0, 1000.0),
            ("ca_mg_l", self.ca_mg_l, 0.0, 2000.0),
            ("tds_mg_l", self.tds_mg_l, 0.0, 15_000.0),
            ("ph", self.ph, 4.0, 10.5),
            ("cya_mg_l", self.cya_mg_l, 0.0, 500.0),
            ("borate_mg_l", self.borate_mg_l, 0.0, 200.0),
            ("chlorine_mg_l", self.chlorine_mg_l, 0.0, 100.0),
        ]
    }

    /// The water that tests so: sodium from the salt, carbon from pH and alkalinity.
    ///
    /// # Errors
    /// [`WaterError`]: a figure out of its [bounds](Self::bounds), or no alkalinity left for carbonate.
    pub fn water(&self) -> Result<Water, WaterError> {
        for (name, value, min, max) in self.bounds() {
            // Not a number is in no range.
            if !(min..=max).contains(&value) {
                return Err(WaterError::OutOfRange {
                    name,
                    value,
                    min,
                    max,
                });
            }
        }
        let mut water = self.without_carbon();
        let eq = water.equilibrium();
        water.carbon = eq.carbon_for(&water, self.ph).ok_or_else(|| {
            let other = eq.alkalinity_of_the_rest(&water, self.ph);
            WaterError::NoCarbonate {
                other_mg_l: other * 1000.0 * CACO3_MG_PER_MEQ,
                ta_mg_l: self.ta_mg_l,
            }
        })?;
        Ok(water)
    }

    fn without_carbon(&self) -> Water {
        let calcium = self.ca_mg_l / CACO3_MG_PER_MMOL;
        let alkalinity = self.ta_mg_l / CACO3_MG_PER_MEQ;
        let weighed = calcium * CACL2_MG_PER_MMOL + alkalinity * NAHCO3_MG_PER_MMOL;
        let salt = ((self.tds_mg_l - weighed) / NACL_MG_PER_MMOL).max(0.0);
        Water {
            temperature_c: self.temp_c,
            alkalinity: alkalinity / 1000.0,
            carbon: 0.0,
            calcium: calcium / 1000.0,
            sodium: (alkalinity + salt) / 1000.0,
            cyanurate: self.cya_mg_l / CYANURIC_ACID_MG_PER_MMOL / 1000.0,
            borate: self.borate_mg_l / BORON_MG_PER_MMOL / 1000.0,
            chlorine: self.chlorine_mg_l / CHLORINE_MG_PER_MMOL / 1000.0,
        }
    }
}
