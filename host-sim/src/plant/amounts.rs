//! What a body of water holds, as amounts that are conserved.

use crate::water::{Reagent, Water};

/// Litres of water and moles of what is in it.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Amounts {
    /// Water, L.
    pub water_l: f64,
    /// Total alkalinity, eq; may be negative.
    pub alkalinity_eq: f64,
    /// Inorganic carbon, mol.
    pub carbon_mol: f64,
    /// Calcium, mol.
    pub calcium_mol: f64,
    /// Sodium, mol.
    pub sodium_mol: f64,
    /// Cyanuric acid in all its forms, mol.
    pub cyanurate_mol: f64,
    /// Boric acid and borate, mol.
    pub borate_mol: f64,
    /// Free chlorine, mol of Cl2.
    pub chlorine_mol: f64,
}

impl Amounts {
    /// What so many litres of a water hold.
    #[must_use]
    pub fn of(water: &Water, litres: f64) -> Self {
        Self {
            water_l: litres,
            alkalinity_eq: water.alkalinity * litres,
            carbon_mol: water.carbon * litres,
            calcium_mol: water.calcium * litres,
            sodium_mol: water.sodium * litres,
            cyanurate_mol: water.cyanurate * litres,
            borate_mol: water.borate * litres,
            chlorine_mol: water.chlorine * litres,
        }
    }

    /// Water alone.
    #[must_use]
    pub fn pure(litres: f64) -> Self {
        Self {
            water_l: litres,
            ..Self::default()
        }
    }

    /// What so many moles of a reagent bring or, below 0, take.
    #[must_use]
    pub fn reagent(reagent: Reagent, mol: f64) -> Self {
        Self {
            water_l: 0.0,
            alkalinity_eq: reagent.alkalinity * mol,
            carbon_mol: reagent.carbon * mol,
            calcium_mol: reagent.calcium * mol,
            sodium_mol: reagent.sodium * mol,
            cyanurate_mol: 0.0,
            borate_mol: 0.0,
            chlorine_mol: reagent.chlorine * mol,
        }
    }

    /// As concentrations at a temperature. There has to be water.
    #[must_use]
    pub fn water(&self, temperature_c: f64) -> Water {
        let per_l = 1.0 / self.water_l;
        Water {
            temperature_c,
            alkalinity: self.alkalinity_eq * per_l,
            carbon: self.carbon_mol * per_l,
            calcium: self.calcium_mol * per_l,
            sodium: self.sodium_mol * per_l,
            cyanurate: self.cyanurate_mol * per_l,
            borate: self.borate_mol * per_l,
            chlorine: self.chlorine_mol * per_l,
        }
    }

    /// This share of all of it.
    #[must_use]
    pub fn share(&self, share: f64) -> Self {
        self.map(|value| value * share)
    }

    /// Both together.
    #[must_use]
    pub fn plus(&self, other: &Self) -> Self {
        self.zip(other, |a, b| a + b)
    }

    /// This without the other.
    #[must_use]
    pub fn minus(&self, other: &Self) -> Self {
        self.zip(other, |a, b| a - b)
    }

    /// Each figure, in the order of the fields.
    #[must_use]
    pub fn figures(&self) -> [f64; 8] {
        [
            self.water_l,
            self.alkalinity_eq,
            self.carbon_mol,
            self.calcium_mol,
            self.sodium_mol,
            self.cyanurate_mol,
            self.borate_mol,
            self.chlorine_mol,
        ]
    }

    fn map(&self, f: impl Fn(f64) -> f64) -> Self {
        self.zip(self, |a, _| f(a))
    }

    fn zip(&self, other: &Self, f: impl Fn(f64, f64) -> f64) -> Self {
        Self {
            water_l: f(self.water_l, other.water_l),
            alkalinity_eq: f(self.alkalinity_eq, other.alkalinity_eq),
            carbon_mol: f(self.carbon_mol, other.carbon_mol),
            calcium_mol: f(self.calcium_mol, other.calcium_mol),
            sodium_mol: f(self.sodium_mol, other.sodium_mol),
            cyanurate_mol: f(self.cyanurate_mol, other.cyanurate_mol),
            borate_mol: f(self.borate_mol, other.borate_mol),
            chlorine_mol: f(self.chlorine_mol, other.chlorine_mol),
        }
    }
}
