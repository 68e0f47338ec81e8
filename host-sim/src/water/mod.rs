//! Chemistry of pool water: what acid does to it, how much of its chlorine works, whether it scales.
//!
//! Invariant: pH is never stored. A [`Water`] holds conserved totals, and pH follows from them.
//!
//! ```
//! use dosewarden_sim::water::{Reagent, WaterTest};
//!
//! let test = WaterTest { ph: 7.8, ..WaterTest::of(25.0, 100.0, 300.0, 1000.0) };
//! let mut water = test.water()?;
//! let eq = water.equilibrium();
//! let start = eq.solve(&water);
//! let acid = eq.to_reach(&water, 7.2, Reagent::HYDROCHLORIC).expect("reachable");
//! assert!((acid * 1000.0 - 0.178).abs() < 0.005, "mol/L of HCl");
//! water.add(Reagent::HYDROCHLORIC, acid);
//! let end = eq.solve_from(&water, &start); // starts where the last solve ended
//! assert!((end.ph - 7.2).abs() < 1e-6);
//! # Ok::<(), dosewarden_sim::water::WaterError>(())
//! ```
//!
//! # What alkalinity is here
//! **Total** alkalinity, as a titration finds it: the acid that the water takes up above CO2, H3Cy (cyanuric
//! acid), B(OH)3, HOCl and H+:
//!
//! `[HCO3-] + 2 [CO3--] + pairs + [OH-] - [H+] + [B(OH)4-] + [OCl-] + [H2Cy-] + [HClCy-] + 2 [ClCy--] + [Cl2Cy-]`
//!
//! So a test's figure holds cyanurate and borate, and **carbonate alkalinity** is what is left without
//! them ([`Equilibrium::alkalinity_of_the_rest`]). A real titration ends near pH 4.5, where 0.4 % of the cyanurate is still
//! charged and the rest of the definition holds to 0.03 meq/L; kits add thiosulfate and so titrate no OCl-,
//! up to 2 mg/L less than this sum at 5 mg/L of chlorine. The total stands when CO2 goes or comes; acid lowers it one for
//! one.
//!
//! # Units
//! mol/L and eq/L, Celsius, seconds. PHREEQC counts by kilogram of water, this module by litre of pool
//! water and takes the two as one: under 1 % apart over the range.
//!
//! # Range and error
//! 2 to 40 C, TA 40 to 200, Ca 100 to 600, TDS 300 to 6000 mg/L, pH 6.5 to 8.5, compared with PHREEQC: the table
//! is below. Outside, to the bounds that [`WaterTest::water`] takes, nothing is claimed. Not counted: magnesium,
//! sulfate and phosphate (their pairs with calcium and carbonate shift pH by some 0.01 in usual water), silicate.
#![doc = include_str!("../../WATER.md")]

mod activity;
mod air;
mod carbon;
mod chlorine;
mod constants;
mod demand;
mod equilibrium;
mod solve;
mod state;
mod stock;
#[cfg(test)]
mod tests;
pub mod units;

pub use activity::{Davies, davies_a};
pub use air::{AIR_CO2_ATM, ExchangeStep};
pub use carbon::CarbonSpecies;
pub use chlorine::ChlorineSpecies;
pub use constants::{
    Carbonate, Cyanurate, CyanurateSet, log_boric, log_hypochlorous, log_na_co3, log_na_hco3,
    log_water, nernst_mv_per_ph, van_t_hoff,
};
pub use demand::{Reagent, hypochlorous_share};
pub use equilibrium::Equilibrium;
pub use solve::{PH_RANGE, Solved};
pub use state::{Water, WaterError, WaterTest};
pub use stock::{Stock, StockError, trade_percent_g_per_l, water_density_kg_per_m3};
