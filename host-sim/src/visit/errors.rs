//! How well a person's figures are known, standard deviations.

use super::entry::Tested;

/// Volume of the basin, a share. Our choice, as for the water's answer to a dose.
pub(crate) const VOLUME: f64 = 0.10;
/// Strength of a product, a share. Our choice.
pub(crate) const STRENGTH: f64 = 0.05;
/// Fresh water's alkalinity where nobody entered it, mg/L. Our choice.
pub(crate) const FRESH_ALKALINITY_MG_L: f64 = 50.0;
/// What is worked out of CO2 that leaves, a share: its velocity is known to a factor of two at best
/// (0.5 to 8 cm/h by general gas-transfer laws).
pub(crate) const CO2_LOSS: f64 = 0.5;
/// Chlorine that sun and bathers use, a share. Our choice.
pub(crate) const CHLORINE_USE: f64 = 0.4;

/// Of a test. A kit's pH reads to about 0.2, which is taken as two standard deviations (common practice, no source);
/// the others are a drop's step or a colour's (common practice, no source).
pub(crate) fn test(tested: Tested, value: f64) -> f64 {
    match tested {
        Tested::Ph => 0.1,
        Tested::Alkalinity => 5.0,
        Tested::FreeChlorine | Tested::TotalChlorine => 0.1 + 0.1 * value,
        Tested::Cyanurate => 5.0 + 0.1 * value,
        Tested::Calcium => 10.0 + 0.05 * value,
        Tested::Salt => 100.0 + 0.05 * value,
        Tested::Temperature => 0.5,
    }
}
