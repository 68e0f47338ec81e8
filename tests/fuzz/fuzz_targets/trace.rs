//! A recorded log of any text, as a trace of ours and as a log of another controller: an error that names its line, or
//! what `why` and `audit` say of it.

#![no_main]

use std::sync::LazyLock;

use dosewarden_sim::Scenario;
use dosewarden_sim::audit::{Bounds, audit};
use dosewarden_sim::recorded::{LogMap, bounds, read_log};
use dosewarden_sim::why::{Moment, TraceFile, explain};
use libfuzzer_sys::fuzz_target;

/// The first pool's limits.
static SITE: LazyLock<Bounds> = LazyLock::new(|| bounds(&Scenario::first_pool()));

fuzz_target!(|text: &str| {
    match TraceFile::read("fuzz.csv", text.as_bytes()) {
        Err(error) => assert!(error.to_string().starts_with("fuzz.csv"), "{error}"),
        Ok(trace) => {
            // The last row is there, and has the feeders that the trace has.
            let last = explain(&trace, Moment::Last, None).expect("it has rows");
            assert!(!last.to_string().is_empty());
        }
    }
    // A map, a line of three dashes, and its log; without it, a log of ours.
    let (map, log) = match text.split_once("\n---\n") {
        Some((map, log)) => (LogMap::parse("fuzz.toml", map), log),
        None => (Ok(LogMap::of_trace(&SITE)), text),
    };
    match map {
        Err(error) => assert!(error.to_string().starts_with("fuzz.toml"), "{error}"),
        Ok(map) => match read_log("fuzz.csv", log.as_bytes(), &map, &SITE) {
            Err(error) => assert!(error.to_string().starts_with("fuzz.csv"), "{error}"),
            Ok(log) => assert!(!audit(&log, &SITE).to_string().is_empty()),
        },
    }
});
