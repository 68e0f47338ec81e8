//! Carbonate with its ion pairs at one activity of H+.
//!
//! Invariant: what is free and what is paired adds up to the totals of carbon, calcium and sodium.
//!
//! With u = free CO3-- everything else is a function of u: pairs take calcium as
//! `Ca = Ca_total / (1 + beta u)`. Carbon and alkalinity rise strictly with u and bend downwards, so
//! Newton's method from any u of 0 or more goes to the one root without a bracket.

use super::equilibrium::Equilibrium;

/// Relative step of u below which the solve ends. Convergence is quadratic, and only the pairs bend
/// the line: less than 1e-12 is left.
const STEP_MIN: f64 = 1e-6;
/// Turns at most; from a cold start it takes four or five.
const TURNS_MAX: usize = 40;

/// Ratios to free CO3-- at one activity of H+.
#[derive(Clone, Copy, Debug)]
pub(super) struct Ratios {
    /// HCO3- over CO3--.
    bicarbonate: f64,
    /// CO2 over CO3--.
    co2: f64,
    calcium: f64,
    sodium: f64,
    ca_hco3: f64,
    ca_co3: f64,
    na_hco3: f64,
    na_co3: f64,
}

/// Carbonate species in mol/L.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct CarbonSpecies {
    /// CO2 in solution.
    pub co2: f64,
    /// Free HCO3-.
    pub bicarbonate: f64,
    /// Free CO3--.
    pub carbonate: f64,
    /// Free Ca++.
    pub calcium: f64,
    /// Free Na+.
    pub sodium: f64,
    /// CaHCO3+.
    pub ca_hco3: f64,
    /// CaCO3 in solution.
    pub ca_co3: f64,
    /// NaHCO3 in solution.
    pub na_hco3: f64,
    /// NaCO3-.
    pub na_co3: f64,
}

/// Totals at one u, and their slopes.
struct Sums {
    carbon: f64,
    carbon_by_u: f64,
    carbon_by_ln_h: f64,
    alkalinity: f64,
    alkalinity_by_u: f64,
    alkalinity_by_ln_h: f64,
}

/// What a solve for u gives.
pub(super) struct CarbonPart {
    /// Free CO3--, mol/L.
    pub(super) u: f64,
    /// Carbonate alkalinity, eq/L.
    pub(super) alkalinity: f64,
    /// Its slope by ln H while carbon stands; never positive.
    pub(super) slope: f64,
    /// Slope of ln u by ln H while carbon stands: the next guess.
    pub(super) ln_u_by_ln_h: f64,
}

impl Ratios {
    pub(super) fn at(eq: &Equilibrium, h: f64, calcium: f64, sodium: f64) -> Self {
        let bicarbonate = h / eq.k2;
        Self {
            bicarbonate,
            co2: bicarbonate * h / eq.k1,
            calcium,
            sodium,
            ca_hco3: eq.ca_hco3 * bicarbonate,
            ca_co3: eq.ca_co3,
            na_hco3: eq.na_hco3 * bicarbonate,
            na_co3: eq.na_co3,
        }
    }

    fn sums(&self, u: f64) -> Sums {
        let ca = pair(self.calcium, self.ca_hco3, self.ca_co3, u);
        let na = pair(self.sodium, self.na_hco3, self.na_co3, u);
        let (b, c) = (self.bicarbonate, self.co2);
        Sums {
            carbon: u * (1.0 + b + c + ca.carbon + na.carbon),
            carbon_by_u: 1.0 + b + c + ca.carbon_by_u + na.carbon_by_u,
            carbon_by_ln_h: u * (b + 2.0 * c + ca.carbon_by_ln_h + na.carbon_by_ln_h),
            alkalinity: u * (2.0 + b + ca.alkalinity + na.alkalinity),
            alkalinity_by_u: 2.0 + b + ca.alkalinity_by_u + na.alkalinity_by_u,
            alkalinity_by_ln_h: u * (b + ca.alkalinity_by_ln_h + na.alkalinity_by_ln_h),
        }
    }

    /// For a total of `carbon` mol/L, starting at the guess `u`.
    pub(super) fn of_carbon(&self, carbon: f64, mut u: f64) -> CarbonPart {
        let mut sums = self.sums(u);
        for _ in 0..TURNS_MAX {
            let step = (carbon - sums.carbon) / sums.carbon_by_u;
            // From above the root a step may overshoot zero; from zero it never does.
            u = (u + step).max(0.0);
            sums = self.sums(u);
            if step.abs() <= STEP_MIN * u {
                break;
            }
        }
        let u_by_ln_h = -sums.carbon_by_ln_h / sums.carbon_by_u;
        CarbonPart {
            u,
            alkalinity: sums.alkalinity,
            slope: sums.alkalinity_by_ln_h + sums.alkalinity_by_u * u_by_ln_h,
            ln_u_by_ln_h: if u > 0.0 { u_by_ln_h / u } else { 0.0 },
        }
    }

    /// Total carbon in mol/L that has `alkalinity` eq/L of carbonate alkalinity, not negative.
    pub(super) fn carbon_for(&self, alkalinity: f64) -> f64 {
        let mut u = 0.0;
        let mut sums = self.sums(u);
        for _ in 0..TURNS_MAX {
            let step = (alkalinity - sums.alkalinity) / sums.alkalinity_by_u;
            u += step;
            sums = self.sums(u);
            if step.abs() <= STEP_MIN * u {
                break;
            }
        }
        sums.carbon
    }

    /// By how much CO2 rises for a mole more of carbon while all alkalinity stands, whose slope by ln H
    /// is `slope`.
    pub(super) fn co2_by_carbon(&self, u: f64, slope: f64) -> f64 {
        let sums = self.sums(u);
        let u_by_ln_h = -sums.carbon_by_ln_h / sums.carbon_by_u;
        let ln_h_by_carbon = -sums.alkalinity_by_u / sums.carbon_by_u / slope;
        self.co2 * (1.0 / sums.carbon_by_u + (2.0 * u + u_by_ln_h) * ln_h_by_carbon)
    }

    /// All species at free CO3-- `u`.
    pub(super) fn species(&self, u: f64) -> CarbonSpecies {
        let calcium = self.calcium / (1.0 + (self.ca_hco3 + self.ca_co3) * u);
        let sodium = self.sodium / (1.0 + (self.na_hco3 + self.na_co3) * u);
        CarbonSpecies {
            co2: self.co2 * u,
            bicarbonate: self.bicarbonate * u,
            carbonate: u,
            calcium,
            sodium,
            ca_hco3: calcium * self.ca_hco3 * u,
            ca_co3: calcium * self.ca_co3 * u,
            na_hco3: sodium * self.na_hco3 * u,
            na_co3: sodium * self.na_co3 * u,
        }
    }
}

struct Pair {
    carbon: f64,
    carbon_by_u: f64,
    carbon_by_ln_h: f64,
    alkalinity: f64,
    alkalinity_by_u: f64,
    alkalinity_by_ln_h: f64,
}

/// What a metal of `total` mol/L holds, for each mole of free CO3--, in pairs with HCO3- (which grow
/// with H+) and with CO3--.
fn pair(total: f64, hco3: f64, co3: f64, u: f64) -> Pair {
    let free = 1.0 / (1.0 + (hco3 + co3) * u);
    let once = total * free;
    let twice = once * free;
    let charge = hco3 + 2.0 * co3;
    Pair {
        carbon: once * (hco3 + co3),
        carbon_by_u: twice * (hco3 + co3),
        carbon_by_ln_h: twice * hco3,
        alkalinity: once * charge,
        alkalinity_by_u: twice * charge,
        alkalinity_by_ln_h: once * hco3 - twice * charge * u * hco3,
    }
}
