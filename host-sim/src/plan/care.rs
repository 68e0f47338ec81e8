//! What the unit is told about stages and tests, and how it checks the rates of its feeders.

use serde::Serialize;

use super::feeder::SiteFeeder;
use super::site::Site;
use super::supply;
use super::work::{Custom, FREE_ALKALI_EQ_L, Figures, water};
use crate::water::units::CHLORINE_MG_PER_MMOL;
use crate::water::{Reagent, WaterError};
use dosewarden::guard::Product;
use dosewarden::water_tests::TestedValue;

/// Under this nothing is fed, C. Our choice.
const COLD_BELOW_C: f64 = 10.0;
/// How far somebody may misread a drum, of its size. Our choice: a centimetre of a drum of 60.
const LEVEL_ERROR: f64 = 0.015;
/// And at least, L.
const LEVEL_ERROR_MIN_L: f64 = 0.1;
/// How well the water's answer to a dose is known, %. Our choice: volume to 10 %, alkalinity to 10 %, strength to 5 %
/// and a corner that mixes slowly.
const ANSWER_ERROR_PERCENT: f64 = 20.0;

/// Stages, tests and cold water.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct PlannedCare {
    /// Hours of sound flow and probes before feeding.
    pub observe_h: u16,
    /// And before full caps.
    pub reduced_h: u16,
    /// Days between proof tests of the interlocks.
    pub proof_every_days: u32,
    /// Days between tests of alkalinity.
    pub alkalinity_every_days: u16,
    /// Days between tests of cyanuric acid.
    pub cyanurate_every_days: u16,
    /// Colder water is not fed, C.
    pub cold_below_c: f64,
}

impl PlannedCare {
    /// Of a site. The caps of acid are made for the lowest alkalinity before its next test, so that test is due then.
    pub(super) fn of(site: &Site) -> Self {
        let custom = Custom::of(site.kind);
        // A day of the pump shows morning and evening, sun and bathers. Our choice.
        let day_h = site.pump_h().ceil().clamp(1.0, 24.0) as u16;
        // As the controller counts days.
        let counted = |days: f64| supply::counted_days(site, days).floor().clamp(1.0, 366.0) as u16;
        Self {
            observe_h: day_h.min(custom.observe_h_max),
            // Our choice: some ten doses of acid.
            reduced_h: 3 * day_h,
            proof_every_days: counted(f64::from(custom.proof_test_days)).into(),
            alkalinity_every_days: counted(site.next_test_days),
            cyanurate_every_days: counted(f64::from(TestedValue::Cyanurate.usual().every_days)),
            cold_below_c: COLD_BELOW_C,
        }
    }
}

/// How a feeder's real rate is checked.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct CheckFigures {
    /// How far somebody may misread its drum, L.
    pub level_error_l: f64,
    /// How the water answers it; acid only.
    pub answer: Option<AnswerFigures>,
}

/// How the water answers acid, as it is when feeding starts.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct AnswerFigures {
    /// mL that move pH by 0.1 ...
    pub dose_ml: f64,
    /// ... here.
    pub at_ph: f64,
    /// Further by so much for each tenth that pH is higher, %.
    pub more_per_tenth_percent: f64,
    /// How well that is known, a standard deviation, %.
    pub error_percent: f64,
    /// Until the probe shows all of a dose, s.
    pub settle_s: f64,
    /// mL of the site's hypochlorite, and by how much they raise pH.
    pub hypochlorite: Option<(f64, f64)>,
}

/// How far the hold of a slow part is waited for: after one exchange two thirds of it have mixed, and a tenth of the
/// water is then off by a thirtieth of the dose.
fn settle_s(site: &Site, way_s: f64) -> f64 {
    let exchange_s = site.corner.map_or(0.0, |corner| corner.exchange_min * 60.0);
    (way_s + exchange_s).ceil().clamp(60.0, 7200.0)
}

/// The check of one feeder; none for a generator. `way_s`: the water's way and three lags.
pub(super) fn check(
    site: &Site,
    figures: &Figures,
    feeder: &SiteFeeder,
    way_s: f64,
) -> Result<Option<CheckFigures>, WaterError> {
    if !feeder.is_liquid() {
        return Ok(None);
    }
    let level_error_l = (LEVEL_ERROR * feeder.drum_l).max(LEVEL_ERROR_MIN_L);
    let answer = if feeder.product == Product::Acid {
        Some(answer(site, figures, feeder, way_s)?)
    } else {
        None
    };
    Ok(Some(CheckFigures {
        level_error_l,
        answer,
    }))
}

fn answer(
    site: &Site,
    figures: &Figures,
    feeder: &SiteFeeder,
    way_s: f64,
) -> Result<AnswerFigures, WaterError> {
    let at = site.wanted.ph;
    // mL from 0.05 over this pH to 0.05 under it.
    let per_tenth = |ph: f64| -> Result<f64, WaterError> {
        let water = water(site, figures.alkalinity_start_mg_l, ph + 0.05)?;
        let eq = water.equilibrium();
        let acid = eq.to_reach(&water, ph - 0.05, Reagent::HYDROCHLORIC);
        Ok(acid.unwrap_or(0.0) * site.volume_l / feeder.strength * 1000.0)
    };
    let (low, high) = (per_tenth(at - 0.1)?, per_tenth(at + 0.1)?);
    // Half the logarithm of their ratio.
    let more = 0.5 * libm::log(low / high.max(1e-9));
    Ok(AnswerFigures {
        dose_ml: per_tenth(at)?,
        at_ph: at,
        more_per_tenth_percent: (more * 100.0).round().clamp(0.0, 25.0),
        error_percent: ANSWER_ERROR_PERCENT,
        settle_s: settle_s(site, way_s),
        hypochlorite: raises(site, figures)?,
    })
}

/// By how much the hypochlorite that lifts free chlorine by 2 mg/L raises pH before it is used: mL, and pH.
fn raises(site: &Site, figures: &Figures) -> Result<Option<(f64, f64)>, WaterError> {
    let mut all = site.feeders.iter();
    let Some(own) = all.find(|one| one.product == Product::Hypochlorite) else {
        return Ok(None);
    };
    let ml = 2.0 * site.volume_l / own.strength;
    let before = water(site, figures.alkalinity_start_mg_l, site.wanted.ph)?;
    let litres = ml / 1000.0;
    let with = before
        .with(
            Reagent::HYPOCHLORITE,
            litres * own.strength / CHLORINE_MG_PER_MMOL / site.volume_l,
        )
        .with(
            Reagent::HYDROXIDE,
            litres * FREE_ALKALI_EQ_L / site.volume_l,
        );
    let rise = with.equilibrium().solve(&with).ph - site.wanted.ph;
    Ok(Some((ml, rise.clamp(0.001, 2.0))))
}
