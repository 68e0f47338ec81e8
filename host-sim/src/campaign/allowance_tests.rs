//! What an entry allows, in the unit of what was broken.

use super::bounds::Bounds;
use super::bounds_tests::{broken, chosen, entry, home};
use super::trial::Broken;
use crate::fault::{Chosen, Part};
use crate::judge::bounds as judge_bounds;

/// Half as fast a clock: two true ticks for one. A drive that has to be off is on for a tick more, and a feed twice as long.
#[test]
fn what_may_take_no_time_takes_a_tick_by_a_slow_clock() {
    let scenario = home();
    let slow = chosen("L6", Part::Site, 0.0);
    let times = slow.clock_times(&scenario);
    assert!(times > 1.5, "{times}");
    let bounds = Bounds::parse(&entry(
        "\"L6\"",
        "hand_feed_held",
        "allows = \"times_clock\"",
    ))
    .unwrap();
    let of = |bound| {
        let long = Broken {
            bound,
            ..broken("hand_feed_held", "ms", "acid")
        };
        bounds.allowed(&long, &[slow], &scenario).0.unwrap()
    };
    let tick_ms = f64::from(judge_bounds(&scenario).tick_gap_max_ms);
    assert!((of(0.0) - tick_ms * times).abs() < 1e-6);
    assert!((of(100.0) - 100.0 * times).abs() < 1e-6);
}

#[test]
fn as_long_as_a_fault_stands_is_as_it_was_drawn_or_as_the_catalogue_says() {
    let (bounds, scenario) = (Bounds::committed(), home());
    let time = broken("poor_water_alarmed", "ms", "free chlorine");
    let of = |for_ms| {
        let hung = Chosen {
            for_ms,
            ..chosen("K4", Part::Site, 0.0)
        };
        bounds.allowed(&time, &[hung], &scenario).0
    };
    assert_eq!(
        (of(None), of(Some(60_000))),
        (Some(3_600_100.0), Some(60_100.0))
    );
    // What stands to the end may last as long.
    let to_the_end = entry("\"H2\"", "poor_water_alarmed", "allows = \"lasts\"");
    let bounds = Bounds::parse(&to_the_end).unwrap();
    let stuck = chosen("H2", Part::Site, 0.0);
    let (allowed, used) = bounds.allowed(&time, &[stuck], &scenario);
    assert_eq!((allowed, used.len()), (None, 1));
}

/// The drive-on time of a cycle, beside its amount.
#[test]
fn a_time_has_a_figure_of_its_own() {
    let scenario = home();
    let of = |one: Chosen, allows: &str, unit: &'static str| {
        let rest = format!("about = \"own\"\nallows = \"{allows}\"");
        let id = format!("\"{}\"", one.fault.id);
        let bounds = Bounds::parse(&entry(&id, "cycle_total", &rest)).unwrap();
        let broken = broken("cycle_total", unit, "acid");
        bounds.allowed(&broken, &[one], &scenario).0.unwrap()
    };
    let run_ms = judge_bounds(&scenario).feeders[0].run_ms_max.unwrap();
    let older = || chosen("T5", Part::Site, 1.0);
    assert_eq!(of(older(), "cycle", "ms"), 100.0 + run_ms as f64);
    assert!(of(older(), "cycle", "uL") > 100_000.0);
    // Six times the rate is six times the amount in the same time; caps that were raised are longer too.
    let fast = || chosen("U1", Part::Feeder(0), 1.0);
    let sizes = [(fast(), "uL", 600.0), (fast(), "ms", 100.0)];
    for (one, unit, allowed) in sizes {
        assert!((of(one, "times_size", unit) - allowed).abs() < 1e-6);
    }
    let raised = of(chosen("U8", Part::Site, 1.0), "times_size", "ms");
    assert!(raised > 100.0, "{raised}");
}

#[test]
fn days_are_so_many_times_what_a_day_allows() {
    let scenario = home();
    let amount = broken("cycle_total", "uL", "acid");
    let of = |allows: &str| {
        let rest = format!("about = \"own\"\nallows = {allows}");
        let bounds = Bounds::parse(&entry("\"A8\"", "cycle_total", &rest)).unwrap();
        let drips = [chosen("A8", Part::Feeder(0), 1.0)];
        bounds.allowed(&amount, &drips, &scenario).0.unwrap()
    };
    let day = of("\"day\"");
    assert!(day > 1_000.0);
    assert_eq!(of("{ days = 2.0 }"), 2.0 * day);
}
