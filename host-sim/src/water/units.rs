//! Unit factors. All exact or from the source named.

/// Molar gas constant, J/(mol K) (SI 2019, exact to the digits).
pub const GAS_J_PER_MOL_K: f64 = 8.314_462_618;
/// Milligrams of CaCO3 in a millimole.
pub const CACO3_MG_PER_MMOL: f64 = 100.0869;
/// Milligrams of CaCO3 that stand for one milliequivalent of alkalinity.
pub const CACO3_MG_PER_MEQ: f64 = CACO3_MG_PER_MMOL / 2.0;
/// Milligrams of Cl2 in a millimole, the unit in which free chlorine is reported.
pub const CHLORINE_MG_PER_MMOL: f64 = 70.906;
/// Milligrams of cyanuric acid in a millimole.
pub const CYANURIC_ACID_MG_PER_MMOL: f64 = 129.075;
/// Milligrams of boron in a millimole: "borate" in mg/L is counted as boron.
pub const BORON_MG_PER_MMOL: f64 = 10.81;
/// Milligrams of CaCl2 in a millimole.
pub const CACL2_MG_PER_MMOL: f64 = 110.984;
/// Milligrams of NaHCO3 in a millimole.
pub const NAHCO3_MG_PER_MMOL: f64 = 84.0066;
/// Milligrams of NaCl in a millimole.
pub const NACL_MG_PER_MMOL: f64 = 58.443;

/// Litres in a US gallon (NIST Handbook 44 appendix C, read).
pub const US_GAL_L: f64 = 3.785_411_784;
/// Millilitres in a US fluid ounce (NIST Handbook 44 appendix C, read).
pub const US_FL_OZ_ML: f64 = 29.573_529_562_5;
/// Litres in a cubic foot (NIST Handbook 44 appendix C, read).
pub const FT3_L: f64 = 28.316_846_592;

/// Kelvin of a Celsius temperature.
#[must_use]
pub fn kelvin(temperature_c: f64) -> f64 {
    temperature_c + 273.15
}

/// Celsius of a Fahrenheit temperature.
#[must_use]
pub fn celsius(temperature_f: f64) -> f64 {
    (temperature_f - 32.0) / 1.8
}

/// Millilitres per cubic metre of an amount given as US fluid ounces per 10,000 US gallons.
#[must_use]
pub fn ml_per_m3(fl_oz_per_10_000_gal: f64) -> f64 {
    fl_oz_per_10_000_gal * US_FL_OZ_ML / (10.0 * US_GAL_L)
}
