//! Alkalinity, carbon and chlorine at one pH.

use dosewarden_guard::units::MilliPh;

use super::constants::Constants;
use super::number::{Q, add, div, exp10, lit, mul, sub, sum, whole};

/// Turns in which free calcium and sodium settle: each takes away 98 % of what is left.
const PAIR_TURNS: u32 = 4;
/// Halvings of the bracket of HOCl.
const HALVINGS: u32 = 26;

/// What the water holds: mmol/L, and umol/L of chlorine and cyanurate.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Totals {
    pub(super) calcium: Q,
    pub(super) sodium: Q,
    pub(super) borate: Q,
    pub(super) cyanurate: Q,
    pub(super) chlorine: Q,
}

/// Ratios at one pH.
struct Carbonate {
    /// CO2 over HCO3-.
    co2: Q,
    /// CO3-- over HCO3-.
    carbonate: Q,
    calcium: Pairs,
    sodium: Pairs,
}

/// A metal: its total, and its pairs with HCO3- and with CO3--, for each of it and of HCO3-.
struct Pairs {
    total: Q,
    hco3: Q,
    co3: Q,
}

impl Pairs {
    /// Carbon and alkalinity in pairs for each HCO3-, when `bicarbonate` is free.
    fn held(&self, bicarbonate: Q) -> (Q, Q) {
        let both = add(self.hco3, self.co3);
        let free = div(self.total, add(Q::ONE, mul(both, bicarbonate)));
        (mul(free, both), mul(free, add(both, self.co3)))
    }
}

impl Carbonate {
    fn at(constants: &Constants, totals: &Totals, ph: Q) -> Self {
        let carbonate = exp10(sub(ph, constants.pk2));
        let pairs = |total, hco3, co3| Pairs {
            total,
            hco3,
            co3: mul(co3, carbonate),
        };
        Self {
            co2: exp10(sub(constants.pk1, ph)),
            carbonate,
            calcium: pairs(totals.calcium, constants.ca_hco3, constants.ca_co3),
            sodium: pairs(totals.sodium, constants.na_hco3, constants.na_co3),
        }
    }

    /// Carbon and carbonate alkalinity for each free HCO3-.
    fn each(&self, bicarbonate: Q) -> (Q, Q) {
        let (ca_carbon, ca_charge) = self.calcium.held(bicarbonate);
        let (na_carbon, na_charge) = self.sodium.held(bicarbonate);
        let carbon = sum([Q::ONE, self.co2, self.carbonate, ca_carbon, na_carbon]);
        let charge = sum([Q::ONE, self.carbonate, self.carbonate, ca_charge, na_charge]);
        (carbon, charge)
    }

    fn carbon_of(&self, alkalinity: Q) -> Q {
        let mut bicarbonate = div(alkalinity, self.each(Q::ZERO).1);
        for _ in 0..PAIR_TURNS {
            bicarbonate = div(alkalinity, self.each(bicarbonate).1);
        }
        mul(bicarbonate, self.each(bicarbonate).0)
    }

    fn alkalinity_of(&self, carbon: Q) -> Q {
        let mut bicarbonate = div(carbon, self.each(Q::ZERO).0);
        for _ in 0..PAIR_TURNS {
            bicarbonate = div(carbon, self.each(bicarbonate).0);
        }
        mul(bicarbonate, self.each(bicarbonate).1)
    }
}

/// Chlorine and cyanurate at one pH, in umol/L; x is HOCl.
pub(super) struct Chlorine {
    /// OCl- over HOCl.
    ocl: Q,
    /// H3Cy over H2Cy-.
    acid: Q,
    /// HClCy-, H2ClCy and ClCy-- together, and those with their charges, over H2Cy- and x.
    once: Q,
    once_charge: Q,
    /// Cl2Cy- over H2Cy- and x squared.
    twice: Q,
    cyanurate: Q,
}

impl Chlorine {
    pub(super) fn at(constants: &Constants, totals: &Totals, ph: Q) -> Self {
        let protonated = mul(constants.once, exp10(sub(constants.pk_protonated, ph)));
        let doubly = mul(constants.once, exp10(sub(ph, constants.pk_doubly)));
        Self {
            ocl: exp10(sub(ph, constants.pk_hypochlorous)),
            acid: exp10(sub(constants.pk_cyanuric, ph)),
            once: sum([constants.once, protonated, doubly]),
            once_charge: sum([constants.once, doubly, doubly]),
            twice: constants.twice,
            cyanurate: totals.cyanurate,
        }
    }

    fn h2cy(&self, x: Q) -> Q {
        let taken = mul(x, add(self.once, mul(self.twice, x)));
        div(self.cyanurate, sum([Q::ONE, self.acid, taken]))
    }

    /// Free chlorine as a test reads it that has `x` of HOCl.
    fn total(&self, x: Q) -> Q {
        let twice = mul(self.twice, x);
        let held = mul(mul(self.h2cy(x), x), sum([self.once, twice, twice]));
        add(mul(x, add(Q::ONE, self.ocl)), held)
    }

    /// HOCl of a total; more of one is more of the other.
    pub(super) fn hypochlorous(&self, total: Q) -> Q {
        let mut high = div(total, add(Q::ONE, self.ocl));
        if self.cyanurate <= Q::ZERO {
            return high;
        }
        let mut low = Q::ZERO;
        for _ in 0..HALVINGS {
            let middle = mul(add(low, high), lit!("0.5"));
            if self.total(middle) > total {
                high = middle;
            } else {
                low = middle;
            }
        }
        low
    }

    /// Share of HOCl in HOCl and OCl-.
    pub(super) fn unbound_share(&self) -> Q {
        div(Q::ONE, add(Q::ONE, self.ocl))
    }

    /// OCl- and the charges on cyanurate, meq/L.
    fn alkalinity(&self, total: Q) -> Q {
        if self.cyanurate <= Q::ZERO && total <= Q::ZERO {
            return Q::ZERO;
        }
        let x = self.hypochlorous(total);
        let on_cyanurate = sum([Q::ONE, mul(x, self.once_charge), mul(mul(self.twice, x), x)]);
        let micro = add(mul(x, self.ocl), mul(self.h2cy(x), on_cyanurate));
        div(micro, whole(1000))
    }
}

/// pH as a number.
pub(super) fn number(ph: MilliPh) -> Q {
    div(Q::from(ph.0), whole(1000))
}

impl Totals {
    /// Alkalinity that is not carbonate, meq/L.
    pub(super) fn other(&self, constants: &Constants, ph: Q) -> Q {
        let hydroxide = exp10(sum([ph, lit!("3"), sub(Q::ZERO, constants.pk_water)]));
        let hydrogen = exp10(sub(lit!("3"), add(ph, constants.log_gamma)));
        let boric = add(Q::ONE, exp10(sub(constants.pk_boric, ph)));
        let borate = div(self.borate, boric);
        let chlorine = Chlorine::at(constants, self, ph).alkalinity(self.chlorine);
        sub(sum([hydroxide, borate, chlorine]), hydrogen)
    }

    /// Total alkalinity at `ph` with `carbon` mmol/L, meq/L.
    pub(super) fn alkalinity(&self, constants: &Constants, carbon: Q, ph: Q) -> Q {
        let carbonate = Carbonate::at(constants, self, ph).alkalinity_of(carbon);
        add(carbonate, self.other(constants, ph))
    }

    /// Carbon in mmol/L that goes with `alkalinity` at `ph`; none if the rest has more already.
    pub(super) fn carbon(&self, constants: &Constants, alkalinity: Q, ph: Q) -> Option<Q> {
        let left = sub(alkalinity, self.other(constants, ph));
        (left >= Q::ZERO).then(|| Carbonate::at(constants, self, ph).carbon_of(left))
    }
}
