//! Feeders of a site, out of its file.

use dosewarden::commission::{CatchTest, Compared};
use dosewarden::guard::Product;
use dosewarden::guard::units::{Millis, Rate};

use super::site::Read;
use crate::scenario::quantity::Kind;
use crate::scenario::table::Table;

/// A feeder as it was found. Amounts are mL, or g of chlorine for a generator.
#[derive(Clone, Debug, PartialEq)]
pub struct SiteFeeder {
    /// Its name.
    pub name: String,
    /// What it gives.
    pub product: Product,
    /// mol/L of acid, g/L of chlorine; 1 for a generator.
    pub strength: f64,
    /// Rate as entered, mL/h or g/h.
    pub rate_per_h: f64,
    /// The most that it gives with any tube, mL/h or g/h.
    pub rate_any_tube_per_h: f64,
    /// A catch test.
    pub caught: Option<CatchTest>,
    /// Smallest dose that it repeats, mL or g.
    pub dose_min: f64,
    /// Drum, L; 0 for a generator.
    pub drum_l: f64,
    /// A level switch is fitted.
    pub level_switch: bool,
    /// Feedback of the drive is fitted.
    pub feedback: bool,
    /// A flow switch of the cell's own is fitted.
    pub cell_switch: bool,
}

impl SiteFeeder {
    /// Whether it feeds a liquid.
    #[must_use]
    pub fn is_liquid(&self) -> bool {
        self.product != Product::GeneratedChlorine
    }

    /// The rate that was entered in the guard's units, uL/h or mg/h.
    #[must_use]
    pub fn entered(&self) -> Rate {
        Rate((self.rate_per_h * 1000.0).round() as u32)
    }

    /// The rate that settings are made for: as caught, if it was.
    #[must_use]
    pub fn rate(&self) -> Rate {
        let caught = self.caught.and_then(|test| test.rate_ceil().ok());
        caught.unwrap_or(self.entered())
    }

    /// What was entered beside what was caught.
    #[must_use]
    pub fn compared(&self) -> Option<Compared> {
        self.caught?.compare(self.entered()).ok()
    }

    /// "mL" or "g".
    #[must_use]
    pub fn unit(&self) -> &'static str {
        if self.is_liquid() { "mL" } else { "g" }
    }
}

const PRODUCTS: [(&str, Product); 3] = [
    ("acid", Product::Acid),
    ("hypochlorite", Product::Hypochlorite),
    ("generator", Product::GeneratedChlorine),
];

pub(super) fn read(root: &Table<'_, '_>) -> Read<Vec<SiteFeeder>> {
    let mut all: Vec<SiteFeeder> = Vec::new();
    for t in root.tables("feeder")? {
        let feeder = one(&t)?;
        if all.iter().any(|other| other.name == feeder.name) {
            let what = format!("a second feeder is named \"{}\"", feeder.name);
            return Err(t.error_at("name", what));
        }
        t.close()?;
        all.push(feeder);
    }
    if all.is_empty() || all.len() > 2 {
        return Err(root.error("one or two [[feeder]]s have to be there"));
    }
    Ok(all)
}

fn one(t: &Table<'_, '_>) -> Read<SiteFeeder> {
    let product = t.choice("product", &PRODUCTS)?;
    let liquid = product != Product::GeneratedChlorine;
    let (kind, least, most) = if liquid {
        (Kind::LiquidRate, "1 mL/h", "1000 L/h")
    } else {
        (Kind::MassRate, "0.1 g/h", "100 kg/h")
    };
    // The kinds' own units are L/h and g/h.
    let scale = if liquid { 1000.0 } else { 1.0 };
    let rate = |key| t.quantity(key, kind, least, most).map(|r| r * scale);
    let fitted = |key| t.choice(key, &[("fitted", true), ("not fitted", false)]);
    let feeder = SiteFeeder {
        name: t.words("name")?.to_owned(),
        product,
        strength: match product {
            Product::Hypochlorite => {
                t.quantity("strength", Kind::Concentration, "1 g/L", "250 g/L")? / 1000.0
            }
            Product::Acid => t.quantity("strength", Kind::Molarity, "0.1 mol/L", "12.5 mol/L")?,
            _ => 1.0,
        },
        rate_per_h: rate("rate")?,
        rate_any_tube_per_h: rate("rate_any_tube")?,
        caught: if liquid { catch(t)? } else { None },
        dose_min: if liquid {
            t.quantity("dose_min", Kind::Volume, "0.1 mL", "10 L")? * 1000.0
        } else {
            t.quantity("dose_min", Kind::Mass, "0.1 g", "1 kg")?
        },
        drum_l: if liquid {
            t.quantity("drum", Kind::Volume, "1 L", "100 m3")?
        } else {
            0.0
        },
        level_switch: liquid && fitted("level_switch")?,
        feedback: fitted("feedback")?,
        cell_switch: !liquid && fitted("cell_switch")?,
    };
    if feeder.rate_any_tube_per_h < 1.1 * feeder.rate_per_h {
        let what = "`rate_any_tube` is under 1.1 times `rate`; it has to be the most that the pump gives with its \
                    largest tube";
        return Err(t.error_at("rate_any_tube", what.to_owned()));
    }
    Ok(feeder)
}

fn catch(t: &Table<'_, '_>) -> Read<Option<CatchTest>> {
    let Some(test) = t.find_table("catch_test")? else {
        return Ok(None);
    };
    let caught = CatchTest {
        caught_ul: (test.quantity("caught", Kind::Volume, "0.1 mL", "4 L")? * 1e6).round() as u32,
        time: Millis((test.quantity("in", Kind::Time, "30 s", "1 h")? * 1000.0).round() as u32),
    };
    if let Err(error) = caught.rate_ceil() {
        return Err(test.error(error.to_string()));
    }
    test.close()?;
    Ok(Some(caught))
}
