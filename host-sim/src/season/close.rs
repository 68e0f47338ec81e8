//! What to do before a pool is laid up.

use core::fmt;

use dosewarden::guard::Product;
use dosewarden::season::STRENGTH_MIN;
use serde::Serialize;

use super::{by_hand, cautions, left_out};
use crate::plan::{Plan, Site};
use crate::visit::inside::as_found;
use crate::visit::{Log, Today, VisitResult};
use crate::water::WaterTest;

/// The saturation index of calcite that water may have in the cold: below it plaster dissolves over
/// the months (common practice, no source).
const INDEX_MIN: f64 = -0.3;
/// Most calcium that is advised, mg/L as CaCO3: Quebec Q-2 r. 39, hardness 150 to 400.
const CALCIUM_MAX: f64 = 400.0;
const CALCIUM_STEP: f64 = 10.0;
/// 10 C more is about 3.5 times as fast (from memory), as in the simulated drum.
const FASTER_PER_10_C: f64 = 3.5;

/// What is done to the plant, in this order (common practice, no source).
const PLANT: [&str; 8] = [
    "Balance the water by the list above, a day or more before the cold, with the pump running.",
    "Clean or backwash the filter; lower the water only as far as the shell and its maker allow.",
    "At the unit: read the drums, then lay up. From then on it feeds nothing, whatever happens to its power.",
    "Close both drums. Rinse each feed line with water by itself, acid first and alone, hours before the other; \
     never let the two products meet in a bucket, a line or a drain.",
    "Take the probes out and say so at the unit; keep them wet, in the solution that their maker names. One that \
     dries out, or fails where it hangs, locks its feeder out until a technician releases it.",
    "Drain the sample line, the flow cell, the feed pumps and every pipe that is not run against frost.",
    "Where the pump runs against frost: leave its contact and the flow switch wired and the unit powered. Runs \
     without feed are no demand and no alarm; a run without flow is one, since standing pipes freeze.",
    "Take the stocks out of the cold and the sun, acid and hypochlorite apart, and locked.",
];

/// What lies ahead.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Winter {
    /// Coldest water, C.
    pub coldest_c: f64,
    /// Days until the opening.
    pub days: f64,
    /// Temperature at which hypochlorite is kept, C.
    pub store_c: f64,
    /// Time in which half of its strength goes at 25 C, days.
    pub half_life_days: f64,
}

impl Winter {
    /// Share of its strength that hypochlorite keeps: of second order, as the simulated drum loses it
    /// (order and factor from memory; the half-life is the product's).
    #[must_use]
    pub fn strength_left(&self) -> f64 {
        let faster = libm::pow(FASTER_PER_10_C, (self.store_c - 25.0) / 10.0);
        1.0 / (1.0 + faster * self.days / self.half_life_days)
    }
}

/// A drum of hypochlorite that is kept.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct DrumAhead {
    /// Its feeder.
    pub feeder: String,
    /// Strength that its limits were made for, g/L of chlorine.
    pub strength_g_l: f64,
    /// Share of that which is left at the opening.
    pub left: f64,
    /// The controller takes that at the opening.
    pub is_taken: bool,
}

/// What to do before a pool is laid up.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Closing {
    /// Name of the site.
    pub site: String,
    /// When the tests were made.
    pub time: String,
    /// What lies ahead.
    pub winter: Winter,
    /// Saturation index of calcite as found.
    pub index_found: f64,
    /// The same once all by hand is done, in the coldest water.
    pub index_coldest: f64,
    /// Calcium that this takes, mg/L.
    pub calcium_mg_l: f64,
    /// What to do by hand.
    pub by_hand: Today,
    /// Drums of hypochlorite.
    pub drums: Vec<DrumAhead>,
    /// What to do to the plant, in this order.
    pub plant: Vec<&'static str>,
    /// Rows of another body of water that were left out: this looks at the pool alone. `None`: none were.
    pub left_out: Option<String>,
}

/// The index of a site's water at a temperature.
fn index(site: &Site, temp_c: f64, ph: f64, (ta, ca): (f64, f64)) -> Option<f64> {
    let water = &site.water;
    let test = WaterTest {
        temp_c,
        ta_mg_l: ta,
        ca_mg_l: ca,
        tds_mg_l: water.dissolved_mg_l,
        ph,
        cya_mg_l: water.cyanuric_acid_mg_l,
        borate_mg_l: water.borate_mg_l,
        chlorine_mg_l: water.free_chlorine_mg_l,
    };
    let water = test.water().ok()?;
    let equilibrium = water.equilibrium();
    Some(equilibrium.calcite_index(&water, &equilibrium.solve(&water)))
}

impl Closing {
    /// Works it out.
    ///
    /// # Errors
    /// Water that the chemistry does not cover, in words.
    pub fn of(site: &Site, plan: &Plan, log: &Log, winter: Winter) -> Result<Self, String> {
        let found = as_found(log, site);
        let (w, wanted) = (&found.water, &found.wanted);
        let outside = || "the water in the log is outside of what the chemistry covers".to_owned();
        let now = (w.alkalinity_mg_l, w.calcium_mg_l);
        let index_found = index(&found, found.temperature_c, w.ph, now).ok_or_else(outside)?;
        let alkalinity = w.alkalinity_mg_l.max(wanted.alkalinity_mg_l);
        let cold = |calcium| {
            let with = (alkalinity, calcium);
            index(&found, winter.coldest_c, wanted.ph, with).ok_or_else(outside)
        };
        let mut calcium = w.calcium_mg_l.max(wanted.calcium_mg_l);
        while cold(calcium)? < INDEX_MIN && calcium + CALCIUM_STEP <= CALCIUM_MAX {
            calcium += CALCIUM_STEP;
        }
        let mut target = site.clone();
        target.wanted.calcium_mg_l = calcium;
        let kept = site
            .feeders
            .iter()
            .filter(|one| one.product == Product::Hypochlorite);
        let left = winter.strength_left();
        let drums = kept.map(|one| DrumAhead {
            feeder: one.name.clone(),
            strength_g_l: one.strength,
            left,
            is_taken: left * 100.0 >= f64::from(STRENGTH_MIN),
        });
        Ok(Self {
            site: site.name.clone(),
            time: log.now().time.clone(),
            winter,
            index_found,
            index_coldest: cold(calcium)?,
            calcium_mg_l: calcium,
            by_hand: VisitResult::of(&target, plan, log).today,
            drums: drums.collect(),
            plant: PLANT.to_vec(),
            left_out: log.left_out.clone(),
        })
    }
}

impl fmt::Display for Closing {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(f, "Closing: {}, by the tests of {}\n", self.site, self.time)?;
        left_out(f, self.left_out.as_deref())?;
        writeln!(f, "The water in the cold")?;
        writeln!(
            f,
            "  saturation index         {:+.2} as found",
            self.index_found
        )?;
        writeln!(
            f,
            "                           {:+.2} at {:.0} C with all of the list below done, {:.0} mg/L of calcium in it",
            self.index_coldest, self.winter.coldest_c, self.calcium_mg_l
        )?;
        if self.index_coldest < INDEX_MIN {
            writeln!(
                f,
                "  below {INDEX_MIN} even so: plaster dissolves slowly; raise alkalinity with it, or test in midwinter"
            )?;
        }
        writeln!(f, "\nBy hand, in this order")?;
        by_hand(f, &self.by_hand)?;
        writeln!(
            f,
            "Hypochlorite that is kept for {:.0} days at {:.0} C",
            self.winter.days, self.winter.store_c
        )?;
        if self.drums.is_empty() {
            writeln!(f, "  none")?;
        }
        for drum in &self.drums {
            let what = if drum.is_taken {
                "test it at the opening and enter what is found"
            } else {
                "use it up before, or replace it: the unit refuses it at the opening"
            };
            let (feeder, left) = (&drum.feeder, drum.left * 100.0);
            let g_l = drum.strength_g_l * drum.left;
            writeln!(
                f,
                "  {feeder}: about {left:.0} % of its strength left, {g_l:.0} g/L; {what}"
            )?;
        }
        writeln!(f, "\nThe plant, in this order (common practice, no source)")?;
        for (number, line) in (1..).zip(&self.plant) {
            writeln!(f, "  {number}. {line}")?;
        }
        writeln!(f)?;
        cautions(f)
    }
}
