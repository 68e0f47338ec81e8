//! Chlorine used and expected.

use dosewarden::guard::Product;
use serde::Serialize;

use super::alkalinity::{booked, feeder_of, tested};
use super::between::{Came, longest};
use super::drums::{Drum, level_error, total};
use super::entry::Tested;
use super::errors;
use super::figure::{Figure, together};
use super::log::Log;
use crate::plan::{Plan, Site};

/// What two tests of free chlorine say of the feed.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct ChlorineFound {
    /// Days between the tests.
    pub days: f64,
    /// Fed and poured, by what was booked.
    pub came: Figure,
    /// The same by what left the drum.
    pub came_by_drum: Option<Figure>,
    /// Used a day, by the drum where it was read.
    pub used_a_day: Figure,
    /// What sun, bathers and the rest were expected to use a day.
    pub expected_a_day: Figure,
    /// Used less expected, a day.
    pub unexplained_a_day: Figure,
    /// "closes", "more_used" or "less_used".
    pub says: &'static str,
}

/// The feeder of chlorine, and mg/L of the whole water for one of its amounts (L, or g).
pub(super) fn source(site: &Site) -> Option<(usize, f64)> {
    if let Some(at) = feeder_of(site, Product::Hypochlorite) {
        let strength = site.feeders.get(at)?.strength;
        return Some((at, strength * 1000.0 / site.volume_l));
    }
    let at = feeder_of(site, Product::GeneratedChlorine)?;
    Some((at, 1000.0 / site.volume_l))
}

/// What the ledger fed a day since the visit before, as mg/L of the whole water.
pub(super) fn booked_a_day_mg_l(log: &Log, site: &Site, plan: &Plan) -> Option<f64> {
    let (feeder, per_amount) = source(site)?;
    let mut totals = log
        .visits
        .iter()
        .rev()
        .filter_map(|visit| Some((visit.day(), total(visit, plan, feeder)?)));
    let (day, now) = totals.next()?;
    let (before_day, before) = totals.next()?;
    (now >= before).then(|| (now - before) * per_amount / (day - before_day).max(0.25))
}

/// `None`: fewer than two tests, or no totals beside them.
pub(super) fn found(log: &Log, site: &Site, plan: &Plan, drums: &[Drum]) -> Option<ChlorineFound> {
    let (feeder, per_amount) = source(site)?;
    let fit = |at: usize| {
        let visit = log.visits.get(at);
        visit.is_some_and(|visit| total(visit, plan, feeder).is_some())
    };
    let [before, now] = longest(log, tested(Tested::FreeChlorine), fit)?;
    let days = (now.2.at_min - before.2.at_min) as f64 / 1440.0;
    if days < 0.5 {
        return None;
    }
    let fed = booked(log, plan, feeder, before.0, now.0)? * per_amount;
    let poured = Came::between(log, before.2, now.2, site).chlorine_g * 1000.0 / site.volume_l;
    let share = together(&[errors::VOLUME, errors::STRENGTH]);
    let mg_l = |value: f64, error: f64, source: &str| Figure::new(value, error, "mg/L", source);
    let ratio = drums.get(feeder)?.ratio(level_error(plan, feeder));
    let by_drum = ratio.map(|(ratio, spread)| {
        let all = fed * ratio + poured;
        mg_l(
            all,
            together(&[share * all, spread * fed]),
            "the drum and what was poured",
        )
    });
    let came = mg_l(
        fed + poured,
        share * (fed + poured),
        "the controller's totals and what was poured",
    );
    let best = by_drum.as_ref().unwrap_or(&came);
    let tests = [before.1, now.1].map(|value| errors::test(Tested::FreeChlorine, value));
    let used = (best.value + before.1 - now.1) / days;
    let used_error = together(&[best.error, tests[0], tests[1]]) / days;
    let expected = plan.figures.chlorine_mg_l_day;
    let expected_error = errors::CHLORINE_USE * expected;
    let rest = used - expected;
    let rest_error = together(&[used_error, expected_error]);
    Some(ChlorineFound {
        days,
        used_a_day: mg_l(used, used_error, "tests, and what came"),
        expected_a_day: mg_l(
            expected,
            expected_error,
            "sun, bathers and the rest, as the site file has them",
        ),
        unexplained_a_day: mg_l(rest, rest_error, "used less expected"),
        says: if rest > 2.0 * rest_error {
            "more_used"
        } else if rest < -2.0 * rest_error {
            "less_used"
        } else {
            "closes"
        },
        came_by_drum: by_drum,
        came,
    })
}
