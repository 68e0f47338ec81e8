//! Limits and settings of a site with at most two feeders, counted for two: room for more would be looked at in each
//! tick, and a simulated year has 31 million of them.

use dosewarden::guard::{FeederLimits, Fitted, Limits};
use dosewarden::settings::{Settings, SettingsSpec};

use crate::plant::MAX_FEEDERS;
use crate::scenario::{Scenario, SiteLimits, with_feeders};

/// Feeders of the usual site: acid, and something that chlorinates.
pub(super) const USUAL: usize = 2;

/// The same limits and settings. `None`: the site has more feeders, or two bodies of water.
pub(super) fn usual(scenario: &Scenario) -> Option<(Limits<USUAL, 1>, Settings<USUAL>)> {
    if scenario.feeders.len() > USUAL || scenario.limits_of_two.is_some() {
        return None;
    }
    let limits = usual_limits(&scenario.limits)?;
    let spec = scenario.settings.spec();
    let settings = Settings::try_new(SettingsSpec {
        alarms: spec.alarms,
        drums: first(&spec.drums, Fitted::NotFitted),
        level_errors: first(&spec.level_errors, Fitted::NotFitted),
        response: spec.response,
    });
    Some((limits, settings.ok()?))
}

fn usual_limits(of: &SiteLimits) -> Option<Limits<USUAL, 1>> {
    let spec = of.spec();
    let feeders = first(&spec.feeders, FeederLimits::Disabled);
    Limits::try_new(with_feeders(spec, spec.body_valves, feeders)).ok()
}

fn first<T: Copy>(all: &[T; MAX_FEEDERS], none: T) -> [T; USUAL] {
    core::array::from_fn(|index| all.get(index).copied().unwrap_or(none))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_counted_for_two_is_what_was_written_for_four() {
        let scenario = Scenario::first_pool();
        let (limits, settings) = usual(&scenario).unwrap();
        for feeder in 0..USUAL {
            let all = &scenario.limits;
            assert_eq!(limits.feeder(feeder), all.feeder(feeder));
            let stage = dosewarden::guard::Stage::Reduced;
            assert_eq!(limits.caps(feeder, 0, stage), all.caps(feeder, 0, stage));
            let spec = scenario.settings.spec();
            assert_eq!(settings.spec().drums[feeder], spec.drums[feeder]);
            assert_eq!(
                settings.spec().level_errors[feeder],
                spec.level_errors[feeder]
            );
        }
        assert_eq!(settings.spec().alarms, scenario.settings.spec().alarms);
        assert_eq!(settings.spec().response, scenario.settings.spec().response);
        let mut more = Scenario::first_pool();
        more.feeders.push(more.feeders[0].clone());
        assert!(usual(&more).is_none());
    }
}
