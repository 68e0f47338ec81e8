//! Carbonate, water and hypochlorous acid equilibria at one temperature and ionic strength.
//!
//! A closed model whose conserved totals are alkalinity, dissolved inorganic carbon and free
//! chlorine; pH is never stored, only solved from them. Ion pairs (CaHCO3+, NaHCO3 and the like)
//! are left out, so acid demand comes out up to 15 % low against a full speciation model.
//!
//! pH is the activity scale: every constant here takes the activity of H+ and the concentrations
//! of the rest.

use core::f64::consts::LN_10;

/// Grams of chlorine (Cl2) in one mole, the unit in which free chlorine is reported.
pub const CHLORINE_G_PER_MOL: f64 = 70.906;

/// Milligrams of CaCO3 that stand for one milliequivalent of alkalinity (100.0869 / 2).
pub const CACO3_MG_PER_MEQ: f64 = 50.043_45;

/// Partial pressure of carbon dioxide over the water, atm (420 uatm).
pub const AIR_CO2_ATM: f64 = 420e-6;

/// Smallest and largest pH that [`Equilibrium::solve_ph`] returns.
pub const PH_RANGE: (f64, f64) = (0.0, 14.0);

/// Thermodynamic (infinite dilution) `pK1`, `pK2` and `pKH` of carbonic acid at `temperature_c`.
///
/// Source: Plummer and Busenberg 1982, 0 to 90 C.
#[must_use]
pub fn carbonate_pk(temperature_c: f64) -> (f64, f64, f64) {
    let t = temperature_c + 273.15;
    let log_t = libm::log10(t);
    let k1 =
        -356.3094 - 0.060_919_64 * t + 21_834.37 / t + 126.8339 * log_t - 1_684_915.0 / (t * t);
    let k2 = -107.8871 - 0.032_528_49 * t + 5_151.79 / t + 38.925_61 * log_t - 563_713.9 / (t * t);
    let kh = 108.3865 + 0.019_850_76 * t - 6_919.53 / t - 40.451_54 * log_t + 669_365.0 / (t * t);
    (-k1, -k2, -kh)
}

/// `pKw` of water at `temperature_c`: 4471/T + 0.01706 T - 6.0875.
///
/// Source: the Harned and Hamer form in Standard Methods 2330 B.
#[must_use]
pub fn water_pk(temperature_c: f64) -> f64 {
    let t = temperature_c + 273.15;
    4471.0 / t + 0.01706 * t - 6.0875
}

/// `pKa` of hypochlorous acid at `temperature_c`: 3000/T - 10.0686 + 0.0253 T.
///
/// Source: Morris 1966; the formula is from memory, not read in the paper.
#[must_use]
pub fn hypochlorous_pk(temperature_c: f64) -> f64 {
    let t = temperature_c + 273.15;
    3000.0 / t - 10.0686 + 0.0253 * t
}

/// Share of free chlorine that is HOCl, 0 to 1, for a `pKa` that fits the pH scale used.
#[must_use]
pub fn hypochlorous_share(ph: f64, pka: f64) -> f64 {
    1.0 / (1.0 + libm::exp10(ph - pka))
}

/// Nernst slope in mV per pH at `temperature_c`: R T ln 10 / F, from the SI constants.
#[must_use]
pub fn nernst_mv_per_ph(temperature_c: f64) -> f64 {
    const GAS: f64 = 8.314_462_618;
    const FARADAY: f64 = 96_485.332_12;
    1000.0 * GAS * (temperature_c + 273.15) * LN_10 / FARADAY
}

/// First-order loss of free chlorine at the water's surface in full sun, 1/s, without cyanuric
/// acid: 2e-4 for HOCl and 1.2e-3 for OCl-, weighted by their share.
///
/// Source: Nowell and Hoigne 1992.
#[must_use]
pub fn sunlight_surface_per_s(hypochlorous_share: f64) -> f64 {
    2e-4 * hypochlorous_share + 1.2e-3 * (1.0 - hypochlorous_share)
}

/// Davies activity coefficient's exponent for a charge of one: log10(gamma) = -result.
///
/// `ionic_strength` in mol/L, sound up to about 0.5. The dielectric constant is
/// 60954/(T + 116) - 68.937, A = 1.82e6 (eps T)^-1.5 (Davies 1962, as in textbooks).
fn davies_exponent(temperature_c: f64, ionic_strength: f64) -> f64 {
    let t = temperature_c + 273.15;
    let eps = 60_954.0 / (t + 116.0) - 68.937;
    let a = 1.82e6 * libm::pow(eps * t, -1.5);
    let root = libm::sqrt(ionic_strength);
    a * (root / (1.0 + root) - 0.3 * ionic_strength)
}

/// What a litre holds, in conserved totals.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Totals {
    /// Total alkalinity with OCl- in it, eq/L; may be negative in strongly acid water.
    pub alkalinity: f64,
    /// Dissolved inorganic carbon, mol/L, not negative.
    pub carbon: f64,
    /// Free chlorine as Cl2, mol/L, not negative.
    pub chlorine: f64,
}

/// The equilibrium constants of one water.
#[derive(Clone, Debug)]
pub struct Equilibrium {
    k1: f64,
    k1_k2: f64,
    kw: f64,
    ka_hypochlorous: f64,
    pka_hypochlorous: f64,
    kh: f64,
    gamma: f64,
}

impl Equilibrium {
    /// Constants at `temperature_c` (0 to 50) and `ionic_strength` in mol/L (0 to 0.5).
    #[must_use]
    pub fn new(temperature_c: f64, ionic_strength: f64) -> Self {
        let (pk1, pk2, pkh) = carbonate_pk(temperature_c);
        let one = davies_exponent(temperature_c, ionic_strength);
        // A charge of two has four times the exponent, so K2 moves by three of them.
        let pk1 = pk1 - one;
        let pk2 = pk2 - 3.0 * one;
        let pka = hypochlorous_pk(temperature_c) - one;
        Self {
            k1: libm::exp10(-pk1),
            k1_k2: libm::exp10(-pk1 - pk2),
            kw: libm::exp10(-(water_pk(temperature_c) - one)),
            ka_hypochlorous: libm::exp10(-pka),
            pka_hypochlorous: pka,
            kh: libm::exp10(-pkh),
            gamma: libm::exp10(-one),
        }
    }

    /// `pKa` of HOCl at this ionic strength.
    #[must_use]
    pub fn hypochlorous_pka(&self) -> f64 {
        self.pka_hypochlorous
    }

    /// Carbon dioxide in solution in balance with the air, mol/L.
    #[must_use]
    pub fn co2_in_balance(&self) -> f64 {
        self.kh * AIR_CO2_ATM
    }

    /// Carbon dioxide in solution, mol/L, at `ph` with `carbon` mol/L of inorganic carbon.
    #[must_use]
    pub fn co2(&self, ph: f64, carbon: f64) -> f64 {
        let h = libm::exp10(-ph);
        carbon / (1.0 + self.k1 / h + self.k1_k2 / (h * h))
    }

    /// Alkalinity in eq/L at `ph`.
    #[must_use]
    pub fn alkalinity(&self, ph: f64, carbon: f64, chlorine: f64) -> f64 {
        self.charge(libm::exp10(-ph), carbon, chlorine).0
    }

    /// Inorganic carbon in mol/L that gives `ph` with this alkalinity and chlorine; negative when
    /// no carbon could.
    #[must_use]
    pub fn carbon_for(&self, ph: f64, alkalinity: f64, chlorine: f64) -> f64 {
        let rest = alkalinity - self.alkalinity(ph, 0.0, chlorine);
        rest / self.alkalinity_of_one_mole(ph)
    }

    fn alkalinity_of_one_mole(&self, ph: f64) -> f64 {
        let h = libm::exp10(-ph);
        let bicarbonate = self.k1 / h;
        let carbonate = self.k1_k2 / (h * h);
        (bicarbonate + 2.0 * carbonate) / (1.0 + bicarbonate + carbonate)
    }

    /// pH that the totals give, within [`PH_RANGE`].
    ///
    /// Newton's method on ln H, kept inside a bracket that shrinks each time; `guess_ph` near the
    /// answer (the last step's pH) costs one or two turns. Alkalinity falls strictly with H, so
    /// there is one root.
    #[must_use]
    pub fn solve_ph(&self, totals: Totals, guess_ph: f64) -> f64 {
        let (mut low, mut high) = (-PH_RANGE.1 * LN_10, -PH_RANGE.0 * LN_10);
        let mut x = (-guess_ph * LN_10).clamp(low, high);
        for _ in 0..80 {
            let (alkalinity, slope) = self.charge(libm::exp(x), totals.carbon, totals.chlorine);
            let excess = alkalinity - totals.alkalinity;
            if excess > 0.0 {
                low = x;
            } else {
                high = x;
            }
            let mut next = x - excess / slope;
            let inside = next > low && next < high;
            if !inside {
                next = 0.5 * (low + high);
            }
            let moved = libm::fabs(next - x);
            x = next;
            // Convergence is quadratic: a last step this short leaves an error far below an ulp.
            if moved < 1e-9 {
                break;
            }
        }
        -x / LN_10
    }

    /// Alkalinity at an H+ activity of `h`, and its slope by ln H (always negative).
    fn charge(&self, h: f64, carbon: f64, chlorine: f64) -> (f64, f64) {
        let bicarbonate = self.k1 / h;
        let carbonate = self.k1_k2 / (h * h);
        let sum = 1.0 + bicarbonate + carbonate;
        let mean = (bicarbonate + 2.0 * carbonate) / sum;
        let square = (bicarbonate + 4.0 * carbonate) / sum;
        let hydroxide = self.kw / h;
        let hydrogen = h / self.gamma;
        let share = self.ka_hypochlorous / (self.ka_hypochlorous + h);
        let hypochlorite = chlorine * share;
        let alkalinity = carbon * mean + hydroxide - hydrogen + hypochlorite;
        let slope =
            -carbon * (square - mean * mean) - hydroxide - hydrogen - hypochlorite * (1.0 - share);
        (alkalinity, slope)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Ionic strength of the reference water, TDS 1000, Ca 300 (PHREEQC, computed).
    const IONIC: f64 = 0.0198;

    /// mmol of HCl a litre that take water of `ta` mg/L from one pH to another.
    fn acid_mmol(ta: f64, from: f64, to: f64) -> f64 {
        let eq = Equilibrium::new(25.0, IONIC);
        let alkalinity = ta / CACO3_MG_PER_MEQ / 1000.0;
        let carbon = eq.carbon_for(from, alkalinity, 0.0);
        (alkalinity - eq.alkalinity(to, carbon, 0.0)) * 1000.0
    }

    #[test]
    fn constants_at_25_c() {
        // Plummer and Busenberg 1982 at 25 C (computed): 6.352, 10.329, 1.468.
        let (k1, k2, kh) = carbonate_pk(25.0);
        assert!((k1 - 6.352).abs() < 6e-4, "{k1}");
        assert!((k2 - 10.329).abs() < 6e-4, "{k2}");
        assert!((kh - 1.468).abs() < 6e-4, "{kh}");
        // Standard Methods 2330 B at 25 C and 0 C (computed).
        assert!((water_pk(25.0) - 13.9947).abs() < 1e-4);
        assert!((water_pk(0.0) - 14.9407).abs() < 1e-4);
    }

    #[test]
    fn second_constant_over_temperature() {
        // Harned and Scholes 1941 (second-hand), an independent measurement of pK2.
        for (c, pk2) in [
            (10.0, 10.490),
            (20.0, 10.377),
            (25.0, 10.329),
            (30.0, 10.290),
            (40.0, 10.220),
        ] {
            assert!((carbonate_pk(c).1 - pk2).abs() < 0.004, "{c} C");
        }
    }

    #[test]
    fn hypochlorous_share_at_25_c() {
        // Morris 1966 (formula from memory), computed at 25 C.
        for (ph, percent) in [
            (7.0, 77.5),
            (7.2, 68.5),
            (7.5, 52.1),
            (7.8, 35.3),
            (8.0, 25.6),
        ] {
            let share = 100.0 * hypochlorous_share(ph, hypochlorous_pk(25.0));
            assert!((share - percent).abs() < 0.06, "pH {ph}: {share}");
        }
    }

    #[test]
    fn nernst_slope() {
        // Computed from R, T and F.
        for (c, mv) in [(0.0, 54.20), (10.0, 56.18), (25.0, 59.16), (40.0, 62.14)] {
            assert!((nernst_mv_per_ph(c) - mv).abs() < 0.006, "{c} C");
        }
    }

    #[test]
    fn sunlight_half_life_at_the_surface() {
        // Nowell and Hoigne 1992: 12 min at pH 8.
        let share = hypochlorous_share(8.0, hypochlorous_pk(25.0));
        let minutes = core::f64::consts::LN_2 / sunlight_surface_per_s(share) / 60.0;
        assert!((minutes - 12.0).abs() < 0.5, "{minutes}");
    }

    #[test]
    fn acid_demand_against_a_full_speciation_model() {
        // PHREEQC, 25 C, Ca 300, TDS 1000, closed to air (computed), mmol of HCl a litre. Without
        // ion pairs this model may be low by up to 15 %, never high.
        for (ta, from, to, mmol) in [
            (60.0, 7.8, 7.5, 0.0413),
            (60.0, 7.8, 7.2, 0.1069),
            (100.0, 7.8, 7.5, 0.0686),
            (100.0, 7.8, 7.2, 0.1780),
            (150.0, 7.8, 7.5, 0.1028),
            (150.0, 7.8, 7.2, 0.2669),
            (100.0, 8.2, 7.4, 0.16546),
        ] {
            let ratio = acid_mmol(ta, from, to) / mmol;
            assert!(
                (0.84..1.0).contains(&ratio),
                "TA {ta} {from} to {to}: {ratio}"
            );
        }
    }

    #[test]
    fn acid_demand_against_the_same_closed_form() {
        // The same constants and Davies in another program (computed): guards against slips.
        for (ta, from, to, mmol) in [
            (60.0, 7.8, 7.5, 0.03781),
            (100.0, 7.8, 7.2, 0.1713),
            (100.0, 8.2, 7.4, 0.14048),
            (150.0, 7.8, 7.2, 0.25693),
        ] {
            let ours = acid_mmol(ta, from, to);
            assert!((ours / mmol - 1.0).abs() < 0.004, "TA {ta}: {ours} {mmol}");
        }
    }

    #[test]
    fn millilitres_of_acid_for_an_overfeed() {
        // PHREEQC (computed): mL of 31.45 % HCl (9.971 mol/L) a m3 from pH 7.5.
        for (ta, to, ml) in [
            (60.0, 6.5, 41.1),
            (100.0, 6.5, 68.5),
            (150.0, 6.5, 102.8),
            (60.0, 5.0, 114.7),
            (100.0, 5.0, 190.4),
        ] {
            let ours = acid_mmol(ta, 7.5, to) / 9.971 * 1000.0;
            assert!((ours / ml - 1.0).abs() < 0.05, "TA {ta} to {to}: {ours}");
        }
    }

    #[test]
    fn balance_with_the_air() {
        // PHREEQC at 420 uatm, 25 C (computed); the pairs it has and we lack cost 0.04.
        let eq = Equilibrium::new(25.0, IONIC);
        for (ta, ph) in [(60.0, 8.18), (80.0, 8.30), (100.0, 8.39), (150.0, 8.55)] {
            let alkalinity = ta / CACO3_MG_PER_MEQ / 1000.0;
            let (mut low, mut high) = (7.0, 10.0);
            for _ in 0..60 {
                let mid = 0.5 * (low + high);
                let carbon = eq.carbon_for(mid, alkalinity, 0.0);
                if eq.co2(mid, carbon) > eq.co2_in_balance() {
                    low = mid;
                } else {
                    high = mid;
                }
            }
            assert!((low - ph).abs() < 0.05, "TA {ta}: {low}");
        }
    }

    proptest! {
        #[test]
        fn the_solve_inverts_the_alkalinity(
            ph in 4.0_f64..9.9, ta in 5.0_f64..400.0, chlorine in 0.0_f64..3e-4,
            guess in 0.0_f64..14.0, temperature in 0.0_f64..45.0,
        ) {
            let eq = Equilibrium::new(temperature, IONIC);
            let alkalinity = ta / CACO3_MG_PER_MEQ / 1000.0;
            let carbon = eq.carbon_for(ph, alkalinity, chlorine);
            prop_assume!(carbon > 1e-6);
            let totals = Totals { alkalinity, carbon, chlorine };
            prop_assert!((eq.solve_ph(totals, guess) - ph).abs() < 1e-7);
        }

        #[test]
        fn more_acid_never_raises_ph(
            ta in -200.0_f64..300.0, less in 0.0_f64..100.0, carbon in 0.0_f64..6e-3,
        ) {
            let eq = Equilibrium::new(25.0, IONIC);
            let at = |ta: f64| eq.solve_ph(
                Totals { alkalinity: ta / 50_043.0, carbon, chlorine: 3e-5 }, 7.5);
            prop_assert!(at(ta - less) <= at(ta) + 1e-9);
        }
    }
}
