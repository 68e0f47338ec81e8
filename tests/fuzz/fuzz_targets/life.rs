//! A life of the guard: site, ticks, facts, persons from a seed, and up to twelve faults more, one each four bytes.
//! Every law is watched, and the model has to name the same vetoes.

#![no_main]
#![allow(
    dead_code,
    unused_imports,
    reason = "the laws' tests are not built here"
)]

use libfuzzer_sys::fuzz_target;
use proptest::strategy::{Strategy, ValueTree};
use proptest::test_runner::{Config, RngAlgorithm, TestRng, TestRunner};

#[path = "../../laws/tests/laws/asks.rs"]
mod asks;
#[path = "../../laws/tests/laws/coverage.rs"]
mod coverage;
#[path = "../../laws/tests/laws/directed.rs"]
mod directed;
#[path = "../../laws/tests/laws/engine.rs"]
mod engine;
#[path = "../../laws/tests/laws/facts.rs"]
mod facts;
#[path = "../../laws/tests/laws/model/mod.rs"]
mod model;
#[path = "../../laws/tests/laws/rig.rs"]
mod rig;
#[path = "../../laws/tests/laws/script.rs"]
mod script;
#[path = "../../laws/tests/laws/site.rs"]
mod site;
#[path = "../../laws/tests/laws/truth.rs"]
mod truth;
#[path = "../../laws/tests/laws/watch.rs"]
mod watch;

/// Most faults that are put into a life.
const FAULTS_MAX: usize = 12;
/// Ticks of a life, at least.
const TICKS: u32 = 170;

fuzz_target!(|bytes: &[u8]| {
    let Some((seed, faults)) = bytes.split_first_chunk::<8>() else {
        return;
    };
    let Some(mut life) = drawn(script::lives(), seed) else {
        return;
    };
    for event in faults.chunks_exact(4).take(FAULTS_MAX) {
        let Some(fault) = drawn(script::faults(), &event[2..]) else {
            return;
        };
        life.events.push(script::Event {
            at: u32::from(event[0]) % TICKS,
            ticks: u32::from(event[1] % 64) + 1,
            fault,
        });
    }
    let lived = match (life.plan.kit.feeders(), life.plan.bodies) {
        (2, 1) => rig::live::<2, 1>(&life, true),
        (2, _) => rig::live::<2, 2>(&life, true),
        _ => rig::live::<3, 1>(&life, true),
    };
    if let Err(why) = lived {
        panic!("{why}\n{life:#?}");
    }
});

/// What a strategy draws from this seed.
fn drawn<S: Strategy>(strategy: S, seed: &[u8]) -> Option<S::Value> {
    let mut whole = [0; 32];
    for (to, from) in whole.iter_mut().zip(seed) {
        *to = *from;
    }
    let rng = TestRng::from_seed(RngAlgorithm::ChaCha, &whole);
    let mut runner = TestRunner::new_with_rng(Config::default(), rng);
    Some(strategy.new_tree(&mut runner).ok()?.current())
}
