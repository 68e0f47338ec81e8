//! The Rust constants that `dosewarden plan` ends its sheet with: they build, they are the limits of the
//! scenario beside them, and the ones committed for the example sites are not stale.
//!
//! `dosewarden plan examples/sites/NAME.toml --rust examples/sites/NAME.rs` writes one anew.

use dosewarden::guard::{FeederLimits, Limits};
use dosewarden_sim::plan::{COMMUNITY_POOL, HOME_POOL, HOTEL_SPA, Plan, SALT_POOL, Site};
use dosewarden_sim::scenario::Scenario;

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

/// The committed constants are what the plan says, build, and are the scenario's limits.
fn agrees(text: &str, committed: &str, spec: &dosewarden::guard::LimitsSpec<2, 1>) {
    let plan = plan(text);
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
}

#[test]
fn the_constants_of_the_home_pool() {
    let committed = include_str!("../../../examples/sites/home-pool.rs");
    agrees(HOME_POOL, committed, &home::SPEC);
}

#[test]
fn the_constants_of_the_hotel_spa() {
    let committed = include_str!("../../../examples/sites/hotel-spa.rs");
    agrees(HOTEL_SPA, committed, &spa::SPEC);
}

#[test]
fn the_constants_of_the_community_pool() {
    let committed = include_str!("../../../examples/sites/community-pool.rs");
    agrees(COMMUNITY_POOL, committed, &community::SPEC);
}

#[test]
fn the_constants_of_the_salt_pool() {
    let committed = include_str!("../../../examples/sites/salt-pool.rs");
    agrees(SALT_POOL, committed, &salt::SPEC);
}
