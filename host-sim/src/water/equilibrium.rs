//! All constants of one water, made once for a temperature and an ionic strength.

use super::activity::Davies;
use super::constants::{
    Carbonate, Cyanurate, CyanurateSet, log_boric, log_hypochlorous, log_na_co3, log_na_hco3,
    log_water,
};

/// Constants between concentrations in mol/L and the activity of H+ (pH is the activity scale).
///
/// Making one costs some twenty logarithms and powers; a solve with it costs one power a turn. Keep it
/// while temperature and salt stand: half a degree or 1 % of the salt moves pH by under 0.005.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Equilibrium {
    pub(super) k1: f64,
    pub(super) k2: f64,
    pub(super) kw: f64,
    pub(super) boric: f64,
    pub(super) hypochlorous: f64,
    pub(super) ca_hco3: f64,
    pub(super) ca_co3: f64,
    pub(super) na_hco3: f64,
    pub(super) na_co3: f64,
    pub(super) cy_acid: f64,
    pub(super) cy_first: f64,
    pub(super) cy_second: f64,
    pub(super) cy_protonated: f64,
    pub(super) cy_doubly: f64,
    /// CO2 in solution over its partial pressure, mol/L/atm.
    pub(super) henry: f64,
    /// log10 of (gamma of a doubly charged ion)^2 over the calcite's constant.
    pub(super) log_calcite: f64,
    /// Activity coefficient of H+.
    pub(super) gamma: f64,
}

impl Equilibrium {
    /// At `temperature_c` (0 to 50) and `ionic_strength` in mol/L (0 to 0.5), with the usual constants
    /// of cyanurate.
    #[must_use]
    pub fn new(temperature_c: f64, ionic_strength: f64) -> Self {
        Self::with_cyanurate(
            temperature_c,
            ionic_strength,
            Cyanurate::at(CyanurateSet::default(), temperature_c),
        )
    }

    /// As [`Equilibrium::new`], with the constants of cyanurate given.
    #[must_use]
    pub fn with_cyanurate(temperature_c: f64, ionic_strength: f64, cyanurate: Cyanurate) -> Self {
        let Davies { one, neutral } = Davies::at(temperature_c, ionic_strength);
        let two = 4.0 * one;
        let carbonate = Carbonate::at(temperature_c);
        let power = libm::exp10;
        // A constant between concentrations is the thermodynamic one, times the coefficients of what
        // stands on the left, over those of what stands on the right; H+ stays an activity.
        Self {
            k1: power(carbonate.k1 + neutral + one),
            k2: power(carbonate.k2 - one + two),
            kw: power(log_water(temperature_c) + one),
            boric: power(log_boric(temperature_c) + neutral + one),
            hypochlorous: power(log_hypochlorous(temperature_c) + neutral + one),
            ca_hco3: power(carbonate.ca_hco3 - two - one + one),
            ca_co3: power(carbonate.ca_co3 - two - two - neutral),
            na_hco3: power(log_na_hco3(temperature_c) - one - one - neutral),
            na_co3: power(log_na_co3(temperature_c) - one - two + one),
            cy_acid: power(cyanurate.acid + neutral + one),
            cy_first: power(cyanurate.first_chlorine + neutral),
            cy_second: power(cyanurate.second_chlorine + neutral),
            cy_protonated: power(cyanurate.protonated - one - neutral),
            cy_doubly: power(cyanurate.doubly_charged - one + two),
            henry: power(carbonate.henry - neutral),
            log_calcite: -two - two - carbonate.calcite,
            gamma: power(-one),
        }
    }

    /// `pKa` of HOCl in this water.
    #[must_use]
    pub fn hypochlorous_pka(&self) -> f64 {
        -libm::log10(self.hypochlorous)
    }

    /// `pK` of cyanuric acid in this water.
    #[must_use]
    pub fn cyanuric_pk(&self) -> f64 {
        -libm::log10(self.cy_acid)
    }

    /// CO2 in solution, mol/L, in balance with `atm` of it in the air.
    #[must_use]
    pub fn co2_in_balance(&self, atm: f64) -> f64 {
        self.henry * atm
    }

    /// Partial pressure in atm of `co2` mol/L in solution.
    #[must_use]
    pub fn co2_pressure_atm(&self, co2: f64) -> f64 {
        co2 / self.henry
    }
}
