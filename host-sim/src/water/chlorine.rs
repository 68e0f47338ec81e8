//! Chlorine on cyanurate: the reservoir that a test of free chlorine reads with the rest.
//!
//! Invariant: HOCl, OCl- and the chlorine on cyanurate add up to the total. Counted are the species that
//! reach 1 % of the cyanurate or the chlorine between pH 6.5 and 8.5: H3Cy, H2Cy-, HClCy-, H2ClCy, ClCy--, Cl2Cy-.

use super::equilibrium::Equilibrium;

/// Relative step of HOCl below which the solve ends; convergence is quadratic.
const STEP_MIN: f64 = 1e-6;
const TURNS_MAX: usize = 100;

/// Chlorine and cyanurate species in mol/L.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct ChlorineSpecies {
    /// HOCl, what disinfects.
    pub hypochlorous: f64,
    /// OCl-.
    pub hypochlorite: f64,
    /// Chlorine atoms on cyanurate, as Cl2: two for Cl2Cy-.
    pub on_cyanurate: f64,
    /// H3Cy.
    pub cyanuric_acid: f64,
    /// H2Cy-.
    pub cyanurate: f64,
    /// HClCy-, H2ClCy and ClCy-- together.
    pub once_chlorinated: f64,
    /// Cl2Cy-.
    pub twice_chlorinated: f64,
}

/// Constants at one activity of H+; x is HOCl in mol/L.
#[derive(Clone, Copy, Debug)]
pub(super) struct Bound {
    /// OCl- over HOCl.
    ocl: f64,
    /// H3Cy over H2Cy-.
    acid: f64,
    /// HClCy- over H2Cy- and x.
    plain: f64,
    /// H2ClCy over H2Cy- and x.
    protonated: f64,
    /// ClCy-- over H2Cy- and x.
    doubly: f64,
    /// Cl2Cy- over H2Cy- and x squared.
    twice: f64,
    cyanurate: f64,
}

/// What a solve for HOCl gives.
pub(super) struct ChlorinePart {
    pub(super) x: f64,
    /// Alkalinity of OCl- and the cyanurates, eq/L, above HOCl and H3Cy.
    pub(super) alkalinity: f64,
    /// Its slope by ln H while chlorine and cyanurate stand; never positive.
    pub(super) slope: f64,
    /// Slope of x by ln H while chlorine stands: the next guess.
    pub(super) x_by_ln_h: f64,
}

impl Bound {
    pub(super) fn at(eq: &Equilibrium, h: f64, cyanurate: f64) -> Self {
        Self {
            ocl: eq.hypochlorous / h,
            acid: h / eq.cy_acid,
            plain: eq.cy_first,
            protonated: eq.cy_first * eq.cy_protonated * h,
            doubly: eq.cy_first * eq.cy_doubly / h,
            twice: eq.cy_first * eq.cy_second,
            cyanurate,
        }
    }

    fn once(&self) -> f64 {
        self.plain + self.protonated + self.doubly
    }

    /// H2Cy- in mol/L.
    fn h2cy(&self, x: f64) -> f64 {
        self.cyanurate / (1.0 + self.acid + x * (self.once() + self.twice * x))
    }

    /// Total chlorine that has `x` mol/L of HOCl.
    pub(super) fn chlorine_for(&self, x: f64) -> f64 {
        x * (1.0 + self.ocl) + self.h2cy(x) * x * (self.once() + 2.0 * self.twice * x)
    }

    /// Slope of the total by x; always positive.
    fn chlorine_by_x(&self, x: f64) -> f64 {
        let (once, twice, q) = (self.once(), self.twice, self.h2cy(x));
        1.0 + self.ocl
            + q * (once + 4.0 * twice * x)
            + self.h2cy_by(once + 2.0 * twice * x, q) * x * (once + 2.0 * twice * x)
    }

    /// How H2Cy- falls when its denominator rises by `rise`.
    fn h2cy_by(&self, rise: f64, q: f64) -> f64 {
        if self.cyanurate > 0.0 {
            -q * q / self.cyanurate * rise
        } else {
            0.0
        }
    }

    /// HOCl in mol/L that goes with `total` chlorine, starting at `guess`: Newton inside a bracket.
    fn hypochlorous(&self, total: f64, guess: f64) -> f64 {
        let free = total / (1.0 + self.ocl);
        if self.cyanurate <= 0.0 || total <= 0.0 {
            return free.max(0.0);
        }
        let (mut low, mut high) = (0.0, free);
        let mut moved = 4.0 * free;
        let mut x = if guess > low && guess < high {
            guess
        } else {
            // All cyanurate bare: the least HOCl's share can be at this pH.
            total / (1.0 + self.ocl + self.h2cy(0.0) * self.once())
        };
        for _ in 0..TURNS_MAX {
            let excess = self.chlorine_for(x) - total;
            if excess > 0.0 {
                high = x;
            } else {
                low = x;
            }
            let step = excess / self.chlorine_by_x(x);
            if step.abs() <= STEP_MIN * x {
                // At the root one end of the bracket is x itself: the step may not be judged by it.
                return x - step;
            }
            let newton = x - step;
            let shrinks = step.abs() < 0.5 * moved;
            let next = if newton > low && newton < high && shrinks {
                newton
            } else {
                0.5 * (low + high)
            };
            moved = (next - x).abs();
            x = next;
        }
        x
    }

    /// For a total of `chlorine` mol/L, starting at the guess `x`.
    pub(super) fn of_chlorine(&self, chlorine: f64, guess: f64) -> ChlorinePart {
        if self.cyanurate <= 0.0 && chlorine <= 0.0 {
            return ChlorinePart {
                x: 0.0,
                alkalinity: 0.0,
                slope: 0.0,
                x_by_ln_h: 0.0,
            };
        }
        let x = self.hypochlorous(chlorine, guess);
        let q = self.h2cy(x);
        let (once, twice) = (self.once(), self.twice);
        // Charges on cyanurate for each H2Cy-, and by ln H and x.
        let charge = 1.0 + x * (self.plain + 2.0 * self.doubly + twice * x);
        let charge_by_x = self.plain + 2.0 * self.doubly + 2.0 * twice * x;
        let charge_by_ln_h = -2.0 * self.doubly * x;
        let once_by_ln_h = self.protonated - self.doubly;
        let q_by_x = self.h2cy_by(once + 2.0 * twice * x, q);
        let q_by_ln_h = self.h2cy_by(self.acid + once_by_ln_h * x, q);
        let held = x * (once + 2.0 * twice * x);
        let total_by_ln_h = -x * self.ocl + q_by_ln_h * held + q * once_by_ln_h * x;
        let x_by_ln_h = -total_by_ln_h / self.chlorine_by_x(x);
        let by_ln_h = -x * self.ocl + q_by_ln_h * charge + q * charge_by_ln_h;
        let by_x = self.ocl + q_by_x * charge + q * charge_by_x;
        ChlorinePart {
            x,
            alkalinity: x * self.ocl + q * charge,
            slope: by_ln_h + by_x * x_by_ln_h,
            x_by_ln_h,
        }
    }

    pub(super) fn species(&self, x: f64) -> ChlorineSpecies {
        let q = self.h2cy(x);
        ChlorineSpecies {
            hypochlorous: x,
            hypochlorite: x * self.ocl,
            on_cyanurate: q * x * (self.once() + 2.0 * self.twice * x),
            cyanuric_acid: q * self.acid,
            cyanurate: q,
            once_chlorinated: q * self.once() * x,
            twice_chlorinated: q * self.twice * x * x,
        }
    }
}
