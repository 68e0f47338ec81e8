//! From where the water is to where it should be before feeding starts.

use core::fmt;

use serde::Serialize;

use super::site::Site;
use super::work::Figures;
use crate::water::units::{
    CACL2_MG_PER_MMOL, CACO3_MG_PER_MEQ, CACO3_MG_PER_MMOL, NAHCO3_MG_PER_MMOL,
};
use crate::water::{Reagent, Stock, WaterTest};

/// Something to do by hand, in its order.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Step {
    /// What is put in or exchanged.
    pub what: String,
    /// How much.
    pub amount: String,
    /// What it is for.
    pub why: String,
    /// How long to wait before the next, h, with the pump running.
    pub wait_h: f64,
    /// What to beware of.
    pub care: &'static str,
    /// The amount of a solid, kg, for a list of what to bring.
    #[serde(skip)]
    pub kg: Option<f64>,
}

impl Step {
    /// All of them, numbered, as a sheet shows them.
    pub(crate) fn list(f: &mut fmt::Formatter<'_>, steps: &[Self]) -> fmt::Result {
        for (number, step) in (1..).zip(steps) {
            writeln!(f, "  {number}. {}: {}", step.what, step.amount)?;
            let (why, wait_h) = (&step.why, step.wait_h);
            writeln!(f, "     {why}; then wait {wait_h:.0} h with the pump on")?;
            writeln!(f, "     {}", step.care)?;
        }
        Ok(())
    }
}

/// A step is not worth it for less than this, mg/L.
const WORTH_MG_L: f64 = 10.0;

fn kg(mg_l: f64, litres: f64) -> String {
    let grams = mg_l * litres / 1000.0;
    if grams < 950.0 {
        format!("{:.0} g", (grams / 10.0).ceil() * 10.0)
    } else {
        format!("{:.1} kg", grams / 1000.0)
    }
}

/// What to do, in this order: water out, alkalinity, salt, calcium, cyanuric acid, and pH last.
#[must_use]
pub(super) fn steps(site: &Site, figures: &Figures) -> Vec<Step> {
    let (w, wanted, litres) = (&site.water, &site.wanted, site.volume_l);
    let mut steps = Vec::new();
    let most_cya = wanted.cyanuric_acid_mg_l.max(30.0);
    if w.cyanuric_acid_mg_l > most_cya + 30.0 {
        let share = 1.0 - most_cya / w.cyanuric_acid_mg_l;
        steps.push(Step {
            what: "exchange water".to_owned(),
            amount: format!("{:.1} m3, {:.0} %", share * litres / 1000.0, share * 100.0),
            why: format!(
                "cyanuric acid from {:.0} to {most_cya:.0} mg/L; then test everything anew and plan again",
                w.cyanuric_acid_mg_l
            ),
            wait_h: 24.0,
            care: "not with a shell that floats, and by what your code says of waste water",
            kg: None,
        });
    }
    steps.extend(salts(site, figures));
    if let Some(step) = acid_by_hand(site) {
        steps.push(step);
    }
    steps
}

/// What dissolves, in the order in which it should.
fn salts(site: &Site, figures: &Figures) -> Vec<Step> {
    let (w, wanted, litres) = (&site.water, &site.wanted, site.volume_l);
    let mut steps = Vec::new();
    let mut add = |what: &str, mg_l: f64, why: String, wait_h: f64, care: &'static str| {
        let (what, amount) = (what.to_owned(), kg(mg_l, litres));
        steps.push(Step {
            what,
            amount,
            why,
            wait_h,
            care,
            kg: Some(mg_l * litres / 1e6),
        });
    };
    let raise = figures.alkalinity_start_mg_l - w.alkalinity_mg_l;
    if raise >= WORTH_MG_L {
        let mg_l = raise / CACO3_MG_PER_MEQ * NAHCO3_MG_PER_MMOL;
        add(
            "sodium bicarbonate",
            mg_l,
            format!(
                "alkalinity from {:.0} to {:.0} mg/L",
                w.alkalinity_mg_l, figures.alkalinity_start_mg_l
            ),
            6.0,
            "in two halves; pH rises a little with it",
        );
    }
    let salt = wanted.dissolved_mg_l - w.dissolved_mg_l;
    if salt >= 50.0 {
        add(
            "salt (sodium chloride)",
            salt,
            format!(
                "dissolved solids from {:.0} to {:.0} mg/L, for the cell",
                w.dissolved_mg_l, wanted.dissolved_mg_l
            ),
            24.0,
            "the cell stays off until it is dissolved",
        );
    }
    let calcium = wanted.calcium_mg_l - w.calcium_mg_l;
    if calcium >= WORTH_MG_L {
        let mg_l = calcium / CACO3_MG_PER_MMOL * CACL2_MG_PER_MMOL;
        add(
            "calcium chloride (without water)",
            mg_l,
            format!(
                "calcium from {:.0} to {:.0} mg/L",
                w.calcium_mg_l, wanted.calcium_mg_l
            ),
            6.0,
            "it heats up: into a bucket of water, never water onto it; not on the same day as bicarbonate",
        );
    }
    let cya = wanted.cyanuric_acid_mg_l - w.cyanuric_acid_mg_l;
    if cya >= 5.0 {
        add(
            "cyanuric acid",
            cya,
            format!(
                "from {:.0} to {:.0} mg/L",
                w.cyanuric_acid_mg_l, wanted.cyanuric_acid_mg_l
            ),
            48.0,
            "in a sock before a return; it tests late",
        );
    }
    steps
}

/// Acid where pH is far over what is wanted: half a day's work for a feeder, a minute by hand.
fn acid_by_hand(site: &Site) -> Option<Step> {
    let (w, wanted) = (&site.water, &site.wanted);
    if w.ph < wanted.ph + 0.4 {
        return None;
    }
    let test = WaterTest {
        temp_c: site.temperature_c,
        ta_mg_l: w.alkalinity_mg_l,
        ca_mg_l: w.calcium_mg_l,
        tds_mg_l: w.dissolved_mg_l,
        ph: w.ph,
        cya_mg_l: w.cyanuric_acid_mg_l,
        borate_mg_l: w.borate_mg_l,
        chlorine_mg_l: w.free_chlorine_mg_l,
    };
    let water = test.water().ok()?;
    let eq = water.equilibrium();
    let mol = eq.to_reach(&water, wanted.ph + 0.1, Reagent::HYDROCHLORIC)?;
    let stock = Stock::hydrochloric(31.45, 20.0).ok()?;
    let ml = stock.ml_per_m3(mol * 1000.0) * site.volume_l / 1000.0;
    Some(Step {
        what: "hydrochloric acid of 31.45 %".to_owned(),
        amount: format!("{:.1} L", ml / 1000.0),
        why: format!(
            "pH from {:.1} to {:.1}; the feeder does the rest",
            w.ph,
            wanted.ph + 0.1
        ),
        wait_h: 4.0,
        care: "gloves and goggles; acid into water, never water into acid; nobody in the pool; never where chlorine \
               was just poured",
        kg: None,
    })
}
