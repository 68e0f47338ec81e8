//! A site's file of any text: an error that says where, or a plan whose scenario can be read.

#![no_main]

use dosewarden_sim::Scenario;
use dosewarden_sim::plan::{Plan, Site};
use libfuzzer_sys::fuzz_target;

fuzz_target!(|text: &str| {
    let site = match Site::parse("fuzz.toml", text) {
        Ok(site) => site,
        Err(error) => {
            assert!(error.to_string().starts_with("fuzz.toml"), "{error}");
            return;
        }
    };
    // A finding that is an error leaves nothing to be lived.
    if let Ok(plan) = Plan::of(&site)
        && !plan.has_errors()
    {
        let read = Scenario::parse("planned.toml", &plan.scenario);
        assert!(
            read.is_ok(),
            "{}",
            read.err().map(|e| e.to_string()).unwrap_or_default()
        );
    }
});
