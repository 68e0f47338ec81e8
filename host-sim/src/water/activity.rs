//! What the other ions do to an ion: activity coefficients.

use super::units::kelvin;

/// The Davies equation at one temperature and ionic strength.
///
/// log10(gamma) = -A z^2 (sqrt(I)/(1 + sqrt(I)) - 0.3 I), with A = 1.82e6 (eps T)^-1.5 and
/// eps = 60954/(T + 116) - 68.937 (Davies 1962, as in textbooks; the values of A are checked
/// against a computed table). Sound to an ionic strength of about 0.5 mol/L; the sea has 0.7.
/// Uncharged species: log10(gamma) = 0.1 I, what PHREEQC takes for them (from memory of its manual;
/// leaving it out costs up to 1.5 % of the dissolved carbon at TDS 6000).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Davies {
    /// -log10(gamma) of an ion with one charge; with two charges it is four times that.
    pub one: f64,
    /// log10(gamma) of an uncharged species.
    pub neutral: f64,
}

impl Davies {
    /// At `temperature_c` (0 to 50) and `ionic_strength` in mol/L (0 to 0.5).
    #[must_use]
    pub fn at(temperature_c: f64, ionic_strength: f64) -> Self {
        let root = ionic_strength.sqrt();
        Self {
            one: davies_a(temperature_c) * (root / (1.0 + root) - 0.3 * ionic_strength),
            neutral: 0.1 * ionic_strength,
        }
    }
}

/// Davies's A at `temperature_c`, (L/mol)^0.5.
#[must_use]
pub fn davies_a(temperature_c: f64) -> f64 {
    let t = kelvin(temperature_c);
    let eps_t = (60_954.0 / (t + 116.0) - 68.937) * t;
    1.82e6 / (eps_t * eps_t.sqrt())
}
