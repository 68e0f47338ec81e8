//! A log of visits of any text: an error that names its line, or a sheet, and what moved the water between its first
//! two visits.

#![no_main]

use std::sync::LazyLock;

use dosewarden_sim::explain::Explained;
use dosewarden_sim::plan::{HOME_POOL, Plan, Site};
use dosewarden_sim::visit::{Log, VisitResult};
use libfuzzer_sys::fuzz_target;

static HOME: LazyLock<(Site, Plan)> = LazyLock::new(|| {
    let site = Site::parse("home-pool.toml", HOME_POOL).expect("a sound site");
    let plan = Plan::of(&site).expect("a sound plan");
    (site, plan)
});

fuzz_target!(|text: &str| {
    let (site, plan) = &*HOME;
    match Log::parse("fuzz.csv", text, site, plan) {
        Err(error) => assert!(error.to_string().starts_with("fuzz.csv"), "{error}"),
        Ok(log) => {
            let found = VisitResult::of(site, plan, &log);
            assert!(!found.to_string().is_empty());
            // An error, or words: it never ends otherwise.
            let (first, last) = ends(text);
            match Explained::of(site, plan, &log, first, last) {
                Ok(explained) => assert!(!explained.to_string().is_empty()),
                Err(error) => assert!(!error.to_string().is_empty()),
            }
        }
    }
});

/// The times in the first and the last row.
fn ends(text: &str) -> (&str, &str) {
    let rows = text.lines().filter(|line| !line.starts_with('#'));
    let mut times = rows.skip(1).filter_map(|line| line.split(',').next());
    let first = times.next().unwrap_or_default();
    (first, times.last().unwrap_or(first))
}
