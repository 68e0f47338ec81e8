//! From a scenario to what the oracles hold it to.
//!
//! Invariant: the bounds come from the limits that the site states and from the plant's true rates,
//! never from what the unit did.

use dosewarden::guard::units::Dose;
use dosewarden::guard::{BodyLimits, Cutoff, Governor, LimitsSpec, Product};

use crate::oracle::{
    Annunciation, FeederBounds, Finding, OracleSet, SiteBounds, StoredCharges, TimeBounds,
};
use crate::plant::{MAX_FEEDERS, PlantSpec, Truth};
use crate::scenario::Scenario;
use crate::unit::UnitStatus;

/// The oracles by name, in their order.
pub const ORACLES: [&str; 23] = [
    "standing_water",
    "line_gas",
    "power_on_delay",
    "never_both",
    "acid_floor",
    "cycle_total",
    "hour_total",
    "day_total",
    "holds_kept",
    "chlorine_ceiling",
    "poor_water_alarmed",
    "fed_or_asked",
    "kept_in_range",
    "cell_flow",
    "lockout_kept",
    "water_settled",
    "charge_stored",
    "never_dry",
    "hand_feed_held",
    "stop_obeyed",
    "fallback_capped",
    "hours_kept",
    "body_flushed",
];

/// What every oracle found.
#[derive(Clone, Debug, PartialEq)]
pub struct Findings(pub Vec<Finding>);

impl Findings {
    /// Nothing was broken.
    #[must_use]
    pub fn held(&self) -> bool {
        self.broken().next().is_none()
    }

    /// Names of the oracles that were broken.
    pub fn broken(&self) -> impl Iterator<Item = &'static str> + '_ {
        self.0
            .iter()
            .filter(|finding| finding.verdict.is_broken())
            .map(|finding| finding.name)
    }

    /// Whether this oracle was broken.
    #[must_use]
    pub fn is_broken(&self, oracle: &str) -> bool {
        self.broken().any(|name| name == oracle)
    }
}

/// What persons have done at the unit, and what is in its store.
pub(crate) struct Witnessed<'a> {
    pub(crate) released: bool,
    pub(crate) held: [bool; MAX_FEEDERS],
    pub(crate) stopped: bool,
    pub(crate) fallback: bool,
    pub(crate) stored: Option<[Option<&'a [u8]>; 2]>,
}

/// The oracles of one run.
#[derive(Clone)]
pub(crate) struct Judge {
    oracles: OracleSet,
    stored: StoredCharges,
    told: Annunciation,
}

impl Judge {
    pub(crate) fn of(scenario: &Scenario) -> Self {
        Self {
            oracles: OracleSet::of_bodies(
                bounds(scenario),
                (1..scenario.bodies.len())
                    .map(|body| bounds_in(scenario, body))
                    .collect(),
            ),
            stored: StoredCharges::default(),
            told: Annunciation::default(),
        }
    }

    pub(crate) fn look(&mut self, truth: &Truth, status: &UnitStatus, seen: &Witnessed<'_>) {
        // Only what is fed needs a charge.
        let is_fed = truth.feeders.iter().any(|feeder| feeder.fed > 0.0);
        let stored = seen.stored.filter(|_| is_fed);
        self.told = Annunciation {
            alarm: status.alarms != 0,
            person_asked: status.needs_person,
            locked: status.feeders.map(|feeder| feeder.locked),
            released: seen.released,
            held: seen.held,
            stopped: seen.stopped,
            fallback: seen.fallback,
            stored_charge: stored.map(|copies| self.stored.read(copies)),
        };
        self.oracles.observe(truth, &self.told);
    }

    /// Closes what stands open at the end.
    pub(crate) fn finish(&mut self, truth: &Truth) {
        self.oracles.finish(truth, &self.told);
    }

    pub(crate) fn findings(&self) -> Findings {
        Findings(self.oracles.verdicts().collect())
    }
}

fn amount(dose: Dose) -> f64 {
    f64::from(dose.0)
}

/// What the scenario's site is held to, in its first body of water.
#[must_use]
pub fn bounds(scenario: &Scenario) -> SiteBounds {
    bounds_in(scenario, 0)
}

/// What binds a feeder in a body: what is said of it, or of the one body that the unit counts for.
pub(crate) fn body_limits(scenario: &Scenario, feeder: usize, body: usize) -> Option<&BodyLimits> {
    match &scenario.limits_of_two {
        Some(limits) => limits.body(feeder, body),
        None => scenario.limits.body(feeder, 0),
    }
}

/// What the scenario's site is held to while the valves select a body.
#[must_use]
pub fn bounds_in(scenario: &Scenario, body: usize) -> SiteBounds {
    let limits = scenario.limits.spec();
    let held = &scenario.held_to;
    let plant = &scenario.plant;
    let own = scenario.bodies.get(body);
    let lag_s = plant.ph_probe.lag_s.max(plant.orp_probe.lag_s) + plant.sample_lag_s;
    let cutoffs =
        || (0..plant.feeders.len()).filter_map(|at| Some(body_limits(scenario, at, body)?.cutoff));
    let acid = cutoffs().find_map(|cutoff| match cutoff {
        Cutoff::AbovePh(ph) => Some(f64::from(ph.0) / 1000.0),
        _ => None,
    });
    let chlorine = cutoffs().find_map(|cutoff| match cutoff {
        Cutoff::Oxidiser { orp, .. } => Some(f64::from(orp.0)),
        _ => None,
    });
    SiteBounds {
        tick_gap_max_ms: limits.tick_gap_max.0,
        power_on_delay_ms: u64::from(limits.power_on_delay.0),
        resume_within_ms: u64::from(limits.resume_within.0),
        probe_lag_ms: (3.0 * lag_s * 1000.0).ceil() as u64,
        acid_cutoff_ph: acid,
        // Three standard deviations, and half of the last figure that the unit keeps.
        probe_error_ph: plant.ph_probe.offset.abs() + 3.0 * plant.ph_probe.noise + 0.0005,
        chlorine_cutoff_mv: chlorine.filter(|_| has_orp(limits)),
        probe_error_mv: plant.orp_probe.offset.abs() + 3.0 * plant.orp_probe.noise + 0.5,
        chlorine_min_mg_l: held.chlorine_min_mg_l,
        gas_max_g: held.line_gas_max_g,
        acid_wanted_above_ph: held.acid_wanted_above_ph,
        chlorine_wanted_below_mg_l: held.chlorine_wanted_below_mg_l,
        fed_within_ms: held.fed_within_ms,
        told_within_ms: held.told_within_ms,
        kept: own.and_then(|own| own.kept).or(held.kept),
        times: times(limits, plant),
        feeders: (0..plant.feeders.len())
            .map(|feeder| feeder_bounds(scenario, feeder, body))
            .collect(),
    }
}

/// Whether an ORP probe may hold a feeder back.
fn has_orp<const N: usize, const B: usize>(limits: &LimitsSpec<N, B>) -> bool {
    limits.orp_probe.is_fitted()
}

fn times<const N: usize, const B: usize>(
    limits: &LimitsSpec<N, B>,
    plant: &PlantSpec,
) -> TimeBounds {
    let hours = limits.hours.get();
    TimeBounds {
        flow_prove_ms: u64::from(limits.flow_prove.0),
        manual_max_ms: u64::from(limits.manual_max.0),
        fallback_run_ms: limits
            .fallback
            .get()
            .map_or(0, |fallback| u64::from(fallback.run_max.0)),
        hours: hours.map(|hours| (hours.open.0, hours.close.0)),
        start_ms: u64::from(plant.start_min) * 60_000,
    }
}

fn feeder_bounds(scenario: &Scenario, feeder: usize, body: usize) -> FeederBounds {
    let (limits, plant) = (&scenario.limits, &scenario.plant);
    let body = body_limits(scenario, feeder, body);
    let (Some(spec), Some(body)) = (limits.feeder(feeder), body) else {
        return FeederBounds::UNJUDGED;
    };
    let site = limits.spec();
    let overrun_ms = f64::from(site.tick_gap_max.0) + f64::from(spec.drive_off.0);
    let rate_ratio = plant
        .feeders
        .get(feeder)
        .map_or(1.0, |feeder| feeder.rate_factor);
    let sliced = spec.product == Product::GeneratedChlorine;
    FeederBounds {
        drive_off_ms: spec.drive_off.0,
        overrun_max: f64::from(spec.rate.0) * overrun_ms / 3_600_000.0,
        cycle_cap: (!sliced).then_some(amount(body.cycle_cap)),
        run_ms_max: Some(u64::from(spec.run_max.0)),
        hour_cap: Some(amount(body.hour_cap)),
        day_cap: Some(amount(body.day_cap)),
        spread_hold_ms: u64::from(body.spread_hold.0),
        purge_ms: u64::from(site.purge.0),
        rate_ratio,
        probe_settle_ms: Some(match spec.governor {
            Governor::TimedShare => 0,
            Governor::Ph | Governor::Orp => u64::from(site.probe_settle.0),
        }),
        level_switch: spec.level_switch.is_fitted(),
        fallback_day_cap: body.fallback.get().map(|caps| amount(caps.day)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_names_are_those_of_the_oracles() {
        let set = OracleSet::new(bounds(&Scenario::first_pool()));
        assert_eq!(
            set.verdicts()
                .map(|finding| finding.name)
                .collect::<Vec<_>>(),
            ORACLES
        );
    }

    #[test]
    fn bounds_are_in_the_products_units() {
        let site = bounds(&Scenario::first_pool());
        assert_eq!(site.acid_cutoff_ph, Some(7.2));
        assert_eq!(site.feeders.len(), 2);
        // 60 mL/min for 2 s and 200 ms.
        assert!((site.feeders[0].overrun_max - 2200.0).abs() < 1e-9);
        assert_eq!(site.feeders[1].day_cap, Some(3_000_000.0));
    }
}
