//! Density and strength of what stands in the drum.

use core::fmt;

/// A solution as it is sold, by what a litre of it does.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stock {
    /// kg/m3.
    pub density_kg_per_m3: f64,
    /// mol/L of the solute.
    pub mol_per_l: f64,
    /// Equivalents of acid or base a litre.
    pub eq_per_l: f64,
}

/// A stock outside the data.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StockError {
    /// What is out of its range.
    pub what: &'static str,
    /// Its value.
    pub value: f64,
    /// Its smallest value.
    pub min: f64,
    /// Its largest value.
    pub max: f64,
}

impl fmt::Display for StockError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self {
            what,
            value,
            min,
            max,
        } = self;
        write!(
            f,
            "{what} is {value}; the densities are known from {min} to {max}"
        )
    }
}

impl std::error::Error for StockError {}

/// Coefficients of one solute in the density model of Laliberte 2009, J. Chem. Eng. Data 54:1725-60, as the
/// package `thermo` 0.6.1 of PyPI holds them (read there), with the bounds of the data behind them.
struct Solute {
    c: [f64; 5],
    temperature_c: (f64, f64),
    weight_max: f64,
    g_per_mol: f64,
    eq_per_mol: f64,
}

const HYDROCHLORIC: Solute = Solute {
    c: [
        0.000_283_872_260_482_906,
        0.003_949_469_571_698_82,
        2.850_200_476_818_07,
        -0.015_774_701_256_804_6,
        -3_766.208_686_650_06,
    ],
    temperature_c: (5.0, 98.8),
    weight_max: 0.375,
    g_per_mol: 36.461,
    eq_per_mol: 1.0,
};
const SULFURIC: Solute = Solute {
    c: [
        70.839_515_234_712_2,
        142.352_693_909_248,
        0.687_794_596_187_93,
        0.006_492_996_832_067_03,
        1_667.238_646_295_22,
    ],
    temperature_c: (-11.0, 75.0),
    weight_max: 0.782,
    g_per_mol: 98.078,
    eq_per_mol: 2.0,
};
const HYDROXIDE: Solute = Solute {
    c: [
        319.020_509_469_838,
        528.592_358_475_315,
        -0.102_197_896_602_724,
        0.000_350_420_706_415_566,
        765.970_470_238_438,
    ],
    temperature_c: (4.0, 120.0),
    weight_max: 0.5,
    g_per_mol: 39.997,
    eq_per_mol: 1.0,
};

/// Density of water in kg/m3 at `temperature_c`, 0 to 100, as the same model has it.
#[must_use]
pub fn water_density_kg_per_m3(temperature_c: f64) -> f64 {
    let t = temperature_c;
    let sum = ((((-2.805_425_3e-10 * t + 1.055_630_2e-7) * t - 4.617_046_1e-5) * t
        - 0.007_987_040_1)
        * t
        + 16.945_176)
        * t
        + 999.839_52;
    sum / (1.0 + 0.016_879_85 * t)
}

/// Grams of chlorine (as Cl2) in a litre of hypochlorite of `trade_percent`: ten times it
/// (White 1972, second-hand).
#[must_use]
pub fn trade_percent_g_per_l(trade_percent: f64) -> f64 {
    10.0 * trade_percent
}

impl Stock {
    /// Hydrochloric acid of `weight_percent` at `temperature_c`.
    ///
    /// # Errors
    /// Over 37.5 %, or not 5 to 98.8 C.
    pub fn hydrochloric(weight_percent: f64, temperature_c: f64) -> Result<Self, StockError> {
        Self::modelled(&HYDROCHLORIC, weight_percent, temperature_c)
    }

    /// Sulfuric acid of `weight_percent` at `temperature_c`; stronger ones by [`Stock::sulfuric_of_density`].
    ///
    /// # Errors
    /// Over 78.2 %, or not -11 to 75 C.
    pub fn sulfuric(weight_percent: f64, temperature_c: f64) -> Result<Self, StockError> {
        Self::modelled(&SULFURIC, weight_percent, temperature_c)
    }

    /// Caustic soda of `weight_percent` at `temperature_c`.
    ///
    /// # Errors
    /// Over 50 %, or not 4 to 120 C.
    pub fn hydroxide(weight_percent: f64, temperature_c: f64) -> Result<Self, StockError> {
        Self::modelled(&HYDROXIDE, weight_percent, temperature_c)
    }

    /// Sulfuric acid whose density is stated on its sheet.
    #[must_use]
    pub fn sulfuric_of_density(weight_percent: f64, density_kg_per_m3: f64) -> Self {
        Self::of_density(&SULFURIC, weight_percent / 100.0, density_kg_per_m3)
    }

    /// Millilitres of this for a cubic metre of water that takes `meq_per_l`.
    #[must_use]
    pub fn ml_per_m3(&self, meq_per_l: f64) -> f64 {
        1000.0 * meq_per_l / self.eq_per_l
    }

    fn modelled(solute: &Solute, percent: f64, temperature_c: f64) -> Result<Self, StockError> {
        let (min, max) = solute.temperature_c;
        if !(min..=max).contains(&temperature_c) {
            return Err(StockError {
                what: "the temperature in C",
                value: temperature_c,
                min,
                max,
            });
        }
        let max = 100.0 * solute.weight_max;
        if !(0.0..=max).contains(&percent) {
            return Err(StockError {
                what: "the weight percent",
                value: percent,
                min: 0.0,
                max,
            });
        }
        let (w, t) = (percent / 100.0, temperature_c);
        let [c0, c1, c2, c3, c4] = solute.c;
        let apparent = (c0 * w + c1) * libm::exp(1e-6 * (t + c4) * (t + c4)) / (w + c2 + c3 * t);
        let volume = (1.0 - w) / water_density_kg_per_m3(t) + w / apparent;
        Ok(Self::of_density(solute, w, 1.0 / volume))
    }

    fn of_density(solute: &Solute, w: f64, density_kg_per_m3: f64) -> Self {
        let mol_per_l = density_kg_per_m3 * w / solute.g_per_mol;
        Self {
            density_kg_per_m3,
            mol_per_l,
            eq_per_l: mol_per_l * solute.eq_per_mol,
        }
    }
}
