//! What was fed, poured and let in between two moments of a log.

use dosewarden::guard::Product;

use super::entry::{Poured, What};
use super::log::{Entry, Log};
use crate::plan::{FREE_ALKALI_EQ_L, Site};
use crate::scenario::{POURED_ACID_MOL_L, POURED_CHLORINE_G_L};
use crate::water::units::NAHCO3_MG_PER_MMOL;

/// Trichlor, g/mol: three of its chlorine atoms are free chlorine, and each leaves an equivalent of acid when it is
/// used (from its formula, C3Cl3N3O3).
const TRICHLOR_G_PER_MOL: f64 = 232.41;
/// Soda ash, g/mol: two equivalents of alkali (Na2CO3).
const SODA_G_PER_MOL: f64 = 105.99;
/// Grams of chlorine in a mole of Cl2.
const CHLORINE_G_PER_MOL: f64 = 70.906;
const CYANURIC_G_PER_MOL: f64 = 129.075;

/// What came into the water between two tests.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Came {
    /// Acid that was poured, eq.
    pub(crate) acid_eq: f64,
    /// Alkali that was poured, eq.
    pub(crate) alkali_eq: f64,
    /// Of that, bicarbonate and soda, eq.
    pub(crate) bicarbonate_eq: f64,
    /// Carbon that came with it, mol.
    pub(crate) carbon_mol: f64,
    /// Chlorine that was poured, g.
    pub(crate) chlorine_g: f64,
    /// Cyanuric acid that was poured, g.
    pub(crate) cyanurate_g: f64,
    /// Fresh water, L.
    pub(crate) fresh_l: f64,
    /// Its alkalinity times litres, where that was entered.
    pub(crate) fresh_mg: f64,
    /// Litres of it whose alkalinity nobody entered.
    pub(crate) fresh_unknown_l: f64,
    /// Bathers.
    pub(crate) bathers: f64,
}

impl Came {
    /// All that stands between two rows.
    pub(crate) fn between(log: &Log, from: &Entry, to: &Entry, site: &Site) -> Self {
        let all = log.visits.iter().flat_map(|visit| &visit.entries);
        let mut came = Self::default();
        for entry in all.filter(|e| e.line > from.line && e.line < to.line) {
            came.add(&entry.what, site);
        }
        came
    }

    /// Alkalinity of the fresh water, mg/L; what nobody tested is taken to have `usual`.
    pub(crate) fn fresh_alkalinity(&self, usual: f64) -> f64 {
        (self.fresh_mg + self.fresh_unknown_l * usual) / self.fresh_l.max(1.0)
    }

    fn add(&mut self, what: &What, site: &Site) {
        match *what {
            What::Water(fresh, litres, alkalinity) => self.water(fresh, litres, alkalinity),
            What::Hand(poured, amount, strength) => self.hand(poured, amount, strength, site),
            What::Bathers(count) => self.bathers += count,
            _ => {}
        }
    }

    fn water(&mut self, fresh: super::Fresh, litres: f64, alkalinity: Option<f64>) {
        self.fresh_l += litres;
        // Rain has next to none.
        let rain = (fresh == super::Fresh::Rain).then_some(0.0);
        match alkalinity.or(rain) {
            Some(mg_l) => self.fresh_mg += litres * mg_l,
            None => self.fresh_unknown_l += litres,
        }
    }

    fn hand(&mut self, poured: Poured, amount: f64, strength: Option<f64>, site: &Site) {
        let own = |product| site.feeders.iter().find(|one| one.product == product);
        match poured {
            Poured::Acid => {
                let usual = own(Product::Acid).map_or(POURED_ACID_MOL_L, |one| one.strength);
                self.acid_eq += amount * strength.unwrap_or(usual);
            }
            Poured::Hypochlorite => {
                let usual =
                    own(Product::Hypochlorite).map_or(POURED_CHLORINE_G_L, |one| one.strength);
                self.chlorine_g += amount * strength.map_or(usual, |mg_l| mg_l / 1000.0);
                self.alkali_eq += amount * FREE_ALKALI_EQ_L;
            }
            Poured::Bicarbonate => {
                let mol = amount / NAHCO3_MG_PER_MMOL;
                self.alkali_eq += mol;
                self.bicarbonate_eq += mol;
                self.carbon_mol += mol;
            }
            Poured::Soda => {
                let mol = amount / SODA_G_PER_MOL;
                self.alkali_eq += 2.0 * mol;
                self.bicarbonate_eq += 2.0 * mol;
                self.carbon_mol += mol;
            }
            Poured::CyanuricAcid => self.cyanurate_g += amount,
            Poured::Trichlor => {
                let mol = amount / TRICHLOR_G_PER_MOL;
                self.acid_eq += 3.0 * mol;
                self.chlorine_g += 3.0 * CHLORINE_G_PER_MOL * mol;
                self.cyanurate_g += CYANURIC_G_PER_MOL * mol;
            }
            Poured::CalciumChloride | Poured::Salt => {}
        }
    }
}

/// The last test of a kind, and the last one on a visit before it.
pub(super) fn last_two(
    log: &Log,
    is: impl Fn(&What) -> Option<f64>,
) -> Option<[(usize, f64, &Entry); 2]> {
    let mut found = log
        .visits
        .iter()
        .enumerate()
        .rev()
        .filter_map(|(at, visit)| {
            let entry = visit.entries.iter().rev().find(|e| is(&e.what).is_some())?;
            is(&entry.what).map(|value| (at, value, entry))
        });
    let now = found.next()?;
    let before = found.next()?;
    Some([before, now])
}

/// Longest time between two tests that are balanced with each other, days. Our choice: the longer, the less the tests'
/// own errors weigh, and the more has been forgotten.
const LONGEST_DAYS: f64 = 45.0;

/// The last test of a kind, and the earliest of its kind on a visit before it that is fit and not too long ago.
pub(super) fn longest(
    log: &Log,
    is: impl Fn(&What) -> Option<f64>,
    fit: impl Fn(usize) -> bool,
) -> Option<[(usize, f64, &Entry); 2]> {
    let [_, now] = last_two(log, &is)?;
    if !fit(now.0) {
        return None;
    }
    let early = log.visits.iter().enumerate().take(now.0);
    let mut early = early.filter_map(|(at, visit)| {
        let entry = visit.entries.iter().rev().find(|e| is(&e.what).is_some())?;
        is(&entry.what).map(|value| (at, value, entry))
    });
    let days = |entry: &Entry| (now.2.at_min - entry.at_min) as f64 / 1440.0;
    let before = early.find(|(at, _, entry)| fit(*at) && days(entry) <= LONGEST_DAYS)?;
    Some([before, now])
}
