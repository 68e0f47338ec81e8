//! What is to be expected at the next visit.

use dosewarden::guard::Product;
use serde::Serialize;

use super::alkalinity::{AlkalinityFound, tested};
use super::drums::{Drum, RateFound, level_error};
use super::entry::Tested;
use super::errors;
use super::figure::{Figure, together};
use super::log::Log;
use crate::plan::{Plan, Site};

/// Until the next visit where the log does not tell, days. Our choice.
const NEXT_DAYS: f64 = 7.0;
/// How far the use of the next days is from that of the last ones, a share. Our choice: weather and bathers.
const NEXT_USE: f64 = 0.3;

/// A figure as it will be.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Ahead {
    /// Of what.
    pub what: String,
    /// How much of it there will be.
    pub then: Figure,
    /// Used a day.
    pub a_day: Figure,
    /// Days until nothing is left, or the least that is fed at; `None`: not by the pace so far.
    pub lasts_days: Option<f64>,
    /// It will not last.
    pub runs_out: bool,
    /// To bring until the visit after the next, L.
    #[serde(skip)]
    pub(super) bring_l: f64,
}

/// What is ahead.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Forecast {
    /// Days to the next visit: the mean so far.
    pub next_visit_days: f64,
    /// Its day.
    pub next_visit: String,
    /// Figures.
    pub figures: Vec<Ahead>,
}

/// Mean time between visits.
pub(super) fn next_days(log: &Log) -> f64 {
    let gaps = log.visits.len() - 1;
    if gaps == 0 {
        NEXT_DAYS
    } else {
        (log.now().day() / gaps as f64).max(1.0)
    }
}

pub(super) fn ahead(
    log: &Log,
    site: &Site,
    plan: &Plan,
    drums: &[Drum],
    rates: &[RateFound],
    alkalinity: Option<&AlkalinityFound>,
) -> Forecast {
    let days = next_days(log);
    let mut figures: Vec<Ahead> = (0..site.feeders.len())
        .filter_map(|at| drum(site, plan, drums, rates, at, days))
        .collect();
    figures.extend(falls(log, plan, alkalinity, days));
    Forecast {
        next_visit_days: days,
        next_visit: log.day_in(days),
        figures,
    }
}

fn drum(
    site: &Site,
    plan: &Plan,
    drums: &[Drum],
    rates: &[RateFound],
    at: usize,
    days: f64,
) -> Option<Ahead> {
    let (own, drum) = (site.feeders.get(at)?, drums.get(at)?);
    if !own.is_liquid() {
        return None;
    }
    let left = drum.left_l?;
    let rate = rates.iter().find(|rate| rate.feeder == own.name);
    let (a_day, source) = match (rate.filter(|rate| rate.days > 0.5), drum.booked) {
        (Some(rate), _) => (rate.real.value / rate.days, "what left the drum"),
        (None, Some((days, amount))) if days > 0.5 => (amount / days, "the controller's total"),
        _ => {
            let planned = plan.figures.feeders.get(at)?.expected_per_day;
            (planned / 1000.0, "the site's plan")
        }
    };
    let spread = NEXT_USE * a_day;
    let level = f64::from(level_error(plan, at).0) / 2e6;
    let then = (left - a_day * days).max(0.0);
    let lasts = (a_day > 0.0).then(|| left / a_day);
    Some(Ahead {
        what: format!("drum of {}", own.name),
        then: Figure::new(
            then,
            together(&[spread * days, level]),
            "L",
            format!("{left:.1} L now"),
        ),
        a_day: Figure::new(a_day, spread, "L", source),
        lasts_days: lasts,
        runs_out: lasts.is_some_and(|lasts| lasts < days * (1.0 + NEXT_USE)),
        bring_l: (a_day * (1.0 + NEXT_USE) * 2.0 * days - left).clamp(0.0, 2.0 * own.drum_l),
    })
}

/// Alkalinity falls by what acid was fed, else by what the plan expects.
fn falls(log: &Log, plan: &Plan, found: Option<&AlkalinityFound>, days: f64) -> Option<Ahead> {
    let (now, _) = log.latest(tested(Tested::Alkalinity))?;
    let fed = found.filter(|found| found.days >= 3.0);
    let (a_day, error, source) = match fed {
        Some(found) => {
            let lost = &found.lost_a_day;
            let error = together(&[lost.error, NEXT_USE * lost.value]);
            (lost.value, error, "the tests so far")
        }
        None => {
            let loss = plan.figures.alkalinity_loss_mg_l_day;
            (
                loss,
                errors::CO2_LOSS * loss,
                "CO2 that leaves, as the site file has it",
            )
        }
    };
    let spread = together(&[error * days, errors::test(Tested::Alkalinity, now)]);
    let least = crate::plan::ALKALINITY_MIN_MG_L;
    let lasts = (a_day > 0.0).then(|| ((now - least) / a_day).max(0.0));
    Some(Ahead {
        what: "alkalinity".to_owned(),
        then: Figure::new(
            (now - a_day * days).max(0.0),
            spread,
            "mg/L",
            format!("{now:.0} mg/L now"),
        ),
        a_day: Figure::new(a_day, error, "mg/L", source),
        lasts_days: lasts,
        runs_out: lasts.is_some_and(|lasts| lasts < days * (1.0 + NEXT_USE)),
        bring_l: 0.0,
    })
}

/// What has to be brought of a feeder's product.
pub(super) fn bring(forecast: &Forecast, site: &Site) -> Vec<(String, f64)> {
    let liquids = site.feeders.iter().filter(|one| one.is_liquid());
    liquids
        .filter_map(|one| {
            let what = format!("drum of {}", one.name);
            let ahead = forecast.figures.iter().find(|ahead| ahead.what == what)?;
            let name = if one.product == Product::Acid {
                format!("acid of {} mol/L", one.strength)
            } else {
                format!("hypochlorite of {:.0} g/L", one.strength)
            };
            (ahead.bring_l > 0.0).then_some((name, ahead.bring_l))
        })
        .collect()
}
