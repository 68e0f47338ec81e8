//! A scenario's file of any text: an error that says where, or a run that takes its first ticks.

#![no_main]

use dosewarden_sim::{DosewardenUnit, Scenario, SimPool};
use libfuzzer_sys::fuzz_target;

fuzz_target!(|text: &str| {
    match Scenario::parse("fuzz.toml", text) {
        Err(error) => assert!(error.to_string().starts_with("fuzz.toml"), "{error}"),
        Ok(scenario) => {
            let unit = DosewardenUnit::for_scenario(&scenario);
            if let Ok(mut pool) = SimPool::attach(&scenario, unit) {
                for _ in 0..20 {
                    pool.tick();
                }
            }
        }
    }
});
