//! From a site's file to the bounds that a log is judged by.

use std::path::Path;

use dosewarden::guard::units::Millis;
use dosewarden::guard::{Cutoff, Governor};

use crate::audit::{Bounds, CutoffBounds, FeederBounds, Probe};
use crate::plan::{Plan, Site};
use crate::plant::Product;
use crate::scenario::{InputError, Scenario, text_of};

fn ms(time: Millis) -> f64 {
    f64::from(time.0)
}

/// The bounds that a scenario's limits state.
#[must_use]
pub fn bounds(scenario: &Scenario) -> Bounds {
    let limits = scenario.limits.spec();
    let hours = limits.hours.get();
    let feeders = (0..scenario.feeders.len()).filter_map(|index| feeder(scenario, index));
    Bounds {
        site: scenario.name.clone(),
        tick_gap_max_ms: ms(limits.tick_gap_max),
        power_on_delay_ms: ms(limits.power_on_delay),
        flow_prove_ms: ms(limits.flow_prove),
        probe_settle_ms: ms(limits.probe_settle),
        probe_age_max_ms: ms(limits.probe_age_max),
        purge_ms: ms(limits.purge),
        resume_within_ms: ms(limits.resume_within),
        hours: hours.map(|hours| (hours.open.0, hours.close.0)),
        feeders: feeders.collect(),
    }
}

fn feeder(scenario: &Scenario, index: usize) -> Option<FeederBounds> {
    let (limits, spec) = (scenario.limits.spec(), scenario.limits.feeder(index)?);
    let body = scenario.limits.body(index, 0)?;
    let product = scenario.plant.feeders.get(index)?.kind.product();
    let governor = match spec.governor {
        Governor::Ph => Some(Probe::Ph),
        Governor::Orp => Some(Probe::Orp),
        Governor::TimedShare => None,
    };
    let ph = |milli: i32| {
        limits
            .ph_probe
            .is_fitted()
            .then(|| f64::from(milli) / 1000.0)
    };
    let cutoff = match body.cutoff {
        Cutoff::AbovePh(above) => CutoffBounds {
            ph_above: ph(above.0),
            ..CutoffBounds::default()
        },
        Cutoff::Oxidiser {
            orp,
            orp_ph,
            orp_fall,
            ph_floor,
            ..
        } => CutoffBounds {
            ph_floor: ph(ph_floor.0),
            orp_falls: ph(orp_ph.0)
                .filter(|_| orp_fall.0 > 0)
                .map(|from| (from, f64::from(orp_fall.0))),
            orp_below_mv: (governor == Some(Probe::Orp)).then(|| f64::from(orp.0)),
            ..CutoffBounds::default()
        },
        // No product of a scenario is a base.
        Cutoff::BelowPh(_) => CutoffBounds::default(),
    };
    let per_ms = |an_hour: u32| f64::from(an_hour) / 3_600_000.0;
    let sliced = product == Product::GeneratorChlorine;
    Some(FeederBounds {
        name: scenario.feeders.get(index)?.name.clone(),
        product,
        drive_off_ms: ms(spec.drive_off),
        feedback_ms: spec.feedback.get().map(ms),
        rate_per_ms: per_ms(spec.rate.0),
        rate_max_per_ms: per_ms(spec.rate_any_tube.0.max(spec.rate.0)),
        cycle_cap: (!sliced).then(|| f64::from(body.cycle_cap.0)),
        run_max_ms: ms(spec.run_max),
        hour_cap: f64::from(body.hour_cap.0),
        day_cap: f64::from(body.day_cap.0),
        spread_hold_ms: ms(body.spread_hold),
        governor,
        cutoff,
        level_switch: spec.level_switch.is_fitted(),
    })
}

/// The bounds of a site's file: one that `plan` reads, whose limits are worked out, or a scenario.
///
/// # Errors
/// The first mistake in it; or that the plan of the site has errors.
pub fn load_site(path: &Path) -> Result<Bounds, InputError> {
    let (file, text) = (path.display().to_string(), text_of(path)?);
    let is_scenario = text.lines().any(|line| line.trim_end() == "[scenario]");
    if is_scenario {
        return Scenario::parse(&file, &text).map(|scenario| bounds(&scenario));
    }
    let site = Site::parse(&file, &text)?;
    let wrong = |what: String| InputError::of_file(&file, what);
    let plan = Plan::of(&site).map_err(|error| wrong(error.to_string()))?;
    if plan.has_errors() {
        let what = format!(
            "its plan has error findings, so there are no limits to judge by; `dosewarden plan {file}` says which"
        );
        return Err(wrong(what));
    }
    let planned = Scenario::parse("the planned scenario", &plan.scenario)?;
    Ok(Bounds {
        site: site.name,
        ..bounds(&planned)
    })
}
