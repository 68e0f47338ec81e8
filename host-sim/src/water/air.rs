//! CO2 between water and air.

use core::f64::consts::LN_10;

use super::carbon::Ratios;
use super::equilibrium::Equilibrium;
use super::{Solved, Water};

/// Partial pressure of carbon dioxide in the air, atm: 420 uatm, about that of the early 2020s.
pub const AIR_CO2_ATM: f64 = 420e-6;

/// How fast CO2 passes the surface: flux = velocity x (CO2 - CO2 in balance).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ExchangeStep {
    /// Piston velocity, cm/h: 0.5 to 8 by general gas-transfer laws (Wanninkhof; Jiang); no coefficient measured in a
    /// pool is known here.
    pub velocity_cm_per_h: f64,
    /// Volume over surface, m.
    pub depth_m: f64,
    /// CO2 over the water, atm.
    pub air_atm: f64,
}

impl ExchangeStep {
    /// Change of dissolved carbon, mol/L, in `seconds`: negative when CO2 leaves. Alkalinity stands.
    ///
    /// The rate is followed with its own slope (one step of an exponential method): steps of up to an
    /// hour at 8 cm/h and 0.5 m do not pass the balance. Take longer times in parts.
    #[must_use]
    pub fn carbon_change(
        &self,
        eq: &Equilibrium,
        water: &Water,
        solved: &Solved,
        seconds: f64,
    ) -> f64 {
        let excess = eq.co2(solved) - eq.co2_in_balance(self.air_atm);
        let per_s = self.velocity_cm_per_h / 100.0 / 3600.0 / self.depth_m;
        let slope = eq.co2_by_carbon(water, solved);
        excess / slope * libm::expm1(-per_s * slope * seconds)
    }
}

impl Equilibrium {
    /// By how much CO2 rises for a mole more of carbon while alkalinity stands; positive.
    #[must_use]
    pub fn co2_by_carbon(&self, water: &Water, solved: &Solved) -> f64 {
        let ratios = Ratios::at(self, solved.hydrogen, water.calcium, water.sodium);
        ratios.co2_by_carbon(solved.carbonate, -solved.buffer / LN_10)
    }
}
