//! A well-mixed volume of water: what it holds, and its pH as of the last solve.
//!
//! Invariant: amounts change only by [`Cell::gain`] and [`Cell::lose`], which count what passes, so
//! that each balance can be closed against what was counted.

use super::amounts::Amounts;
use crate::water::{Equilibrium, ExchangeStep, Reagent, Solved, Water};

/// A solve is made when the chlorine has moved by this much, mol/L: HOCl, and with it ORP, by under 0.2 mV from
/// 0.05 mg/L up.
const CHLORINE_MOVED_MIN: f64 = 3e-9;
/// And when all totals together have moved by so much of what moves the pH by 1, which the last solve gave: pH by
/// under 1e-4. Half of that, since a mole of carbonate is two equivalents.
const MOVED_PH_MIN: f64 = 5e-5;
/// The constants are made anew past these: pH by under 0.001.
const CELSIUS_MIN: f64 = 0.1;
const IONIC_SHARE_MIN: f64 = 0.005;

/// A well-mixed volume.
#[derive(Clone, Debug)]
pub(super) struct Cell {
    now: Amounts,
    celsius: f64,
    equilibrium: Equilibrium,
    made_at: (f64, f64),
    solved: Solved,
    solved_at: Water,
    /// Chlorine as HOCl and OCl- over all of it, as of the last solve.
    loose: f64,
    /// What passed the surface in a step since the last solve, mol/L: while nothing is solved anew,
    /// as much passes in the next one.
    breath: Option<(ExchangeStep, f64, f64)>,
    /// The share of the chlorine that was used up last, and the exponent that it is of.
    decay: (f64, f64),
}

/// What came and what went, since the start.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Counted {
    /// Came.
    pub came: Amounts,
    /// Went.
    pub went: Amounts,
}

impl Cell {
    /// So many litres of a water.
    pub(super) fn new(water: &Water, litres: f64) -> Self {
        let equilibrium = water.equilibrium();
        let solved = equilibrium.solve(water);
        let mut cell = Self {
            now: Amounts::of(water, litres),
            celsius: water.temperature_c,
            equilibrium,
            made_at: (water.temperature_c, water.ionic_strength()),
            solved,
            solved_at: *water,
            loose: 1.0,
            breath: None,
            decay: (0.0, 0.0),
        };
        cell.loose = cell.loose_share();
        cell
    }

    pub(super) fn amounts(&self) -> &Amounts {
        &self.now
    }

    pub(super) fn solved(&self) -> &Solved {
        &self.solved
    }

    /// Water as of now.
    pub(super) fn water(&self) -> Water {
        self.now.water(self.celsius)
    }

    pub(super) fn equilibrium(&self) -> &Equilibrium {
        &self.equilibrium
    }

    /// Share of the chlorine that no cyanurate holds, 0 to 1.
    pub(super) fn loose(&self) -> f64 {
        self.loose
    }

    pub(super) fn gain(&mut self, amounts: &Amounts, counted: &mut Counted) {
        self.now = self.now.plus(amounts);
        counted.came = counted.came.plus(amounts);
    }

    pub(super) fn lose(&mut self, amounts: &Amounts, counted: &mut Counted) {
        self.now = self.now.minus(amounts);
        counted.went = counted.went.plus(amounts);
    }

    /// Litres go as they are, with what is in them; at most all but a drop.
    pub(super) fn overflow(&mut self, litres: f64, counted: &mut Counted) {
        let share = (litres / self.now.water_l).clamp(0.0, 0.999);
        let gone = self.now.share(share);
        self.lose(&gone, counted);
    }

    /// Chlorine is used up: HOCl becomes H+ and Cl-.
    pub(super) fn use_chlorine(&mut self, mol: f64, counted: &mut Counted) {
        let used = Amounts::reagent(Reagent::CHLORINE_USED, -mol);
        self.lose(&used, counted);
    }

    /// Share of the chlorine that goes at `rate` (1/h) in some hours; most steps ask as the one before.
    pub(super) fn decayed(&mut self, rate: f64, hours: f64) -> f64 {
        let exponent = -rate * hours;
        if self.decay.0 != exponent {
            // expm1 is exactly 0 for a rate of 0 and never beyond -1, so never more than there is.
            self.decay = (exponent, -libm::expm1(exponent));
        }
        self.decay.1
    }

    /// Carbon dioxide passes the surface. Gives what went out, mol; below 0, what came in.
    pub(super) fn breathe(
        &mut self,
        surface: &ExchangeStep,
        seconds: f64,
        counted: &mut Counted,
    ) -> f64 {
        let change = match self.breath {
            Some((at, time, change)) if at == *surface && time == seconds => change,
            _ => surface.carbon_change(&self.equilibrium, &self.solved_at, &self.solved, seconds),
        };
        self.breath = Some((*surface, seconds, change));
        let out = (-change * self.now.water_l).min(self.now.carbon_mol);
        let moved = Amounts::reagent(Reagent::CARBON_DIOXIDE, out.abs());
        if out > 0.0 {
            self.lose(&moved, counted);
        } else {
            self.gain(&moved, counted);
        }
        out
    }

    /// Mixes with another cell by this share of the way to being alike, 0 to 1. Nothing is counted:
    /// both are of one body.
    pub(super) fn exchange(&mut self, other: &mut Self, share: f64) {
        let (a, b) = (self.now.water_l, other.now.water_l);
        let both = a * b / (a + b) * share;
        let mut moved = self.now.share(both / a).minus(&other.now.share(both / b));
        moved.water_l = 0.0;
        self.now = self.now.minus(&moved);
        other.now = other.now.plus(&moved);
    }

    /// Solves pH anew where anything has moved by enough. True if it did.
    pub(super) fn settle(&mut self, celsius: f64) -> bool {
        self.celsius = celsius;
        let water = self.water();
        let ionic = water.ionic_strength();
        let (at_c, at_ionic) = self.made_at;
        let other = (celsius - at_c).abs() >= CELSIUS_MIN
            || (ionic - at_ionic).abs() >= IONIC_SHARE_MIN * at_ionic;
        if other {
            self.breath = None;
            self.equilibrium = water.equilibrium();
            self.made_at = (celsius, ionic);
        }
        let was = &self.solved_at;
        let chlorine = (water.chlorine - was.chlorine).abs();
        let moved = chlorine
            + (water.alkalinity - was.alkalinity).abs()
            + (water.carbon - was.carbon).abs()
            + (water.calcium - was.calcium).abs()
            + (water.cyanurate - was.cyanurate).abs()
            + (water.borate - was.borate).abs();
        let moved_min = MOVED_PH_MIN * self.solved.buffer;
        if !other && moved < moved_min && chlorine < CHLORINE_MOVED_MIN {
            return false;
        }
        self.breath = None;
        self.solved = self.equilibrium.solve_from(&water, &self.solved);
        self.solved_at = water;
        self.loose = self.loose_share();
        true
    }

    fn loose_share(&self) -> f64 {
        let total = self.solved_at.chlorine;
        if total <= 0.0 {
            return 1.0;
        }
        let species = self
            .equilibrium
            .chlorine_species(&self.solved_at, &self.solved);
        ((species.hypochlorous + species.hypochlorite) / total).clamp(0.0, 1.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::water::WaterTest;

    /// What is lost by not solving, against a solve, on waters that pools have.
    #[test]
    fn what_has_not_moved_enough_moves_ph_by_under_one_in_ten_thousand() {
        let mut worst = 0.0_f64;
        for ta_mg_l in [20.0, 50.0, 100.0, 200.0] {
            for ph in [6.8, 7.2, 7.6, 8.0, 8.4, 9.5] {
                let test = WaterTest {
                    ph,
                    cya_mg_l: 20.0,
                    chlorine_mg_l: 2.0,
                    ..WaterTest::of(26.0, ta_mg_l, 250.0, 800.0)
                };
                let Ok(water) = test.water() else {
                    continue;
                };
                for reagent in [Reagent::CARBON_DIOXIDE, Reagent::HYDROCHLORIC] {
                    let mut cell = Cell::new(&water, 1000.0);
                    let least = MOVED_PH_MIN * cell.solved.buffer * 1000.0;
                    let counted = &mut Counted::default();
                    cell.lose(&Amounts::reagent(reagent, 0.99 * least), counted);
                    assert!(!cell.settle(water.temperature_c), "{ta_mg_l} {ph}");
                    let anew = cell.equilibrium.solve(&cell.water());
                    worst = worst.max((anew.ph - cell.solved.ph).abs());
                    cell.lose(&Amounts::reagent(reagent, 0.02 * least), counted);
                    assert!(cell.settle(water.temperature_c), "{ta_mg_l} {ph}");
                }
            }
        }
        assert!((1e-5..1e-4).contains(&worst), "{worst}");
    }

    #[test]
    fn chlorine_that_moves_is_solved_anew_before_orp_is_wrong() {
        let test = WaterTest {
            chlorine_mg_l: 0.05,
            ..WaterTest::of(26.0, 100.0, 250.0, 800.0)
        };
        let water = test.water().expect("a water");
        let mut cell = Cell::new(&water, 1000.0);
        let counted = &mut Counted::default();
        cell.use_chlorine(0.99 * CHLORINE_MOVED_MIN * 1000.0, counted);
        assert!(!cell.settle(water.temperature_c));
        let anew = cell.equilibrium.solve(&cell.water());
        // The usual slope for each power of ten of HOCl.
        let off_mv = 70.0 * libm::log10(cell.solved.hypochlorous / anew.hypochlorous);
        assert!((0.0..0.2).contains(&off_mv), "{off_mv}");
        cell.use_chlorine(0.02 * CHLORINE_MOVED_MIN * 1000.0, counted);
        assert!(cell.settle(water.temperature_c));
    }
}
