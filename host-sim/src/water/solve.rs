//! pH from what the water holds, and back.

use core::f64::consts::LN_10;

use super::Water;
use super::carbon::{CarbonPart, CarbonSpecies, Ratios};
use super::chlorine::{Bound, ChlorinePart, ChlorineSpecies};
use super::equilibrium::Equilibrium;

/// Smallest and largest pH that a solve returns; water beyond them gets the bound.
pub const PH_RANGE: (f64, f64) = (0.0, 14.0);

/// Change of ln H below which the solve ends. Convergence is quadratic: a last step this short leaves
/// less than 1e-12.
const STEP_MIN: f64 = 1e-6;
const TURNS_MAX: usize = 80;

/// A water in equilibrium, and where the next solve starts.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Solved {
    /// pH, the activity scale.
    pub ph: f64,
    /// Buffer: by how many eq/L alkalinity rises for a pH more while carbon stands; positive.
    pub buffer: f64,
    /// Activity of H+.
    pub hydrogen: f64,
    /// Free CO3--, mol/L.
    pub carbonate: f64,
    /// HOCl, mol/L.
    pub hypochlorous: f64,
}

/// Alkalinity at one activity of H+, with its parts.
struct Charge {
    alkalinity: f64,
    slope: f64,
    carbon: CarbonPart,
    chlorine: ChlorinePart,
}

impl Equilibrium {
    /// Alkalinity of everything but carbonate, eq/L, and its slope by ln H.
    fn other(&self, water: &Water, h: f64, hypochlorous: f64) -> (f64, f64, ChlorinePart) {
        let chlorine =
            Bound::at(self, h, water.cyanurate).of_chlorine(water.chlorine, hypochlorous);
        let hydroxide = self.kw / h;
        let hydrogen = h / self.gamma;
        let share = self.boric / (self.boric + h);
        let borate = water.borate * share;
        let alkalinity = hydroxide - hydrogen + borate + chlorine.alkalinity;
        let slope = -hydroxide - hydrogen - borate * (1.0 - share) + chlorine.slope;
        (alkalinity, slope, chlorine)
    }

    fn charge(&self, water: &Water, h: f64, carbonate: f64, hypochlorous: f64) -> Charge {
        let ratios = Ratios::at(self, h, water.calcium, water.sodium);
        let carbon = ratios.of_carbon(water.carbon, carbonate);
        let (other, other_slope, chlorine) = self.other(water, h, hypochlorous);
        Charge {
            alkalinity: carbon.alkalinity + other,
            slope: carbon.slope + other_slope,
            carbon,
            chlorine,
        }
    }

    /// pH of `water`, within [`PH_RANGE`], starting from nothing.
    #[must_use]
    pub fn solve(&self, water: &Water) -> Solved {
        let guess = Solved {
            ph: 7.5,
            buffer: 0.0,
            hydrogen: libm::exp10(-7.5),
            carbonate: 0.0,
            hypochlorous: 0.0,
        };
        self.solve_from(water, &guess)
    }

    /// pH of `water`, starting where the last solve ended: one or two turns when little has changed.
    /// From any start the answer is the same to 1e-9; nothing is allocated.
    ///
    /// Newton's method on ln H, kept inside a bracket that is halved where Newton's steps do not shrink. Alkalinity falls strictly with H
    /// while the totals stand, so there is one root.
    #[must_use]
    pub fn solve_from(&self, water: &Water, last: &Solved) -> Solved {
        let (mut low, mut high) = (-PH_RANGE.1 * LN_10, -PH_RANGE.0 * LN_10);
        let mut x = (-last.ph * LN_10).clamp(low, high);
        let mut h = libm::exp(x);
        let (mut carbonate, mut hypochlorous) = (last.carbonate.max(0.0), last.hypochlorous);
        let (mut slope, mut moved) = (-1.0, 2.0 * (high - low));
        for _ in 0..TURNS_MAX {
            let charge = self.charge(water, h, carbonate, hypochlorous);
            slope = charge.slope;
            let excess = charge.alkalinity - water.alkalinity;
            if excess > 0.0 {
                low = x;
            } else {
                high = x;
            }
            let step = -excess / slope;
            hypochlorous = charge.chlorine.x;
            carbonate = charge.carbon.u;
            if step.abs() < STEP_MIN {
                // At the root one end of the bracket is x itself: the step may not be judged by it.
                // The bracketed sum is exp(step) to below an ulp.
                x += step;
                h *= 1.0 + step * (1.0 + 0.5 * step);
                carbonate *= 1.0 + charge.carbon.ln_u_by_ln_h * step;
                hypochlorous += charge.chlorine.x_by_ln_h * step;
                break;
            }
            let newton = x + step;
            // Newton alone can go to and fro between two buffers, inside the bracket all the time.
            let shrinks = step.abs() < 0.5 * moved.abs();
            let next = if newton > low && newton < high && shrinks {
                newton
            } else {
                0.5 * (low + high)
            };
            moved = next - x;
            x = next;
            h = libm::exp(x);
            // Where the species will be if they follow their slopes: guesses only.
            carbonate = (carbonate * (1.0 + charge.carbon.ln_u_by_ln_h * moved)).max(0.0);
            hypochlorous += charge.chlorine.x_by_ln_h * moved;
        }
        Solved {
            ph: -x / LN_10,
            buffer: -slope * LN_10,
            hydrogen: h,
            carbonate,
            hypochlorous,
        }
    }

    /// Total alkalinity in eq/L that `water` would have at `ph`, its carbon and all else unchanged.
    #[must_use]
    pub fn alkalinity_at(&self, water: &Water, ph: f64) -> f64 {
        self.charge(water, libm::exp10(-ph), 0.0, 0.0).alkalinity
    }

    /// Part of the alkalinity at `ph` that is not carbonate: OH-, H+, borate, OCl-, cyanurates; eq/L.
    #[must_use]
    pub fn alkalinity_of_the_rest(&self, water: &Water, ph: f64) -> f64 {
        self.other(water, libm::exp10(-ph), 0.0).0
    }

    /// Dissolved inorganic carbon, mol/L, with which `water` has `ph` at its alkalinity (its own
    /// carbon is not read). `None` if what is not carbonate has more alkalinity than that already.
    #[must_use]
    pub fn carbon_for(&self, water: &Water, ph: f64) -> Option<f64> {
        let h = libm::exp10(-ph);
        let left = water.alkalinity - self.other(water, h, 0.0).0;
        let ratios = Ratios::at(self, h, water.calcium, water.sodium);
        (left >= 0.0).then(|| ratios.carbon_for(left))
    }

    /// Species of carbon, calcium and sodium in a solved water.
    #[must_use]
    pub fn carbon_species(&self, water: &Water, solved: &Solved) -> CarbonSpecies {
        let ratios = Ratios::at(self, solved.hydrogen, water.calcium, water.sodium);
        ratios.species(ratios.of_carbon(water.carbon, solved.carbonate).u)
    }

    /// Species of chlorine and cyanurate in a solved water.
    #[must_use]
    pub fn chlorine_species(&self, water: &Water, solved: &Solved) -> ChlorineSpecies {
        let bound = Bound::at(self, solved.hydrogen, water.cyanurate);
        bound.species(bound.of_chlorine(water.chlorine, solved.hypochlorous).x)
    }

    /// CO2 in solution, mol/L.
    #[must_use]
    pub fn co2(&self, solved: &Solved) -> f64 {
        solved.carbonate * solved.hydrogen / self.k2 * solved.hydrogen / self.k1
    }

    /// Saturation index of calcite: log10 of the ions' product over its constant. Above 0 scale can
    /// form, below 0 plaster dissolves. Minus infinity without calcium or carbon.
    #[must_use]
    pub fn calcite_index(&self, water: &Water, solved: &Solved) -> f64 {
        let species = self.carbon_species(water, solved);
        libm::log10(species.calcium * species.carbonate) + self.log_calcite
    }
}
