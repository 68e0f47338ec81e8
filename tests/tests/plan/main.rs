//! The Rust constants that `dosewarden plan` ends its sheet with: they build, they are the limits and settings of
//! the scenario beside them, and the ones committed for the example sites are not stale.
//!
//! `dosewarden plan examples/sites/NAME.toml --rust examples/sites/NAME.rs` writes one anew.

use dosewarden::guard::{FeederLimits, Limits, LimitsSpec};
use dosewarden::settings::{Settings, SettingsSpec};
use dosewarden_sim::plan::{COMMUNITY_POOL, HOME_POOL, HOTEL_SPA, Plan, SALT_POOL, Site};
use dosewarden_sim::scenario::{CarePlan, Scenario};

#[allow(unreachable_pub, reason = "a firmware wants it public")]
mod home {
    include!("../../../examples/sites/home-pool.rs");
}
#[allow(unreachable_pub, reason = "a firmware wants it public")]
mod spa {
    include!("../../../examples/sites/hotel-spa.rs");
}
#[allow(unreachable_pub, reason = "a firmware wants it public")]
mod community {
    include!("../../../examples/sites/community-pool.rs");
}
#[allow(unreachable_pub, reason = "a firmware wants it public")]
mod salt {
    include!("../../../examples/sites/salt-pool.rs");
}

fn plan(text: &str) -> Plan {
    let site = Site::parse("site.toml", text).expect("a sound site");
    Plan::of(&site).expect("a plan")
}

/// What a file of constants holds.
struct Constants {
    spec: LimitsSpec<2, 1>,
    settings: SettingsSpec<2>,
    care: CarePlan,
}

/// Of one of the modules above.
macro_rules! constants {
    ($of:ident) => {
        Constants {
            spec: $of::SPEC,
            settings: $of::SETTINGS,
            care: CarePlan {
                settings: $of::CARE,
                proof: $of::PROOF,
                alkalinity: $of::ALKALINITY,
                cyanurate: $of::CYANURATE,
            },
        }
    };
}

/// The committed constants are what the plan says, build, and are the scenario's limits and settings.
fn agrees(text: &str, committed: &str, constants: &Constants) {
    let plan = plan(text);
    let (spec, settings) = (&constants.spec, &constants.settings);
    assert_eq!(plan.rust, committed, "stale: write it anew");
    let limits = Limits::try_new(*spec).expect("the guard accepts them");
    let scenario = Scenario::parse("planned.toml", &plan.scenario).expect("run accepts it");
    let (of_run, of_rust) = (scenario.limits.spec(), limits.spec());
    for (feeder, own) in of_rust.feeders.iter().enumerate() {
        let FeederLimits::Enabled(own) = own else {
            panic!("feeder {feeder} is not in use");
        };
        assert_eq!(scenario.limits.feeder(feeder), Some(own), "feeder {feeder}");
    }
    // All of the site but its feeders, of which the scenario has more places.
    let bare = |text: String| {
        let end = text.find("feeders: [").expect("feeders come last");
        text[..end].to_owned()
    };
    assert_eq!(bare(format!("{of_run:?}")), bare(format!("{of_rust:?}")));
    Settings::try_new(*settings).expect("the controller accepts them");
    let of_run = scenario.settings.spec();
    assert_eq!(of_run.alarms, settings.alarms);
    assert_eq!(of_run.drums[..2], settings.drums);
    assert_eq!(of_run.level_errors[..2], settings.level_errors);
    assert_eq!(of_run.response, settings.response);
    constants.care.settings.try_new().expect("in range");
    constants.care.proof.try_new().expect("in range");
    assert_eq!(scenario.care, Some(constants.care));
}

#[test]
fn the_constants_of_the_home_pool() {
    let committed = include_str!("../../../examples/sites/home-pool.rs");
    agrees(HOME_POOL, committed, &constants!(home));
}

#[test]
fn the_constants_of_the_hotel_spa() {
    let committed = include_str!("../../../examples/sites/hotel-spa.rs");
    agrees(HOTEL_SPA, committed, &constants!(spa));
}

#[test]
fn the_constants_of_the_community_pool() {
    let committed = include_str!("../../../examples/sites/community-pool.rs");
    agrees(COMMUNITY_POOL, committed, &constants!(community));
}

#[test]
fn the_constants_of_the_salt_pool() {
    let committed = include_str!("../../../examples/sites/salt-pool.rs");
    agrees(SALT_POOL, committed, &constants!(salt));
}
