//! The return line from the injectors to the basin: plug flow in cells.
//!
//! Invariant: what was injected is in a cell, was delivered, or left as gas; nothing is lost.
//!
//! Product that is fed while the water stands stays here and leaves when the flow returns. Acid
//! and hypochlorite that stand together are counted as mixed (gravity and diffusion do it in
//! minutes): NaOCl + 2 HCl gives Cl2 + NaCl + H2O, as far as the lesser of the two reaches.

use crate::water::units::CHLORINE_MG_PER_MMOL as CHLORINE_G_PER_MOL;

const CELLS: usize = 16;

/// Amounts of product, in moles.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Product {
    /// HCl.
    pub(super) acid: f64,
    /// Free chlorine as Cl2, with one equivalent of alkalinity a mole.
    pub(super) chlorine: f64,
    /// Free alkali that comes with the chlorine, NaOH.
    pub(super) alkali: f64,
}

impl Product {
    pub(super) fn add(&mut self, other: Self) {
        self.acid += other.acid;
        self.chlorine += other.chlorine;
        self.alkali += other.alkali;
    }

    /// A share of it.
    pub(super) fn times(self, share: f64) -> Self {
        Self {
            acid: self.acid * share,
            chlorine: self.chlorine * share,
            alkali: self.alkali * share,
        }
    }
}

/// The line's contents.
#[derive(Clone, Debug)]
pub(super) struct ReturnLine {
    cell_l: f64,
    cells: [Product; CELLS],
    /// All of them together.
    sum: Product,
    /// Index of the cell at the injectors; the one before it, round the ring, is at the basin.
    head: usize,
    /// Share of a cell's volume that has moved on since the last whole cell, 0 to 1.
    fraction: f64,
    was_moving: bool,
    gas_potential_g: f64,
    gas_released_g: f64,
}

impl ReturnLine {
    /// An empty line of `volume_l` litres.
    pub(super) fn new(volume_l: f64) -> Self {
        Self {
            cell_l: volume_l / CELLS as f64,
            cells: [Product::default(); CELLS],
            sum: Product::default(),
            head: 0,
            fraction: 0.0,
            was_moving: false,
            gas_potential_g: 0.0,
            gas_released_g: 0.0,
        }
    }

    /// Injects, moves on by `moved_l` litres, and gives what reached the basin.
    ///
    /// `moving` says whether the water flows well enough to dilute what is fed. Until it does, gas
    /// that could form is released as soon as the water starts or creeps, but not while it only
    /// runs down (`falling`).
    pub(super) fn step(
        &mut self,
        injected: Product,
        moved_l: f64,
        moving: bool,
        falling: bool,
    ) -> Product {
        let diluted = moving && self.was_moving;
        if moved_l > 0.0 && !falling && !diluted {
            self.release_gas();
        }
        self.was_moving = moving;
        self.cells[self.head].add(injected);
        let delivered = self.move_on(moved_l);
        // In most steps nothing comes and nothing goes.
        if injected != Product::default() || delivered != Product::default() {
            self.sum_up();
        }
        self.gas_potential_g = if moving { 0.0 } else { self.potential_g() };
        delivered
    }

    /// Everything in the line.
    pub(super) fn contents(&self) -> Product {
        self.sum
    }

    fn sum_up(&mut self) {
        self.sum = Product::default();
        for cell in &self.cells {
            self.sum.add(*cell);
        }
    }

    /// Chlorine gas that the standing products could give, grams; 0 while water moves.
    pub(super) fn gas_potential_g(&self) -> f64 {
        self.gas_potential_g
    }

    /// Chlorine gas released so far, grams.
    pub(super) fn gas_released_g(&self) -> f64 {
        self.gas_released_g
    }

    fn potential_g(&self) -> f64 {
        let sum = self.contents();
        CHLORINE_G_PER_MOL * sum.chlorine.min(0.5 * sum.acid)
    }

    fn release_gas(&mut self) {
        let sum = self.contents();
        let moles = sum.chlorine.min(0.5 * sum.acid);
        if moles <= 0.0 {
            return;
        }
        let acid_left = 1.0 - 2.0 * moles / sum.acid;
        let chlorine_left = 1.0 - moles / sum.chlorine;
        for cell in &mut self.cells {
            cell.acid *= acid_left.max(0.0);
            cell.chlorine *= chlorine_left.max(0.0);
        }
        self.gas_released_g += CHLORINE_G_PER_MOL * moles;
        self.sum_up();
    }

    fn move_on(&mut self, moved_l: f64) -> Product {
        let mut delivered = Product::default();
        self.fraction += moved_l / self.cell_l;
        let mut turns = 0;
        while self.fraction >= 1.0 && turns < CELLS {
            self.fraction -= 1.0;
            turns += 1;
            self.head = (self.head + CELLS - 1) % CELLS;
            delivered.add(core::mem::take(&mut self.cells[self.head]));
        }
        if self.fraction >= 1.0 {
            // More than the whole line passed: all is out, only the odd part of a cell matters.
            self.fraction -= libm::floor(self.fraction);
        }
        delivered
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const ACID: Product = Product {
        acid: 1.0,
        chlorine: 0.0,
        alkali: 0.0,
    };
    const CHLORINE: Product = Product {
        acid: 0.0,
        chlorine: 1.0,
        alkali: 0.0,
    };
    const NONE: Product = Product {
        acid: 0.0,
        chlorine: 0.0,
        alkali: 0.0,
    };

    #[test]
    fn one_line_volume_delivers_and_not_before() {
        let mut line = ReturnLine::new(16.0);
        line.step(ACID, 0.0, true, false);
        for _ in 0..15 {
            assert_eq!(line.step(NONE, 1.0, true, false), NONE);
        }
        assert_eq!(line.step(NONE, 1.0, true, false), ACID);
        assert_eq!(line.contents(), NONE);
    }

    #[test]
    fn a_long_step_delivers_all() {
        let mut line = ReturnLine::new(16.0);
        line.step(ACID, 0.3, true, false);
        assert_eq!(
            line.step(CHLORINE, 500.0, true, false),
            Product {
                acid: 1.0,
                chlorine: 1.0,
                alkali: 0.0,
            }
        );
    }

    #[test]
    fn what_is_fed_standing_waits_and_gases_on_restart() {
        let mut line = ReturnLine::new(16.0);
        assert_eq!(line.step(ACID, 0.0, false, false), NONE);
        assert_eq!(line.gas_potential_g(), 0.0);
        line.step(CHLORINE, 0.0, false, false);
        // Half a mole of Cl2 from one mole of HCl.
        assert!((line.gas_potential_g() - 35.453).abs() < 1e-9);
        assert_eq!(line.gas_released_g(), 0.0);
        let out = line.step(NONE, 100.0, true, false);
        assert!((line.gas_released_g() - 35.453).abs() < 1e-9);
        assert!(out.acid.abs() < 1e-12);
        assert!((out.chlorine - 0.5).abs() < 1e-12);
    }

    #[test]
    fn a_creep_releases_and_a_run_down_does_not() {
        let mut line = ReturnLine::new(16.0);
        line.step(ACID, 0.0, false, false);
        line.step(CHLORINE, 0.1, false, true);
        line.step(NONE, 0.1, false, true);
        assert_eq!(line.gas_released_g(), 0.0);
        line.step(NONE, 0.1, false, false);
        assert!(line.gas_released_g() > 35.0);
        assert_eq!(line.gas_potential_g(), 0.0);
    }

    #[test]
    fn products_that_follow_each_other_in_a_good_flow_do_not_gas() {
        let mut line = ReturnLine::new(16.0);
        line.step(NONE, 5.0, true, false);
        line.step(ACID, 5.0, true, false);
        line.step(CHLORINE, 5.0, true, false);
        line.step(NONE, 50.0, true, false);
        assert_eq!(line.gas_released_g(), 0.0);
    }

    #[test]
    fn one_product_alone_never_gases() {
        let mut line = ReturnLine::new(16.0);
        line.step(CHLORINE, 0.0, false, false);
        line.step(NONE, 100.0, true, false);
        assert_eq!(line.gas_released_g(), 0.0);
    }

    proptest! {
        #[test]
        fn nothing_is_lost(steps in proptest::collection::vec(
            (0.0_f64..2.0, 0.0_f64..2.0, 0.0_f64..40.0, any::<bool>(), any::<bool>()), 1..60)) {
            let mut line = ReturnLine::new(16.0);
            let (mut fed, mut out) = (NONE, NONE);
            for (acid, chlorine, moved, moving, falling) in steps {
                let product = Product { acid, chlorine, alkali: 0.0 };
                fed.add(product);
                out.add(line.step(product, if moving { moved } else { 0.1 * moved }, moving, falling));
            }
            let left = line.contents();
            let gas = line.gas_released_g() / CHLORINE_G_PER_MOL;
            prop_assert!((left.acid + out.acid + 2.0 * gas - fed.acid).abs() < 1e-9);
            prop_assert!((left.chlorine + out.chlorine + gas - fed.chlorine).abs() < 1e-9);
        }
    }
}
