//! What one row of a log says.

use dosewarden::guard::Product;
use dosewarden::visit::Part;

use super::row::Row;
use crate::plan::{Plan, Site};
use crate::scenario::quantity::Kind;

/// A figure of the water that a person tested.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Tested {
    /// pH by a kit.
    Ph,
    /// Total alkalinity, mg/L as CaCO3.
    Alkalinity,
    /// Free chlorine, mg/L.
    FreeChlorine,
    /// Total chlorine, mg/L.
    TotalChlorine,
    /// Cyanuric acid, mg/L.
    Cyanurate,
    /// Calcium hardness, mg/L as CaCO3.
    Calcium,
    /// Salt, mg/L.
    Salt,
    /// Celsius.
    Temperature,
}

/// What is poured by hand.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Poured {
    /// Acid, L.
    Acid,
    /// Hypochlorite, L.
    Hypochlorite,
    /// Sodium bicarbonate, g.
    Bicarbonate,
    /// Soda ash, g.
    Soda,
    /// Calcium chloride without water, g.
    CalciumChloride,
    /// Cyanuric acid, g.
    CyanuricAcid,
    /// Salt, g.
    Salt,
    /// Tablets of trichlor, g.
    Trichlor,
}

/// Where fresh water came from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fresh {
    /// Let in from the mains.
    Refill,
    /// Rain.
    Rain,
    /// Let in for what a backwash took.
    Backwash,
}

/// What a row says. Amounts are litres, or g for a generator and for solids.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum What {
    /// A test; the sample was diluted, or not.
    Test(Tested, f64, bool),
    /// pH that the unit shows.
    ShowsPh(f64),
    /// ORP that the unit shows, mV.
    ShowsOrp(f64),
    /// Level of a feeder's drum, as found.
    Level(usize, f64),
    /// Level of a feeder's drum, after it was filled.
    Filled(usize, f64),
    /// All that the controller says it has fed.
    Fed(usize, f64),
    /// A catch test: litres, seconds.
    Catch(usize, f64, f64),
    /// The pH probe in a buffer: what it showed, and the buffer's.
    Buffer(f64, f64),
    /// The ORP probe in a reference solution: what it showed, and what the solution gives, mV.
    Reference(f64, f64),
    /// A calibration: slope, a share of Nernst's, and mV at pH 7.
    Calibrated(f64, f64),
    /// ORP was anchored: mV, and free chlorine.
    Anchored(f64, f64),
    /// A proof test of the interlock with this number in the plan, and whether it passed.
    Proved(usize, bool),
    /// Fresh water, L, and its alkalinity, where known.
    Water(Fresh, f64, Option<f64>),
    /// Poured by hand: amount, and its strength in mol/L or mg/L.
    Hand(Poured, f64, Option<f64>),
    /// A new part, of a feeder if it has one.
    New(Part, Option<usize>),
    /// Running hours that the unit shows for a feeder.
    Hours(usize, f64),
    /// Bathers since the last visit.
    Bathers(f64),
    /// Strength of what is in a drum of hypochlorite, mg/L of chlorine, as tested or as it came fresh.
    Strength(usize, f64),
}

impl What {
    /// Whether it says something of the water of one body, and not of the plant.
    #[must_use]
    pub const fn is_of_water(&self) -> bool {
        matches!(
            self,
            Self::Test(..)
                | Self::ShowsPh(_)
                | Self::ShowsOrp(_)
                | Self::Water(..)
                | Self::Hand(..)
                | Self::Bathers(_)
        )
    }
}

const TESTS: [(&str, Tested); 8] = [
    ("ph", Tested::Ph),
    ("alkalinity", Tested::Alkalinity),
    ("free_chlorine", Tested::FreeChlorine),
    ("total_chlorine", Tested::TotalChlorine),
    ("cyanuric_acid", Tested::Cyanurate),
    ("calcium", Tested::Calcium),
    ("salt", Tested::Salt),
    ("temperature", Tested::Temperature),
];

const POURED: [(&str, Poured); 8] = [
    ("acid", Poured::Acid),
    ("hypochlorite", Poured::Hypochlorite),
    ("bicarbonate", Poured::Bicarbonate),
    ("soda_ash", Poured::Soda),
    ("calcium_chloride", Poured::CalciumChloride),
    ("cyanuric_acid", Poured::CyanuricAcid),
    ("salt", Poured::Salt),
    ("trichlor", Poured::Trichlor),
];

const WATERS: [(&str, Fresh); 3] = [
    ("refill", Fresh::Refill),
    ("rain", Fresh::Rain),
    ("backwash", Fresh::Backwash),
];

/// Every word that `what` may be.
pub(super) const WORDS: [&str; 18] = [
    "test",
    "shows",
    "level",
    "filled",
    "fed",
    "catch",
    "buffer",
    "reference",
    "calibrated",
    "anchored",
    "proved",
    "water",
    "hand",
    "new_part",
    "hours",
    "bathers",
    "strength",
    "remark",
];

/// What a row is read against.
pub(super) struct Known<'a> {
    pub(super) site: &'a Site,
    pub(super) plan: &'a Plan,
}

impl Known<'_> {
    /// The feeder that `of` names.
    fn feeder(&self, row: &Row<'_>) -> Result<usize, String> {
        let names = self.site.feeders.iter().map(|one| one.name.as_str());
        let known: Vec<(&str, usize)> = names.zip(0..).collect();
        row.choice(&known)
    }

    fn drum(&self, row: &Row<'_>) -> Result<usize, String> {
        let feeder = self.feeder(row)?;
        let is_liquid = self.site.feeders.get(feeder).is_some_and(|f| f.is_liquid());
        if is_liquid {
            Ok(feeder)
        } else {
            Err(format!("`{}` is a generator and has no drum", row.of))
        }
    }

    fn strength(&self, row: &Row<'_>) -> Result<What, String> {
        let feeder = self.drum(row)?;
        let own = self.site.feeders.get(feeder).map(|one| one.product);
        if own != Some(Product::Hypochlorite) {
            return Err(format!(
                "`{}` gives no hypochlorite: only that loses strength",
                row.of
            ));
        }
        let mg_l = row.value(Kind::Concentration, 1000.0, 250_000.0)?;
        Ok(What::Strength(feeder, mg_l))
    }

    fn fed(&self, row: &Row<'_>) -> Result<What, String> {
        let feeder = self.feeder(row)?;
        let is_liquid = self.site.feeders.get(feeder).is_some_and(|f| f.is_liquid());
        let kind = if is_liquid { Kind::Volume } else { Kind::Mass };
        Ok(What::Fed(feeder, row.value(kind, 0.0, 1e7)?))
    }

    /// What the row says; `None` for a remark.
    pub(super) fn read(&self, row: &Row<'_>) -> Result<Option<What>, String> {
        Ok(Some(match row.what {
            "test" => test(row)?,
            "shows" if row.of == "orp" => {
                What::ShowsOrp(row.value(Kind::Potential, 0.0, 1500.0)?)
            }
            "shows" => {
                row.choice(&[("ph", ()), ("orp", ())])?;
                What::ShowsPh(row.value(Kind::Ph, 0.0, 14.0)?)
            }
            "level" => What::Level(self.drum(row)?, row.value(Kind::Volume, 0.0, 4000.0)?),
            "filled" => What::Filled(self.drum(row)?, row.value(Kind::Volume, 0.0, 4000.0)?),
            "fed" => self.fed(row)?,
            "catch" => What::Catch(
                self.drum(row)?,
                row.value(Kind::Volume, 0.0001, 4.0)?,
                row.with(Kind::Time, 30.0, 3600.0)?,
            ),
            "buffer" => What::Buffer(
                row.value(Kind::Ph, 0.0, 14.0)?,
                row.with(Kind::Ph, 3.0, 11.0)?,
            ),
            "reference" => What::Reference(
                row.value(Kind::Potential, -500.0, 1500.0)?,
                row.with(Kind::Potential, 100.0, 700.0)?,
            ),
            "calibrated" => What::Calibrated(
                row.value(Kind::Share, 0.5, 1.2)?,
                row.with(Kind::Potential, -100.0, 100.0)?,
            ),
            "anchored" => What::Anchored(
                row.value(Kind::Potential, 200.0, 1000.0)?,
                row.with(Kind::Concentration, 0.1, 20.0)?,
            ),
            "proved" => self.proved(row)?,
            "water" => water(row)?,
            "hand" => hand(row)?,
            "new_part" => self.new_part(row)?,
            "hours" => What::Hours(
                self.feeder(row)?,
                row.value(Kind::Time, 0.0, 3.6e8)? / 3600.0,
            ),
            "bathers" => What::Bathers(row.count()?),
            "strength" => self.strength(row)?,
            "remark" => return Ok(None),
            other => return Err(unknown(other)),
        }))
    }

    fn proved(&self, row: &Row<'_>) -> Result<What, String> {
        let names = self.plan.proof_tests.iter().map(|p| p.interlock.as_str());
        let known: Vec<(&str, usize)> = names.zip(0..).collect();
        let which = row.choice(&known)?;
        match row.value {
            "passed" => Ok(What::Proved(which, true)),
            "failed" => Ok(What::Proved(which, false)),
            other => Err(format!("value is `{other}`; it has to be passed or failed")),
        }
    }

    fn new_part(&self, row: &Row<'_>) -> Result<What, String> {
        let mut known = vec![
            ("ph probe".to_owned(), (Part::PhProbe, None)),
            ("orp probe".to_owned(), (Part::OrpProbe, None)),
        ];
        for (at, feeder) in self.site.feeders.iter().enumerate() {
            let own: &[Part] = if feeder.is_liquid() {
                &[Part::Tube, Part::InjectionValve]
            } else {
                &[Part::Cell]
            };
            for part in own {
                let name = format!("{} of {}", part.name(), feeder.name);
                known.push((name, (*part, Some(at))));
            }
        }
        let known: Vec<_> = known.iter().map(|(n, p)| (n.as_str(), *p)).collect();
        let (part, feeder) = row.choice(&known)?;
        Ok(What::New(part, feeder))
    }
}

fn unknown(what: &str) -> String {
    let known = WORDS.join(", ");
    format!("what is `{what}`; it has to be one of {known}")
}

fn test(row: &Row<'_>) -> Result<What, String> {
    let tested = row.choice(&TESTS)?;
    let value = match tested {
        Tested::Ph => row.value(Kind::Ph, 4.0, 10.5)?,
        Tested::Temperature => row.value(Kind::Temperature, 0.0, 45.0)?,
        Tested::Salt => row.value(Kind::Concentration, 0.0, 70_000.0)?,
        Tested::Calcium => row.value(Kind::Concentration, 0.0, 2000.0)?,
        Tested::Alkalinity => row.value(Kind::Concentration, 0.0, 500.0)?,
        Tested::Cyanurate => row.value(Kind::Concentration, 0.0, 300.0)?,
        Tested::FreeChlorine | Tested::TotalChlorine => {
            row.value(Kind::Concentration, 0.0, 50.0)?
        }
    };
    match row.with {
        "" => Ok(What::Test(tested, value, false)),
        "diluted" => Ok(What::Test(tested, value, true)),
        other => Err(format!(
            "with is `{other}`; beside a test it has to be empty or diluted"
        )),
    }
}

fn water(row: &Row<'_>) -> Result<What, String> {
    let fresh = row.choice(&WATERS)?;
    let litres = row.value(Kind::Volume, 1.0, 1e7)?;
    let alkalinity = row.maybe_with(Kind::Concentration, 0.0, 500.0)?;
    Ok(What::Water(fresh, litres, alkalinity))
}

fn hand(row: &Row<'_>) -> Result<What, String> {
    let poured = row.choice(&POURED)?;
    Ok(match poured {
        Poured::Acid => {
            let strength = row.maybe_with(Kind::Molarity, 0.1, 12.5)?;
            What::Hand(poured, row.value(Kind::Volume, 0.001, 1000.0)?, strength)
        }
        Poured::Hypochlorite => {
            let strength = row.maybe_with(Kind::Concentration, 1000.0, 250_000.0)?;
            What::Hand(poured, row.value(Kind::Volume, 0.001, 1000.0)?, strength)
        }
        _ => What::Hand(poured, row.value(Kind::Mass, 1.0, 1e6)?, None),
    })
}
