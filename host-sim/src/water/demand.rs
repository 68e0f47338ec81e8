//! What is added to water, and how much of it a change takes.

use super::Water;
use super::chlorine::Bound;
use super::equilibrium::Equilibrium;

/// What one mole of a product adds to the totals of a water. Volume, heat and the salt of chloride
/// are not counted.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Reagent {
    /// Equivalents of alkalinity.
    pub alkalinity: f64,
    /// Moles of carbon.
    pub carbon: f64,
    /// Moles of calcium.
    pub calcium: f64,
    /// Moles of sodium.
    pub sodium: f64,
    /// Moles of free chlorine as Cl2.
    pub chlorine: f64,
}

impl Reagent {
    const NOTHING: Self = Self {
        alkalinity: 0.0,
        carbon: 0.0,
        calcium: 0.0,
        sodium: 0.0,
        chlorine: 0.0,
    };
    /// HCl.
    pub const HYDROCHLORIC: Self = Self {
        alkalinity: -1.0,
        ..Self::NOTHING
    };
    /// H2SO4. Sulfate's own pairs are not counted.
    pub const SULFURIC: Self = Self {
        alkalinity: -2.0,
        ..Self::NOTHING
    };
    /// CO2.
    pub const CARBON_DIOXIDE: Self = Self {
        carbon: 1.0,
        ..Self::NOTHING
    };
    /// NaOH.
    pub const HYDROXIDE: Self = Self {
        alkalinity: 1.0,
        sodium: 1.0,
        ..Self::NOTHING
    };
    /// Na2CO3.
    pub const CARBONATE: Self = Self {
        alkalinity: 2.0,
        carbon: 1.0,
        sodium: 2.0,
        ..Self::NOTHING
    };
    /// NaHCO3.
    pub const BICARBONATE: Self = Self {
        alkalinity: 1.0,
        carbon: 1.0,
        sodium: 1.0,
        ..Self::NOTHING
    };
    /// CaCl2.
    pub const CALCIUM_CHLORIDE: Self = Self {
        calcium: 1.0,
        ..Self::NOTHING
    };
    /// NaOCl with the mole of NaCl that its making leaves in it; without excess NaOH.
    pub const HYPOCHLORITE: Self = Self {
        alkalinity: 1.0,
        sodium: 2.0,
        chlorine: 1.0,
        ..Self::NOTHING
    };
    /// Cl2 dissolving: HOCl and HCl.
    pub const CHLORINE_GAS: Self = Self {
        alkalinity: -1.0,
        chlorine: 1.0,
        ..Self::NOTHING
    };
    /// Chlorine used up, by sunlight or bathers: HOCl becomes H+ and Cl-, which takes hypochlorite's own
    /// alkali away again.
    pub const CHLORINE_USED: Self = Self {
        alkalinity: -1.0,
        chlorine: -1.0,
        ..Self::NOTHING
    };
}

impl Water {
    /// Adds `mol_per_l` of a reagent.
    pub fn add(&mut self, reagent: Reagent, mol_per_l: f64) {
        self.alkalinity += reagent.alkalinity * mol_per_l;
        self.carbon += reagent.carbon * mol_per_l;
        self.calcium += reagent.calcium * mol_per_l;
        self.sodium += reagent.sodium * mol_per_l;
        self.chlorine += reagent.chlorine * mol_per_l;
    }

    /// This water with `mol_per_l` of a reagent in it.
    #[must_use]
    pub fn with(mut self, reagent: Reagent, mol_per_l: f64) -> Self {
        self.add(reagent, mol_per_l);
        self
    }
}

/// Share of HOCl in HOCl and OCl-, 0 to 1, for a `pka` that fits the pH scale used.
#[must_use]
pub fn hypochlorous_share(ph: f64, pka: f64) -> f64 {
    1.0 / (1.0 + libm::exp10(ph - pka))
}

impl Equilibrium {
    /// Moles of `reagent` a litre, 0 or more, that bring `water` to `ph`, closed to the air and without
    /// scale. `None` if the reagent cannot: it moves pH the other way, or runs out of carbon or chlorine on the way.
    ///
    /// Acid demand is this with an acid, base demand with a base. The constants stay as they are: the salt
    /// that a dose adds is not counted.
    #[must_use]
    pub fn to_reach(&self, water: &Water, ph: f64, reagent: Reagent) -> Option<f64> {
        let missing = |amount: f64| {
            let with = water.with(reagent, amount);
            self.alkalinity_at(&with, ph) - with.alkalinity
        };
        // Linear for acids and strong bases, nearly so for the rest: secants end in a few turns.
        let (mut one, mut missing_one) = (0.0, missing(0.0));
        let mut two = 1e-4;
        for _ in 0..50 {
            let missing_two = missing(two);
            let slope = (missing_two - missing_one) / (two - one);
            let next = two - missing_two / slope;
            // Also not a number.
            if !(-1.0..=1.0).contains(&next) {
                return None;
            }
            (one, missing_one) = (two, missing_two);
            two = next;
            // A thousand-millionth of a pH.
            if (two - one).abs() < 1e-12 {
                break;
            }
        }
        let end = water.with(reagent, two);
        let sound = two > -1e-12 && end.carbon >= 0.0 && end.chlorine >= 0.0;
        // A pair of totals may have its root at another pH only if the secants have not ended.
        let reached = (self.solve(&end).ph - ph).abs() < 1e-6;
        (sound && reached).then_some(two.max(0.0))
    }

    /// Total free chlorine in mol/L with which `water` has `hypochlorous` mol/L of HOCl at `ph`: the
    /// more cyanurate, the more is held in reserve.
    #[must_use]
    pub fn chlorine_for(&self, water: &Water, ph: f64, hypochlorous: f64) -> f64 {
        Bound::at(self, libm::exp10(-ph), water.cyanurate).chlorine_for(hypochlorous)
    }
}
