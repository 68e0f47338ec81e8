//! Ticks of guard and controller together, with the shipping buckets: a million a second and core
//! is the aim.

#![allow(
    missing_docs,
    reason = "criterion's macros make undocumented functions"
)]

#[path = "../tests/pool/mod.rs"]
mod pool;

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use dosewarden::Inputs;

use pool::Pool;

fn ticks(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("tick");
    group.throughput(Throughput::Elements(1));
    // Both products are wanted: cycles, holds, purges and records come and go.
    let mut wanting = Pool::begun();
    group.bench_function("feeding by turns", |bench| bench.iter(|| wanting.tick()));
    let mut quiet = Pool::begun();
    quiet.inputs.facts.ph.value.0 = 7400;
    quiet.inputs.facts.orp.value.0 = 720;
    group.bench_function("nothing wanted", |bench| bench.iter(|| quiet.tick()));
    let mut blind = Pool::begun();
    blind.inputs = Inputs::UNKNOWN;
    group.bench_function("nothing known, all refused", |bench| {
        bench.iter(|| blind.tick());
    });
    group.finish();
}

criterion_group!(benches, ticks);
criterion_main!(benches);
