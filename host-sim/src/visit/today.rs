//! What to do by hand today: amounts, order, waits and cautions, by the water as it was found.

use dosewarden::guard::Product;
use dosewarden::visit::Doubt;
use serde::Serialize;

use super::alkalinity::tested;
use super::entry::Tested;
use super::log::Log;
use super::probe::ProbeFound;
use super::questions::Question;
use crate::plan::{Plan, Site, Step};
use crate::scenario::POURED_CHLORINE_G_L;
use crate::water::{Reagent, WaterTest};

/// Chlorine is made up by hand from so much under what is wanted, where it is not under the least. Our choice.
const CHLORINE_WORTH_MG_L: f64 = 1.0;
/// pH is raised by hand from so much under what is wanted. Our choice.
const PH_LOW_BY: f64 = 0.3;
const SODA_G_PER_MOL: f64 = 105.99;

/// Before and after anything that is poured.
pub const CAUTIONS: [&str; 5] = [
    "Gloves and goggles. Never mix acid and hypochlorite, not in a bucket, a drum or a line; rinse between them.",
    "Chemical into water, never water into chemical; along the deep end with the pump running, nobody in the pool.",
    "Enter each dose at the unit, so that it counts against the day's cap, or pause feeding until the wait is over.",
    "Test again after each wait before the next step: every amount comes from the tests of this visit.",
    "Advice, not a permission, and not certified. Local codes, licensed practice and the product's label come first.",
];

/// What to do today.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Today {
    /// In this order.
    pub steps: Vec<Step>,
    /// What is not advised today, and why.
    pub withheld: Vec<String>,
}

/// The site with the water as it was last tested.
pub(crate) fn as_found(log: &Log, site: &Site) -> Site {
    let mut today = site.clone();
    let latest = |which| log.latest(tested(which)).map(|(value, _)| value);
    let water = &mut today.water;
    for (which, place) in [
        (Tested::Ph, &mut water.ph),
        (Tested::Alkalinity, &mut water.alkalinity_mg_l),
        (Tested::FreeChlorine, &mut water.free_chlorine_mg_l),
        (Tested::Cyanurate, &mut water.cyanuric_acid_mg_l),
        (Tested::Calcium, &mut water.calcium_mg_l),
        (Tested::Salt, &mut water.dissolved_mg_l),
        (Tested::Temperature, &mut today.temperature_c),
    ] {
        if let Some(value) = latest(which) {
            *place = value;
        }
    }
    today
}

pub(super) fn today(
    log: &Log,
    site: &Site,
    questions: &[Question],
    probe: Option<&ProbeFound>,
) -> Today {
    let found = as_found(log, site);
    let asked = |doubt: Doubt| questions.iter().any(|one| one.doubt == doubt);
    let mut today = Today {
        steps: Vec::new(),
        withheld: Vec::new(),
    };
    match Plan::of(&found) {
        Ok(plan) => today.steps = plan.before,
        Err(why) => today.withheld.push(format!("salts and pH: {why}")),
    }
    for (what, which) in [
        ("bicarbonate", Tested::Alkalinity),
        ("hydrochloric acid", Tested::Ph),
        ("salt (", Tested::Salt),
        ("calcium chloride", Tested::Calcium),
        ("cyanuric acid", Tested::Cyanurate),
    ] {
        if log.latest(tested(which)).is_none() {
            today.drop(what, "the log has no test of it");
        }
    }
    if asked(Doubt::AlkalinityRose) {
        today.drop(
            "bicarbonate",
            "alkalinity rose while acid was fed: test it again first",
        );
    }
    let ph_asked = asked(Doubt::PhDyeMisreads) || asked(Doubt::PhOffKitScale);
    if ph_asked {
        today.drop(
            "hydrochloric acid",
            "the pH that was found is in doubt: see the question",
        );
        today
            .withheld
            .push("acid or soda by hand: the pH that was found is in doubt".to_owned());
    } else if probe.is_some_and(|probe| probe.says != "agrees") {
        let why = "pH by hand: the unit would feed against it; calibrate the probe first";
        today.withheld.push(why.to_owned());
        today
            .steps
            .retain(|step| !step.what.contains("hydrochloric acid"));
    } else if log.now().last(tested(Tested::Ph)).is_some() {
        today.steps.extend(soda(&found));
    }
    let chlorine_asked = asked(Doubt::ChlorineBleached) || asked(Doubt::TotalUnderFree);
    if chlorine_asked {
        today.withheld.push(
            "chlorine by hand: the test contradicts the probe or itself; test again first"
                .to_owned(),
        );
    } else if log.now().last(tested(Tested::FreeChlorine)).is_some() {
        today.steps.extend(chlorine(&found));
    }
    today
}

impl Today {
    fn drop(&mut self, what: &str, why: &str) {
        let before = self.steps.len();
        self.steps.retain(|step| !step.what.contains(what));
        if self.steps.len() < before {
            self.withheld
                .push(format!("{}: {why}", what.trim_end_matches(" (")));
        }
    }
}

/// Soda ash where pH is low: bicarbonate hardly moves it.
fn soda(site: &Site) -> Option<Step> {
    let (w, wanted) = (&site.water, &site.wanted);
    if w.ph > wanted.ph - PH_LOW_BY {
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
    // Half of the way: the rest comes as CO2 leaves, and too much scales.
    let to = f64::midpoint(w.ph, wanted.ph);
    let mol = water
        .equilibrium()
        .to_reach(&water, to, Reagent::CARBONATE)?;
    let grams = mol * SODA_G_PER_MOL * site.volume_l;
    Some(Step {
        what: "soda ash".to_owned(),
        amount: format!("{:.0} g", (grams / 10.0).ceil() * 10.0),
        why: format!(
            "pH from {:.1} to {to:.1}; CO2 that leaves does the rest",
            w.ph
        ),
        wait_h: 4.0,
        care: "dissolved in a bucket, in two halves; not on the same day as calcium chloride",
        kg: Some(grams / 1000.0),
    })
}

/// Hypochlorite where free chlorine is low.
fn chlorine(site: &Site) -> Option<Step> {
    let (free, wanted) = (site.water.free_chlorine_mg_l, &site.wanted);
    let missing = wanted.free_chlorine_mg_l - free;
    if free >= wanted.free_chlorine_min_mg_l && missing < CHLORINE_WORTH_MG_L {
        return None;
    }
    let own = site
        .feeders
        .iter()
        .find(|one| one.product == Product::Hypochlorite);
    let g_l = own.map_or(POURED_CHLORINE_G_L, |one| one.strength);
    let ml = missing * site.volume_l / g_l;
    Some(Step {
        what: format!("hypochlorite of {g_l:.0} g/L"),
        amount: if ml < 950.0 {
            format!("{:.0} mL", (ml / 10.0).ceil() * 10.0)
        } else {
            format!("{:.1} L", ml / 1000.0)
        },
        why: format!(
            "free chlorine from {free:.1} to {:.1} mg/L",
            wanted.free_chlorine_mg_l
        ),
        wait_h: 1.0,
        care: "hours apart from any acid, and never at the same place; nobody bathes until it tests under the code's most",
        kg: None,
    })
}
