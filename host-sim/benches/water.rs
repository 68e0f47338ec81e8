//! A solve of the chemistry: 1 us is the aim, from where the last second ended.

#![allow(
    missing_docs,
    reason = "criterion's macros make undocumented functions"
)]

use std::hint::black_box;

use criterion::{Criterion, criterion_group, criterion_main};
use dosewarden_sim::water::{Reagent, Water, WaterTest};

fn plain() -> Water {
    let test = WaterTest {
        ph: 8.1,
        ..WaterTest::of(27.0, 100.0, 300.0, 1500.0)
    };
    test.water().expect("a water")
}

fn with_everything() -> Water {
    let test = WaterTest {
        ph: 8.1,
        cya_mg_l: 50.0,
        borate_mg_l: 50.0,
        chlorine_mg_l: 3.0,
        ..WaterTest::of(27.0, 100.0, 300.0, 1500.0)
    };
    test.water().expect("a water")
}

/// A second of feeding 1 mL of acid a m3 and minute.
fn warm(criterion: &mut Criterion, name: &str, mut water: Water) {
    let eq = water.equilibrium();
    let mut solved = eq.solve(&water);
    let mut dose = 1.7e-7;
    criterion.bench_function(name, |bench| {
        bench.iter(|| {
            // And back, so that the water stays one water.
            water.add(Reagent::HYDROCHLORIC, dose);
            dose = -dose;
            solved = eq.solve_from(black_box(&water), &solved);
            solved.ph
        });
    });
}

fn solves(criterion: &mut Criterion) {
    warm(criterion, "warm, carbonate", plain());
    warm(
        criterion,
        "warm, cyanurate, borate and chlorine",
        with_everything(),
    );
    for (name, water) in [
        ("cold, carbonate", plain()),
        ("cold, cyanurate, borate and chlorine", with_everything()),
    ] {
        let eq = water.equilibrium();
        criterion.bench_function(name, |bench| bench.iter(|| eq.solve(black_box(&water)).ph));
    }
    let water = plain();
    criterion.bench_function("constants of a temperature", |bench| {
        bench.iter(|| black_box(&water).equilibrium());
    });
}

criterion_group!(benches, solves);
criterion_main!(benches);
