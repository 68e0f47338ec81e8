//! What a perfect glass electrode gives: `R T ln 10 / F` for each pH.

use super::numbers::{narrow, round_div};
use super::units::CentiCelsius;

/// `R ln 10 / F` in femtovolts per hundredth of a kelvin: 8.314462618 J/(mol K) and
/// 96485.33212 C/mol (CODATA 2018, exact since the SI of 2019).
const FV_PER_CENTIKELVIN: i64 = 1_984_214_311;

/// The Nernst slope in microvolts per pH, positive; within 0.51 uV of `R T ln 10 / F` from 0 to
/// 50 C, which is 0.001 % of it. Temperatures outside -20 to 100 C count as the nearest.
///
/// ```
/// use dosewarden::probe::{CentiCelsius, nernst_uv_per_ph};
/// assert_eq!(nernst_uv_per_ph(CentiCelsius::from_whole(25)), 59_159);
/// ```
#[must_use]
pub fn nernst_uv_per_ph(temperature: CentiCelsius) -> i32 {
    let kelvin = 27_315_i64.saturating_add(i64::from(temperature.0.clamp(-2000, 10_000)));
    narrow(round_div(
        kelvin.saturating_mul(FV_PER_CENTIKELVIN),
        1_000_000_000,
    ))
}
