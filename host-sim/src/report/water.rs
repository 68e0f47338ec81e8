//! Curves: the water beside what is wanted of it, and what was fed beside its caps.

use dosewarden::regulate::Standard;

use super::svg::{self, Curve, Time};
use super::{Drawing, words};
use crate::plant::Product;
use crate::run::{Dose, Point, RunResult, Watch};
use crate::scenario::Scenario;

const DAY_MS: u64 = 86_400_000;

type Points = Vec<(u64, f64)>;

const WATER: (&str, &str) = ("true", "the water itself");
const SHOWN: (&str, &str) = ("shown", "what the unit shows");
const BAND: (&str, &str) = ("band", "within the alarms");
const SET_POINT: (&str, &str) = ("wanted", "set point");

/// A level from the first moment to the last.
fn level(time: Time, value: f64) -> Points {
    vec![(time.from_ms, value), (time.to_ms, value)]
}

/// The set point of the first feeder that this governor has, as its regulator counts; `None` for one that feeds a share of
/// the time. With two bodies both have it.
fn set_point(scenario: &Scenario, is_ph: bool) -> Option<f64> {
    let own = scenario.feeders.iter().enumerate().find_map(|(at, plan)| {
        let of_ph = scenario.limits.feeder(at)?.governor == dosewarden::guard::Governor::Ph;
        match plan.regulator {
            Standard::SizedDose(sized) if of_ph == is_ph => Some(f64::from(sized.set_point())),
            _ => None,
        }
    });
    own.map(|value| if is_ph { value / 1000.0 } else { value })
}

/// pH, ORP, free chlorine and temperature.
pub(super) fn curves(scenario: &Scenario, watch: &Watch, time: Time) -> Vec<Drawing> {
    let of = |pick: &dyn Fn(&Point) -> Option<f64>| -> Points {
        let all = watch.points.iter();
        all.filter_map(|p| pick(p).map(|value| (p.clock_ms, value)))
            .collect()
    };
    let draw = |title: &str, band, all: &[(&'static str, &'static str, Points)]| {
        let curves: Vec<Curve<'_>> = all
            .iter()
            .filter(|(.., points)| !points.is_empty())
            .map(|(class, _, points)| Curve { class, points })
            .collect();
        let mut key: Vec<_> = all
            .iter()
            .rev()
            .filter(|(.., points)| !points.is_empty())
            .map(|(class, words, _)| (*class, *words))
            .collect();
        key.extend(Option::<(f64, f64)>::is_some(&band).then_some(BAND));
        let told = all.iter().rev();
        let words = told.filter_map(|(_, name, points)| words::curve(name, points));
        Drawing {
            svg: svg::curves(title, time, band, &curves),
            title: title.to_owned(),
            has_heading: false,
            key,
            words: words.collect(),
        }
    };
    let wanted = |value: Option<f64>| {
        let points = value.map_or_else(Vec::new, |value| level(time, value));
        (SET_POINT.0, SET_POINT.1, points)
    };
    let water = |points| (WATER.0, WATER.1, points);
    let shown = |points| (SHOWN.0, SHOWN.1, points);
    let least = level(time, scenario.held_to.chlorine_min_mg_l);
    vec![
        draw(
            "pH",
            Some(scenario.ph_band()),
            &[
                wanted(set_point(scenario, true)),
                shown(of(&|p| p.ph_shown)),
                water(of(&|p| Some(p.ph))),
            ],
        ),
        draw(
            "ORP, mV",
            Some(scenario.orp_band()),
            &[
                wanted(set_point(scenario, false)),
                shown(of(&|p| p.orp_shown_mv)),
                water(of(&|p| Some(p.orp_mv))),
            ],
        ),
        draw(
            "free chlorine, mg/L",
            None,
            &[
                (SET_POINT.0, "least that the scenario wants", least),
                water(of(&|p| Some(p.free_chlorine_mg_l))),
            ],
        ),
        draw(
            "temperature, C",
            None,
            &[water(of(&|p| Some(p.temperature_c)))],
        ),
    ]
}

/// What a feeder gave in the 24 hours before each moment, in mL or g. A dose counts whole from its end on.
fn last_day(points: &[Point], doses: &[&Dose]) -> Points {
    let at = |clock_ms: u64| {
        let own = doses
            .iter()
            .filter(|dose| dose.to_ms <= clock_ms && dose.to_ms.saturating_add(DAY_MS) > clock_ms);
        own.map(|dose| dose.amount / 1000.0).sum()
    };
    points
        .iter()
        .map(|p| (p.clock_ms, at(p.clock_ms)))
        .collect()
}

/// For each feeder, what it gave in the last 24 hours beside the day's cap in full.
pub(super) fn caps_used(scenario: &Scenario, result: &RunResult, time: Time) -> Vec<Drawing> {
    let feeders = scenario.feeders.iter().zip(&result.summary.feeders);
    let draw = |(index, (plan, own)): (usize, (&_, &crate::run::FeederSummary))| {
        let plan: &crate::scenario::FeederPlan = plan;
        let generator = scenario.plant.feeders[index].kind.product() == Product::GeneratorChlorine;
        let unit = if generator { "g" } else { "mL" };
        let all = result.watch.doses.iter();
        let doses: Vec<&Dose> = all.filter(|dose| dose.feeder == index).collect();
        let fed = last_day(&result.watch.points, &doses);
        let cap = level(time, own.day_cap);
        let title = format!("{}: last 24 h, {unit}", plan.name);
        let curves = [
            Curve {
                class: SET_POINT.0,
                points: &cap,
            },
            Curve {
                class: "true",
                points: &fed,
            },
        ];
        Drawing {
            svg: svg::curves(&title, time, None, &curves),
            title,
            has_heading: false,
            key: vec![
                ("true", "fed in 24 h"),
                (SET_POINT.0, "the day's cap, in full"),
            ],
            words: [("fed in 24 h", &fed), ("the day's cap, in full", &cap)]
                .iter()
                .filter_map(|(name, points)| words::curve(name, points))
                .collect(),
        }
    };
    feeders.enumerate().map(draw).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_dose_counts_for_a_day_from_its_end() {
        let point = |clock_ms| Point {
            clock_ms,
            ph: 7.5,
            ph_shown: None,
            orp_mv: 700.0,
            orp_shown_mv: None,
            free_chlorine_mg_l: 1.0,
            temperature_c: 26.0,
            flow_l_min: 200.0,
        };
        let dose = |from_ms, to_ms, amount| Dose {
            feeder: 0,
            from_ms,
            to_ms,
            amount,
        };
        let (one, two) = (dose(1_000, 2_000, 5_000.0), dose(9_000, 10_000, 7_000.0));
        let ends = [1_999, 2_000, 10_000, 2_000 + DAY_MS - 1, 2_000 + DAY_MS];
        let found = last_day(&ends.map(point), &[&one, &two]);
        let fed: Vec<f64> = found.iter().map(|(_, fed)| *fed).collect();
        assert_eq!(fed, [0.0, 5.0, 12.0, 12.0, 7.0]);
    }

    #[test]
    fn set_points_are_those_of_the_regulators() {
        let scenario = Scenario::first_pool();
        assert_eq!(set_point(&scenario, true), Some(7.4));
        let orp = set_point(&scenario, false).unwrap();
        let (low, high) = scenario.orp_band();
        assert!(orp > low && orp < high, "{orp}");
    }
}
