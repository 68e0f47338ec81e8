//! Equilibrium constants at infinite dilution, by temperature alone.
//!
//! Invariant: each function gives the base-10 logarithm of a thermodynamic constant and names where it
//! comes from. What ionic strength does to it is the matter of [`activity`](super::activity).

use super::units::{GAS_J_PER_MOL_K, kelvin};

/// Joules in a thermochemical kilocalorie, the unit of enthalpies in the cited data.
const J_PER_KCAL: f64 = 4184.0;

/// Constants of the carbonate system and of calcite at one temperature (Plummer and Busenberg 1982,
/// 0 to 90 C), each as log10 K.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Carbonate {
    /// CO2(aq) + H2O = HCO3- + H+.
    pub k1: f64,
    /// HCO3- = CO3-- + H+.
    pub k2: f64,
    /// CO2(g) = CO2(aq), mol/L/atm.
    pub henry: f64,
    /// Calcite = Ca++ + CO3--.
    pub calcite: f64,
    /// Aragonite = Ca++ + CO3--.
    pub aragonite: f64,
    /// Ca++ + HCO3- = CaHCO3+.
    pub ca_hco3: f64,
    /// Ca++ + CO3-- = CaCO3(aq).
    pub ca_co3: f64,
}

impl Carbonate {
    /// At `temperature_c`, 0 to 90.
    #[must_use]
    pub fn at(temperature_c: f64) -> Self {
        let t = kelvin(temperature_c);
        let log_t = libm::log10(t);
        let inverse = 1.0 / t;
        let square = inverse * inverse;
        let minerals = -0.077_993 * t + 71.595 * log_t;
        Self {
            k1: -356.3094 - 0.060_919_64 * t + 21_834.37 * inverse + 126.8339 * log_t
                - 1_684_915.0 * square,
            k2: -107.8871 - 0.032_528_49 * t + 5_151.79 * inverse + 38.925_61 * log_t
                - 563_713.9 * square,
            henry: 108.3865 + 0.019_850_76 * t - 6_919.53 * inverse - 40.451_54 * log_t
                + 669_365.0 * square,
            calcite: -171.9065 + 2_839.319 * inverse + minerals,
            aragonite: -171.9773 + 2_903.293 * inverse + minerals,
            ca_hco3: 1_209.120 + 0.312_94 * t - 34_765.05 * inverse - 478.782 * log_t,
            ca_co3: -1_228.732 - 0.299_444 * t + 35_512.75 * inverse + 485.818 * log_t,
        }
    }
}

/// log10 K at `temperature_c` of a reaction with `log_k` at 25 C and `enthalpy_kcal`, by van 't Hoff.
#[must_use]
pub fn van_t_hoff(log_k: f64, enthalpy_kcal: f64, temperature_c: f64) -> f64 {
    let slope = enthalpy_kcal * J_PER_KCAL / (GAS_J_PER_MOL_K * core::f64::consts::LN_10);
    log_k + slope * (1.0 / kelvin(25.0) - 1.0 / kelvin(temperature_c))
}

/// Na+ + HCO3- = NaHCO3(aq): -0.25 and -1 kcal/mol, as in the PHREEQC database phreeqc.dat (read).
#[must_use]
pub fn log_na_hco3(temperature_c: f64) -> f64 {
    van_t_hoff(-0.25, -1.0, temperature_c)
}

/// Na+ + CO3-- = NaCO3-: 1.27 and 8.91 kcal/mol, as in phreeqc.dat (read).
#[must_use]
pub fn log_na_co3(temperature_c: f64) -> f64 {
    van_t_hoff(1.27, 8.91, temperature_c)
}

/// H2O = H+ + OH-, the expression of phreeqc.dat (read), 0 to 300 C.
#[must_use]
pub fn log_water(temperature_c: f64) -> f64 {
    let t = kelvin(temperature_c);
    293.292_27 + 0.136_083_3 * t
        - 10_576.913 / t
        - 123.731_58 * libm::log10(t)
        - 6.996_455e-5 * t * t
}

/// B(OH)3 + H2O = B(OH)4- + H+: -9.24 and 3.224 kcal/mol, as in phreeqc.dat (read).
#[must_use]
pub fn log_boric(temperature_c: f64) -> f64 {
    van_t_hoff(-9.24, 3.224, temperature_c)
}

/// HOCl = OCl- + H+: pKa = 3000/T - 10.0686 + 0.0253 T (Morris 1966; the formula is from memory).
#[must_use]
pub fn log_hypochlorous(temperature_c: f64) -> f64 {
    let t = kelvin(temperature_c);
    -(3000.0 / t - 10.0686 + 0.0253 * t)
}

/// Nernst slope in mV per pH at `temperature_c`: R T ln 10 / F, from the SI constants.
#[must_use]
pub fn nernst_mv_per_ph(temperature_c: f64) -> f64 {
    const FARADAY_C_PER_MOL: f64 = 96_485.332_12;
    1000.0 * GAS_J_PER_MOL_K * kelvin(temperature_c) * core::f64::consts::LN_10 / FARADAY_C_PER_MOL
}

/// Whose constants of chlorine on cyanurate are used. Free chlorine by the two differs by up to a third,
/// and no measurement here decides between them: what follows from them is a range, not a figure.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum CyanurateSet {
    /// O'Brien 1974 at 25 C (from memory: pK 6.88, 5.62, 4.51, 5.33, 10.12), with the slopes over
    /// temperature that Wahman measured. The default: its 6.88 is 6.82 at the ionic strength of a pool, and the
    /// trade's acid demand is tabled with 6.8.
    #[default]
    OBrien,
    /// Wahman 2018 and Wahman and Alexander 2019 (read): 1743/T + 1.12 (5 to 35 C), 2028/T - 2.15, 5.83
    /// at 25 C. The protonated and the doubly charged species are O'Brien's.
    Wahman,
}

/// Constants of cyanuric acid (H3Cy) and its chlorinated forms, as log10 K.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cyanurate {
    /// H3Cy = H2Cy- + H+.
    pub acid: f64,
    /// H2Cy- + HOCl = HClCy- + H2O.
    pub first_chlorine: f64,
    /// HClCy- + HOCl = Cl2Cy- + H2O.
    pub second_chlorine: f64,
    /// HClCy- + H+ = H2ClCy.
    pub protonated: f64,
    /// HClCy- = ClCy-- + H+.
    pub doubly_charged: f64,
}

impl Cyanurate {
    /// The constants of `set` at `temperature_c`.
    #[must_use]
    pub fn at(set: CyanurateSet, temperature_c: f64) -> Self {
        let inverse = 1.0 / kelvin(temperature_c);
        let since_25 = inverse - 1.0 / kelvin(25.0);
        let (acid, first, second) = match set {
            CyanurateSet::OBrien => (-6.88 - 1743.0 * since_25, 5.62, 4.51 + 2028.0 * since_25),
            CyanurateSet::Wahman => (-(1743.0 * inverse + 1.12), 5.83, 2028.0 * inverse - 2.15),
        };
        Self {
            acid,
            first_chlorine: first,
            second_chlorine: second,
            protonated: 5.33,
            doubly_charged: -10.12,
        }
    }
}
