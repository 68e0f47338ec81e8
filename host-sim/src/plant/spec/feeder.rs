//! Feeders, their drums and what they give.

use super::super::interface::Product;

/// What a feeder gives and how fast, as it really is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum FeederKind {
    /// A pump of hydrochloric acid.
    Acid {
        /// Rate, mL/min, 0.1 to 100,000.
        ml_per_min: f64,
        /// Strength, mol of HCl a litre, 0.1 to 12.5; 31.45 % at 20 C is 9.971.
        mol_per_l: f64,
    },
    /// A pump of sodium hypochlorite.
    Hypochlorite {
        /// Rate, mL/min, 0.1 to 100,000.
        ml_per_min: f64,
        /// Strength, g of available chlorine (as Cl2) a litre, 1 to 250; 12.5 trade % is 125.
        g_per_l: f64,
    },
    /// A chlorine generator's cell.
    Generator {
        /// Output, g of Cl2 an hour, 0.1 to 100,000.
        g_per_h: f64,
        /// A flow switch of its own is fitted.
        cell_switch: bool,
        /// How much faster carbon dioxide leaves the water while the cell runs, cm/h, 0 to 20: its
        /// hydrogen and the stir of its flow carry it off (that it does is common practice, no
        /// source; the size is the scenario's).
        co2_strip_cm_h: f64,
    },
}

impl FeederKind {
    /// The product.
    #[must_use]
    pub fn product(self) -> Product {
        match self {
            Self::Acid { .. } => Product::Acid,
            Self::Hypochlorite { .. } => Product::Hypochlorite,
            Self::Generator { .. } => Product::GeneratorChlorine,
        }
    }
}

/// A feeder, its drive and its drum.
#[derive(Clone, Debug, PartialEq)]
pub struct FeederSpec {
    /// Product, rate and strength.
    pub kind: FeederKind,
    /// True rate over the rate in `kind`, 0 to 100: what a person entered may be wrong.
    pub rate_factor: f64,
    /// Pull-in time of its contact, ms, 0 to 10,000.
    pub on_delay_ms: u32,
    /// Drop-out time of its contact, ms, 0 to 10,000.
    pub off_delay_ms: u32,
    /// Drive feedback is fitted.
    pub feedback: bool,
    /// Stock at the start, L, 0 to 100,000; ignored for a generator.
    pub drum_l: f64,
    /// A level switch is fitted that says empty below this, L.
    pub level_switch_l: Option<f64>,
    /// Free alkali in the product besides what its chlorine brings, eq/L, 0 to 5. Hypochlorite is
    /// sold with some sodium hydroxide in it.
    pub free_alkali_eq_l: f64,
    /// How the product in the drum loses strength; `None`: it keeps.
    pub decay: Option<DrumDecay>,
}

/// Loss of strength of hypochlorite in its drum, of second order: at full strength half is gone in
/// this time, at half strength a quarter more takes as long again (order from memory; the half-life
/// is the scenario's).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DrumDecay {
    /// Time in which half of the full strength goes at 25 C, days, 1 to 10,000.
    pub half_life_days: f64,
    /// Temperature of the drum, C, 0 to 60. 10 C more is about 3.5 times as fast (from memory).
    pub drum_c: f64,
}

impl DrumDecay {
    /// How much faster than at 25 C it goes.
    #[must_use]
    pub fn speed(&self) -> f64 {
        libm::pow(3.5, (self.drum_c - 25.0) / 10.0)
    }
}

impl FeederSpec {
    /// A feeder of `kind` with a full drum of 60 L, feedback, no level switch and 50 ms drop-out.
    #[must_use]
    pub fn new(kind: FeederKind) -> Self {
        Self {
            kind,
            rate_factor: 1.0,
            on_delay_ms: 30,
            off_delay_ms: 50,
            feedback: true,
            drum_l: 60.0,
            level_switch_l: None,
            free_alkali_eq_l: 0.0,
            decay: None,
        }
    }
}
