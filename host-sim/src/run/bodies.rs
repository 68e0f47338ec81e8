//! What became of each of several bodies of water. With one there is nothing to tell apart.

use core::fmt::{self, Formatter};

use serde::Serialize;

use super::spans::Spans;
use super::text::figure;
use super::watch::{Band, Watch};
use crate::judge::body_limits;
use crate::plant::{MAX_FEEDERS, Truth};
use crate::scenario::Scenario;

/// What was seen of one body while the valves selected it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct BodyTime {
    /// When.
    pub selected: Spans,
    /// Its pH within the alarm thresholds.
    pub ph: Band,
    /// Its ORP within them.
    pub orp: Band,
    /// What each feeder fed into it, uL or mg.
    pub fed: [f64; MAX_FEEDERS],
}

/// What became of one body.
#[derive(Clone, Debug, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct BodySummary {
    /// Its name.
    pub name: String,
    /// For how long the valves selected it.
    pub selected_s: u64,
    /// Share of that time in which its pH was within the alarm thresholds.
    pub ph_inside_percent: f64,
    /// The same of its ORP.
    pub orp_inside_percent: f64,
    /// What was fed into it.
    pub feeders: Vec<BodyFeed>,
}

/// What one feeder gave to one body, and what it may, in the feeder's `unit`.
#[derive(Clone, Debug, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct BodyFeed {
    /// The feeder.
    pub name: String,
    /// Amount in all.
    pub total: f64,
    /// Cap of a cycle.
    pub cycle_cap: f64,
    /// Cap of a rolling hour.
    pub hour_cap: f64,
    /// Cap of a rolling day.
    pub day_cap: f64,
}

impl BodyTime {
    /// One for each body, where there are several.
    pub(super) fn several(scenario: &Scenario) -> Vec<Self> {
        let count = scenario.bodies.len();
        vec![Self::default(); if count > 1 { count } else { 0 }]
    }

    /// A step in which the valves selected it.
    pub(super) fn look(&mut self, truth: &Truth, ph: (f64, f64), orp: (f64, f64)) {
        let Some(water) = truth.bodies.get(truth.body) else {
            return;
        };
        let dt_ms = u64::from(truth.dt_ms);
        self.ph.count(ph.0 <= water.ph && water.ph <= ph.1, dt_ms);
        let orp_mv = water.orp_mv;
        self.orp.count(orp.0 <= orp_mv && orp_mv <= orp.1, dt_ms);
        for (sum, feeder) in self.fed.iter_mut().zip(&truth.feeders) {
            *sum += feeder.fed;
        }
    }
}

pub(super) fn summaries(scenario: &Scenario, watch: &Watch) -> Vec<BodySummary> {
    let all = scenario.bodies.iter().zip(&watch.bodies).enumerate();
    all.map(|(body, (plan, seen))| BodySummary {
        name: plan.name.clone(),
        selected_s: seen.ph.of_ms / 1000,
        ph_inside_percent: seen.ph.percent(),
        orp_inside_percent: seen.orp.percent(),
        feeders: scenario
            .feeders
            .iter()
            .enumerate()
            .map(|(at, feeder)| {
                let own = body_limits(scenario, at, body);
                let cap = |pick: fn(&dosewarden::guard::BodyLimits) -> u32| {
                    own.map_or(0.0, |own| f64::from(pick(own)) / 1000.0)
                };
                BodyFeed {
                    name: feeder.name.clone(),
                    total: seen.fed[at] / 1000.0,
                    cycle_cap: cap(|own| own.cycle_cap.0),
                    hour_cap: cap(|own| own.hour_cap.0),
                    day_cap: cap(|own| own.day_cap.0),
                }
            })
            .collect(),
    })
    .collect()
}

/// As text, one paragraph for each.
pub(super) fn write(f: &mut Formatter<'_>, bodies: &[BodySummary], units: &[&str]) -> fmt::Result {
    for body in bodies {
        writeln!(f)?;
        let hours = figure(body.selected_s as f64 / 3600.0);
        writeln!(f, "{}: selected for {hours} h in all", body.name)?;
        writeln!(
            f,
            "  within the thresholds then: pH {:.1} %, ORP {:.1} % of the time",
            body.ph_inside_percent, body.orp_inside_percent
        )?;
        for (feed, unit) in body.feeders.iter().zip(units) {
            writeln!(
                f,
                "  {}: {} {unit}; caps {} a cycle, {} an hour, {} a day",
                feed.name,
                figure(feed.total),
                figure(feed.cycle_cap),
                figure(feed.hour_cap),
                figure(feed.day_cap)
            )?;
        }
    }
    Ok(())
}
