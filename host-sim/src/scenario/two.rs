//! Limits for two bodies from those that are written for one, and what is said of each.

use dosewarden::guard::units::Millis;
use dosewarden::guard::{
    BodyLimits, FeederLimits, FeederSpec, Fitted, Limits, LimitsError, LimitsSpec,
};

use dosewarden::regulate::Standard;

use super::error::InputError;
use super::feeder::ReadFeeder;
use super::limits::{self, SiteLimits};
use super::table::{Source, Table};
use crate::plant::MAX_FEEDERS;

/// The limits of a site, for one body, and for both where the valves' position is told and has to stand for `steady`.
pub(super) fn read(
    source: &Source<'_>,
    root: &Table<'_, '_>,
    feeders: &[(ReadFeeder, Standard)],
    steady: Option<Millis>,
) -> Result<(SiteLimits, Option<SiteLimits<2>>), InputError> {
    let slots = core::array::from_fn(|index| match feeders.get(index) {
        Some((read, _)) => FeederLimits::Enabled(read.limits),
        None => FeederLimits::Disabled,
    });
    let spec = limits::site(root, slots)?;
    // Of two bodies first: what is wrong is told at the body that it is about.
    let of_two = match steady {
        None => None,
        Some(steady) => {
            let second: Vec<_> = feeders.iter().filter_map(|(read, _)| read.second).collect();
            Some(limits::check_two(source, &spec, steady, &second)?)
        }
    };
    Ok((limits::check(source, spec)?, of_two))
}

/// The limits of a site with valves, whose position stands for `steady`: `second` are those of the second body, for
/// each feeder that is enabled.
///
/// # Errors
/// What the guard refuses.
pub(super) fn of_two(
    of: &LimitsSpec<MAX_FEEDERS, 1>,
    steady: Millis,
    second: &[BodyLimits],
) -> Result<Limits<MAX_FEEDERS, 2>, LimitsError> {
    let mut second = second.iter();
    let feeders = of.feeders.map(|one| match one {
        FeederLimits::Enabled(spec) => FeederLimits::Enabled(feeder(&spec, second.next())),
        FeederLimits::Disabled => FeederLimits::Disabled,
    });
    Limits::try_new(with_feeders(of, Fitted::Fitted(steady), feeders))
}

/// The same site with other valves and feeders.
pub(crate) fn with_feeders<const N: usize, const B: usize, const M: usize, const C: usize>(
    of: &LimitsSpec<N, B>,
    body_valves: Fitted<Millis>,
    feeders: [FeederLimits<C>; M],
) -> LimitsSpec<M, C> {
    let LimitsSpec {
        tick_gap_max,
        power_on_delay,
        power_on_delay_new_probe,
        restart_after_power_loss,
        flow_switch,
        flow_meter,
        pump_contact,
        witness_age_max,
        flow_prove,
        stuck_flow_max,
        ph_probe,
        orp_probe,
        probe_age_max,
        probe_settle,
        probe_failure_max,
        body_valves: _,
        purge,
        resume_within,
        save_max,
        manual_max,
        hours,
        response,
        fallback,
        off_credit_max,
        off_credit_ratio,
        feeders: _,
    } = *of;
    LimitsSpec {
        tick_gap_max,
        power_on_delay,
        power_on_delay_new_probe,
        restart_after_power_loss,
        flow_switch,
        flow_meter,
        pump_contact,
        witness_age_max,
        flow_prove,
        stuck_flow_max,
        ph_probe,
        orp_probe,
        probe_age_max,
        probe_settle,
        probe_failure_max,
        body_valves,
        purge,
        resume_within,
        save_max,
        manual_max,
        hours,
        response,
        fallback,
        off_credit_max,
        off_credit_ratio,
        feeders,
    }
}

/// A feeder with the limits of a second body; without them those of the first stand for both.
fn feeder(of: &FeederSpec<1>, second: Option<&BodyLimits>) -> FeederSpec<2> {
    let FeederSpec {
        product,
        governor,
        rate,
        rate_tolerance,
        rate_any_tube,
        catch_test_on_record,
        drive_off,
        feedback,
        feedback_clear,
        cut_timer,
        level_switch,
        cell_flow_switch,
        dose_min,
        slice_max,
        run_max,
        bodies: [first],
    } = *of;
    FeederSpec {
        product,
        governor,
        rate,
        rate_tolerance,
        rate_any_tube,
        catch_test_on_record,
        drive_off,
        feedback,
        feedback_clear,
        cut_timer,
        level_switch,
        cell_flow_switch,
        dose_min,
        slice_max,
        run_max,
        bodies: [first, *second.unwrap_or(&first)],
    }
}
