//! Turn-taking in a closed loop with the real guard: two demands that stand for hours both get
//! their turn, whatever refuses one of them.

use crate::bench::{ACID, Bench, CHLORINE, SPEC, regulators};
use crate::guard::units::{Dose, Fitted, Millis, Percent, Rate};
use crate::guard::{
    BodyLimits, FeederLimits, FeederSpec, Health, LimitsSpec, Lockout, Product, Rule,
};
use crate::regulate::{Band, Direction, Standard};

fn site(acid: FeederSpec<1>, chlorine: FeederSpec<1>) -> LimitsSpec<2, 1> {
    LimitsSpec {
        feeders: [FeederLimits::Enabled(acid), FeederLimits::Enabled(chlorine)],
        ..SPEC
    }
}

fn body(spec: FeederSpec<1>, change: impl Fn(&mut BodyLimits)) -> FeederSpec<1> {
    let mut spec = spec;
    change(&mut spec.bodies[0]);
    spec
}

/// Longest wait of each feeder between two ticks of feed, in seconds, over `secs`; and that no two
/// fed in one tick.
fn longest_waits(bench: &mut Bench, secs: u32) -> [u32; 2] {
    let (mut longest, mut since) = ([0; 2], [0; 2]);
    for _ in 0..secs {
        let shown = bench.tick();
        assert!(!(shown.feeds(0) && shown.feeds(1)), "both at once");
        for feeder in 0..2 {
            since[feeder] = if shown.feeds(feeder) {
                0
            } else {
                since[feeder] + 1
            };
            longest[feeder] = since[feeder].max(longest[feeder]);
        }
    }
    longest
}

/// For one feeder: its own hold (or, if longer, the purge after its own dose), the other's longest
/// dose, a purge, and the ticks of charging and closing. In seconds.
fn bound(spec: &LimitsSpec<2, 1>, feeder: usize) -> u32 {
    let FeederLimits::Enabled(own) = spec.feeders[feeder] else {
        return 0;
    };
    let FeederLimits::Enabled(other) = spec.feeders[1 - feeder] else {
        return 0;
    };
    let hold = own.bodies[0].spread_hold.max(spec.purge).0;
    let dose = other.rate.run_floor(other.bodies[0].cycle_cap);
    (hold + dose.min(other.run_max).0 + spec.purge.0) / 1000 + 12
}

#[test]
fn acid_goes_first_and_chlorine_follows() {
    let mut bench = Bench::usual();
    let acid = bench.until(10, |shown| shown.feeds(0));
    assert!(acid <= 4, "{acid} s");
    bench.until(200, |shown| {
        shown.decision.feeders[0].closed.is_some_and(|end| end.full)
    });
    let chlorine = bench.until(100, |shown| shown.feeds(1));
    assert!((40..=52).contains(&chlorine), "a purge: {chlorine} s");
}

#[test]
fn two_standing_demands_both_get_their_turn() {
    // Caps that do not bind for the time of the test.
    let roomy = |spec| {
        body(spec, |body| {
            body.hour_cap = Dose::from_ml(3000);
            body.day_cap = Dose::from_ml(30_000);
        })
    };
    let holds = [
        (600, 300),
        (30, 300),
        (300, 30),
        (30, 30),
        (1, 1),
        (600, 600),
    ];
    for (acid_hold, chlorine_hold) in holds {
        let hold = |spec, secs| {
            body(roomy(spec), |body| {
                body.spread_hold = Millis::from_secs(secs);
            })
        };
        let spec = site(hold(ACID, acid_hold), hold(CHLORINE, chlorine_hold));
        let mut bench = Bench::ready(spec, regulators());
        let waits = longest_waits(&mut bench, 7200);
        for (feeder, wait) in waits.into_iter().enumerate() {
            assert!(
                wait <= bound(&spec, feeder),
                "feeder {feeder} waits {wait} s, holds {acid_hold} and {chlorine_hold} s, \
                 bound {} s",
                bound(&spec, feeder)
            );
        }
    }
}

#[test]
fn acid_that_its_own_rules_refuse_does_not_block_chlorine() {
    type Break = fn(&mut Bench);
    let breaks: [(&str, Break); 3] = [
        ("a probe under work", |bench| {
            bench.inputs.facts.ph.health = Health::CheckFunction;
        }),
        ("a failed output", |bench| {
            bench.inputs.line_faults[0] = true;
        }),
        ("an empty drum", |bench| {
            bench.inputs.facts.feeders[0].stock.value = false;
        }),
    ];
    for (what, damage) in breaks {
        let mut acid = ACID;
        acid.level_switch = Fitted::YES;
        let mut spec = site(acid, CHLORINE);
        // Chlorine does not look at pH here, so that only acid is refused.
        spec.ph_probe = Fitted::YES;
        let mut bench = Bench::ready(spec, regulators());
        bench.until(10, |shown| shown.feeds(0));
        damage(&mut bench);
        if what == "a probe under work" {
            // The oxidiser's floor needs pH too: nobody is fed, and nobody is starved by a turn.
            bench.run(120);
            bench.inputs.facts.ph.health = Health::Normal;
        }
        let wait = bench.until(400, |shown| shown.feeds(1));
        assert!(wait <= 300, "{what}: {wait} s");
    }
}

#[test]
fn acid_at_its_cap_does_not_block_chlorine() {
    let mean = body(ACID, |body| {
        body.hour_cap = Dose::from_ml(45);
        body.day_cap = Dose::from_ml(45);
    });
    let mut bench = Bench::ready(site(mean, CHLORINE), regulators());
    bench.until(10, |shown| shown.feeds(0));
    bench.until(300, |shown| {
        shown.decision.feeders[0].vetoes.has(Rule::DayCap)
    });
    let mut fed = 0;
    for _ in 0..3600 {
        fed += u32::from(bench.tick().feeds(1));
    }
    // 400 mL an hour at 66 mL/min are 363 s.
    assert!(fed > 300, "{fed} s in an hour");
}

#[test]
fn acid_locked_out_does_not_block_chlorine() {
    let mut acid = ACID;
    acid.feedback = Fitted::Fitted(Millis(3000));
    let mut bench = Bench::ready(site(acid, CHLORINE), regulators());
    // It says that it never runs: the drive does not obey.
    bench.until(60, |shown| {
        shown.decision.feeders[0].vetoes.has(Rule::DriveObeys)
    });
    bench.tick();
    let locked = bench.controller.guard().state().feeder_lockouts[0];
    assert!(locked.has(Lockout::Drive));
    let wait = bench.until(400, |shown| shown.feeds(1));
    assert!(wait <= 120, "{wait} s");
}

/// 30 g an hour, in cycles of an hour.
const GENERATOR: FeederSpec<1> = FeederSpec {
    product: Product::GeneratedChlorine,
    rate: Rate(30_000),
    rate_tolerance: Percent(5),
    rate_any_tube: Rate(40_000),
    cell_flow_switch: Fitted::YES,
    dose_min: Dose(500),
    slice_max: Dose(5000),
    run_max: Millis::from_hours(6),
    bodies: [BodyLimits {
        cycle_cap: Dose(40_000),
        hour_cap: Dose(40_000),
        day_cap: Dose(400_000),
        spread_hold: Millis::from_mins(2),
        ..CHLORINE.bodies[0]
    }],
    ..CHLORINE
};

fn with_band() -> [Standard; 2] {
    let band = Band::try_new(Direction::Raises, 680, 720, Dose(40_000)).unwrap();
    [regulators()[0], band.into()]
}

#[test]
fn a_generator_runs_for_hours_and_pauses_for_acid() {
    let mut bench = Bench::ready(site(ACID, GENERATOR), with_band());
    bench.water(7400, 650);
    bench.until(10, |shown| shown.feeds(1));
    // Slice after slice, without a break.
    for second in 0..3000 {
        assert!(bench.tick().feeds(1), "after {second} s");
    }
    bench.water(7600, 650);
    let acid = bench.until(100, |shown| shown.feeds(0));
    assert!(acid <= 60, "a purge and the handshake: {acid} s");
    let back = bench.until(400, |shown| shown.feeds(1));
    assert!(back <= 210, "the dose, a purge: {back} s");
}

#[test]
fn a_generator_with_a_long_hold_is_not_starved_by_acid_with_a_short_one() {
    let long = body(GENERATOR, |body| {
        body.spread_hold = Millis::from_mins(20);
    });
    let short = body(ACID, |body| {
        body.spread_hold = Millis::from_mins(1);
        body.hour_cap = Dose::from_ml(900);
    });
    let mut bench = Bench::ready(site(short, long), with_band());
    let (mut acid, mut cell) = (0, 0);
    for _ in 0..4 * 3600 {
        let shown = bench.tick();
        acid += u32::from(shown.feeds(0));
        cell += u32::from(shown.feeds(1));
    }
    assert!(acid > 600 && cell > 1800, "acid {acid} s, cell {cell} s");
}

#[test]
fn feed_ends_a_purge_before_the_pump_stops() {
    let mut bench = Bench::usual();
    bench.water(7600, 720);
    bench.until(10, |shown| shown.feeds(0));
    // Purge 45 s, a late tick 2 s, the off delay 0.2 s.
    let mut left = 70_000;
    while left > 0 {
        bench.inputs.pump_stops_in = Some(Millis(left));
        let shown = bench.tick();
        assert_eq!(shown.feeds(0), left > 47_200, "{left} ms before");
        left -= 1000;
    }
}

#[test]
fn a_dose_that_does_not_fit_before_the_pump_stops_is_made_smaller_or_left() {
    let mut bench = Bench::usual();
    bench.water(7600, 720);
    // 30 s are left for feed: 33 mL/min for that long.
    bench.inputs.pump_stops_in = Some(Millis(77_200));
    bench.until(3, |shown| shown.feeds(0));
    let charged = bench.controller.guard().decision().feeders[0].charged;
    assert!(
        charged <= Dose(16_500) && charged >= Dose(15_000),
        "{charged:?}"
    );
    let mut bench = Bench::usual();
    bench.inputs.pump_stops_in = Some(Millis(50_000));
    for _ in 0..20 {
        let shown = bench.tick();
        assert!(!shown.feeds(0) && shown.decision.feeders[0].charged == Dose(0));
    }
}

#[test]
fn a_weak_share_below_the_smallest_dose_still_feeds_and_leaves_the_other_its_turn() {
    // Half of the cap, at high pH, is less than the feeder can give: it is raised to what it can.
    let weak = body(CHLORINE, |body| {
        body.cycle_cap = Dose::from_ml(8);
        body.reduced_share = Percent(100);
        body.fallback = Fitted::NotFitted;
    });
    let mut bench = Bench::ready(site(ACID, weak), regulators());
    bench.water(8000, 650);
    let (mut acid, mut chlorine) = (0, 0);
    for _ in 0..3600 {
        let shown = bench.tick();
        acid += u32::from(shown.feeds(0));
        chlorine += u32::from(shown.feeds(1));
    }
    assert!(chlorine > 20, "{chlorine} s");
    assert!(acid > 200, "{acid} s");
}
