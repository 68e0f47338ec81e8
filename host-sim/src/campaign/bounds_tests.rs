//! What entries of the bounds come to.

use std::collections::BTreeSet;

use super::bounds::Bounds;
use super::trial::Broken;
use crate::fault::{Chosen, Part, find};
use crate::plan::{HOME_POOL, Plan, Site};
use crate::plant::ProbeId;
use crate::scenario::Scenario;

pub(super) fn home() -> Scenario {
    let site = Site::parse("home-pool.toml", HOME_POOL).unwrap();
    Scenario::parse("planned.toml", &Plan::of(&site).unwrap().scenario).unwrap()
}

pub(super) fn broken(oracle: &'static str, unit: &'static str, who: &str) -> Broken {
    Broken {
        oracle,
        worst: 300.0,
        bound: 100.0,
        unit,
        first_at_ms: 0,
        words: format!("{who}: too much"),
    }
}

pub(super) fn chosen(id: &str, part: Part, severity: f64) -> Chosen {
    Chosen {
        fault: find(id).unwrap(),
        part,
        severity,
        at_ms: 0,
        for_ms: None,
    }
}

pub(super) fn entry(faults: &str, oracle: &str, rest: &str) -> String {
    let words = "why = \"it is so\"\nremoved_by = \"a wire\"";
    format!("[[bound]]\nfaults = [{faults}]\noracles = [\"{oracle}\"]\n{rest}\n{words}\n")
}

#[test]
fn a_fault_of_one_feeder_excuses_its_own_product_only() {
    let (bounds, scenario) = (Bounds::committed(), home());
    let fault = [chosen("U1", Part::Feeder(1), 1.0)];
    let of = |who| bounds.allowed(&broken("day_total", "uL", who), &fault, &scenario);
    let (allowed, used) = of("hypochlorite");
    assert_eq!(allowed, Some(600.0));
    assert_eq!(used.len(), 1);
    assert_eq!(of("acid"), (Some(100.0), BTreeSet::new()));
}

/// Of the water itself: its pH is acid's matter, its chlorine the chlorine feeder's.
#[test]
fn what_the_water_has_is_of_the_product_that_brings_it() {
    let scenario = home();
    let allows = |oracle: &'static str, who: &str, feeder| {
        let rest = "about = \"own\"\nallows = \"any\"";
        let bounds = Bounds::parse(&entry("\"H9\"", oracle, rest)).unwrap();
        let leak = [chosen("H9", Part::Feeder(feeder), 1.0)];
        let used = bounds
            .allowed(&broken(oracle, "pH", who), &leak, &scenario)
            .1;
        !used.is_empty()
    };
    for (oracle, who, by_acid, by_chlorine) in [
        ("acid_floor", "water", true, false),
        ("acid_floor", "acid", true, false),
        ("chlorine_ceiling", "water", false, true),
        ("chlorine_ceiling", "chlorine", false, true),
        ("day_total", "hypochlorite", false, true),
        ("line_gas", "return line", false, false),
    ] {
        let found = (allows(oracle, who, 0), allows(oracle, who, 1));
        assert_eq!(found, (by_acid, by_chlorine), "{oracle} {who}");
    }
}

/// The last dose before a pH probe says enough: an ORP probe that lies excuses nothing of it.
#[test]
fn a_name_with_a_probe_is_that_probes_fault_alone() {
    let (bounds, scenario) = (Bounds::committed(), home());
    let floor = Broken {
        worst: 6.45,
        bound: 6.5,
        ..broken("acid_floor", "pH", "water")
    };
    let allowed = |probe| {
        let pair = [
            chosen("U1", Part::Feeder(0), 1.0),
            chosen("S5", Part::Probe(probe), 1.0),
        ];
        bounds.allowed(&floor, &pair, &scenario).0.unwrap()
    };
    let of = [ProbeId::Ph, ProbeId::Orp].map(allowed);
    assert_eq!(of.map(|ph| (ph * 10.0).round()), [64.0, 65.0]);
    let unknown = Bounds::parse(&entry("\"S5 rx\"", "acid_floor", "allows = \"any\""));
    assert!(unknown.unwrap_err().contains("no fault is called S5 rx"));
}

#[test]
fn only_what_leaves_no_witness_of_flow_is_excused() {
    let mut scenario = home();
    let rest = "only = \"no_witness\"\nallows = \"any\"";
    let bounds = Bounds::parse(&entry("\"U12\"", "standing_water", rest)).unwrap();
    let amount = broken("standing_water", "uL", "acid");
    let excused = |severity, scenario: &Scenario| {
        let bridged = [chosen("U12", Part::Site, severity)];
        bounds.allowed(&amount, &bridged, scenario).0.is_none()
    };
    let with_contact = [0.5, 0.51].map(|severity| excused(severity, &scenario));
    assert_eq!(with_contact, [false, true]);
    // Without a contact of the pump the flow switch is all there is.
    scenario.plant.circulation.pump_contact = false;
    assert!(excused(0.5, &scenario));
}

#[test]
fn whose_bound_it_is_has_to_be_said_of_a_feeder() {
    let said = |about| Bounds::parse(&entry("\"U1\"", "day_total", about)).map(|_| ());
    assert_eq!(said("about = \"own\"\nallows = \"any\""), Ok(()));
    let error = said("allows = \"any\"").unwrap_err();
    assert!(error.contains("say about"), "{error}");
    assert!(said("about = \"own\"\nallows = \"any\"\nfound = \"once\"").is_err());
    let unknown = Bounds::parse(&entry("\"K1\"", "no_oracle", "allows = \"any\""));
    assert!(unknown.unwrap_err().contains("no oracle is called"));
}

#[test]
fn formulas_follow_the_size_of_the_fault() {
    let scenario = home();
    let of = |one: Chosen, rest: &str, broken: &Broken| {
        let id = format!("\"{}\"", one.fault.id);
        let bounds = Bounds::parse(&entry(&id, broken.oracle, rest)).unwrap();
        bounds.allowed(broken, &[one], &scenario).0
    };
    let time = broken("standing_water", "ms", "acid");
    let late = |severity| {
        of(
            chosen("K1", Part::Site, severity),
            "allows = \"late\"",
            &time,
        )
    };
    assert_eq!((late(0.0), late(1.0)), (Some(1_100.0), Some(10_100.0)));
    // 10 s at the true rate of a feeder that was entered with 1.5 L/h and gives 26 mL/min.
    let amount = broken("standing_water", "uL", "acid");
    let more = of(chosen("K1", Part::Site, 1.0), "allows = \"late\"", &amount).unwrap();
    assert!((more - 100.0 - 26_000.0 / 6.0).abs() < 300.0, "{more}");
    let clock = |severity| {
        let one = chosen("L6", Part::Site, severity);
        of(
            one,
            "allows = \"times_clock\"",
            &broken("day_total", "uL", "acid"),
        )
    };
    assert_eq!((clock(0.0), clock(1.0)), (Some(200.0), Some(150.0)));
    let leak = |oracle| {
        let one = chosen("A8", Part::Feeder(0), 1.0);
        let rest = "about = \"own\"\nallows = \"leak\"";
        of(one, rest, &broken(oracle, "uL", "acid")).unwrap()
    };
    assert!((leak("hour_total") - 100_100.0).abs() < 1.0);
    assert!((leak("day_total") - 2_400_100.0).abs() < 1.0);
}

#[test]
fn an_entry_that_was_not_needed_is_told() {
    let bounds = Bounds::committed();
    let all: BTreeSet<String> = bounds.names().collect();
    assert_eq!(
        all.len(),
        bounds.names().count(),
        "two entries have one name"
    );
    assert_eq!(bounds.unneeded(&all), Vec::<String>::new());
    let left_out = bounds.entries[3].name(&bounds.entries[3].oracles[0]);
    let mut but_one = all.clone();
    assert!(but_one.remove(&left_out));
    assert_eq!(bounds.unneeded(&but_one), [left_out]);
}

#[test]
fn an_entry_is_needed_if_it_is_outside_without_it() {
    let scenario = home();
    let text = entry("\"K1\"", "day_total", "allows = { plus = 150.0 }")
        + &entry("\"K2\"", "day_total", "allows = { plus = 150.0 }")
        + &entry("\"K3\"", "day_total", "allows = { plus = 60.0 }")
        + &entry("\"K6\"", "day_total", "allows = { plus = 10.0 }");
    let bounds = Bounds::parse(&text).unwrap();
    let needed = |ids: &[&str]| {
        let all: Vec<Chosen> = ids.iter().map(|id| chosen(id, Part::Site, 1.0)).collect();
        // 300 against 100.
        bounds.needed(&broken("day_total", "uL", "acid"), &all, &scenario)
    };
    assert_eq!(needed(&["K1", "K3"]), ["K1: day_total", "K3: day_total"]);
    assert_eq!(needed(&["K1", "K2"]), ["K1: day_total", "K2: day_total"]);
    // Either of two would do without the third: of the three it alone is one too many.
    assert_eq!(
        needed(&["K1", "K2", "K6"]),
        ["K1: day_total", "K2: day_total"]
    );
    // With all of them it is outside: nothing was of use.
    assert_eq!(needed(&["K3", "K6"]), Vec::<String>::new());
}

/// What an entry with this allowance comes to for a fault of the site.
fn allowed(allows: &str, more: &str, broken: &Broken, all: &[Chosen]) -> Option<f64> {
    let ids: Vec<String> = all
        .iter()
        .map(|one| format!("\"{}\"", one.fault.id))
        .collect();
    let rest = format!("about = \"all\"\nallows = {allows}");
    let text = entry(&ids.join(", "), broken.oracle, &rest) + more;
    let bounds = Bounds::parse(&text).unwrap();
    bounds.allowed(broken, all, &home()).0
}

#[test]
fn a_days_total_is_what_all_faults_together_allow() {
    let scenario = home();
    let site = crate::judge::bounds(&scenario);
    let (acid, chlorine) = (&site.feeders[0], &site.feeders[1]);
    let fault = [chosen("H9", Part::Feeder(0), 0.0)];
    let cycle = broken("cycle_total", "uL", "acid");
    let day = acid.day_cap.unwrap() * acid.rate_ratio;
    let near = |a: Option<f64>, b: f64| a.is_some_and(|a| (a - b).abs() < 1e-6 * b);
    assert!(near(allowed("\"day\"", "", &cycle, &fault), day));
    // A leak of 100 mL/h for a day comes to it, where the day's total is allowed it.
    let leaks = entry("\"H9\"", "day_total", "about = \"own\"\nallows = \"leak\"");
    let with_leak = allowed("\"day\"", &leaks, &cycle, &fault);
    assert!(near(with_leak, day + 2_400_000.0), "{with_leak:?}");
    let anything = entry("\"H9\"", "day_total", "about = \"own\"\nallows = \"any\"");
    assert_eq!(allowed("\"day\"", &anything, &cycle, &fault), None);
    // As time: what it takes at the rate; 26 mL/min is what the feeder gives.
    let on = allowed("\"day\"", "", &broken("cycle_total", "ms", "acid"), &fault);
    assert!(near(on, day / (26_000.0 / 60_000.0)), "{on:?}");
    // As water: all of its chlorine on top of the bound. The acid has none.
    let g = chlorine.day_cap.unwrap() * chlorine.rate_ratio * 120.0 / 1e6;
    let water = allowed(
        "\"day\"",
        "",
        &broken("chlorine_ceiling", "mg/L", "water"),
        &fault,
    );
    let m3 = scenario.plant.bodies[0].volume_m3;
    assert!(near(water, 100.0 + g / m3), "{water:?} {g} {m3}");
    let gas = allowed(
        "\"day\"",
        "",
        &broken("line_gas", "g Cl2", "return line"),
        &fault,
    );
    assert!(near(gas, g), "{gas:?} {g}");
    // With the wrong product in its drum the acid's feeder gives chlorine, as many moles.
    let wrong = [chosen("C2", Part::Feeder(0), 0.0)];
    let water = allowed(
        "\"day\"",
        "",
        &broken("chlorine_ceiling", "mg/L", "water"),
        &wrong,
    );
    assert!(water.unwrap() > 100.0 + 2.0 * g / m3, "{water:?}");
    for unit in ["pH", "mV"] {
        assert_eq!(
            allowed("\"day\"", "", &broken("acid_floor", unit, "water"), &fault),
            None
        );
    }
}

#[test]
fn a_cycle_what_feedback_lets_through_and_swapped_drives_are_worked_out() {
    let scenario = home();
    let site = crate::judge::bounds(&scenario);
    let (acid, chlorine) = (&site.feeders[0], &site.feeders[1]);
    let fault = [chosen("T5", Part::Site, 0.0)];
    let of = |allows, oracle| allowed(allows, "", &broken(oracle, "uL", "acid"), &fault).unwrap();
    let near = |a: f64, b: f64| assert!((a - b).abs() < 1e-6 * b, "{a} as {b}");
    near(
        of("\"cycle\"", "cycle_total"),
        100.0 + acid.cycle_cap.unwrap() * acid.rate_ratio,
    );
    // 26 mL/min for the wait for feedback, a tick's gap and a drive's stop.
    let wait = scenario.limits.feeder(0).unwrap().feedback.get().unwrap().0;
    let ms = f64::from(wait + site.tick_gap_max_ms + acid.drive_off_ms);
    near(
        of("\"feedback\"", "charge_stored"),
        100.0 + ms * 26.0 / 60.0,
    );
    // The acid's feeder gives 26 mL/min for as long as the other's cap lasts at its own rate.
    let rate = |bound: &crate::oracle::FeederBounds| {
        bound.overrun_max / f64::from(site.tick_gap_max_ms + bound.drive_off_ms)
    };
    let on_ms = |cap: Option<f64>| cap.unwrap() / rate(chlorine);
    near(
        of("\"swapped\"", "day_total"),
        100.0 + on_ms(chlorine.day_cap) * 26.0 / 60.0,
    );
    near(
        of("\"swapped\"", "hour_total"),
        100.0 + on_ms(chlorine.hour_cap) * 26.0 / 60.0,
    );
}

/// With a spa on the same pump all of it may go in there.
#[test]
fn a_days_chlorine_is_bounded_in_the_smallest_body() {
    let mut two = home();
    let m3 = two.plant.bodies[0].volume_m3;
    let mut spa = two.plant.bodies[0].clone();
    spa.volume_m3 = m3 / 10.0;
    let bounds = Bounds::parse(&entry(
        "\"H9\"",
        "chlorine_ceiling",
        "about = \"all\"\nallows = \"day\"",
    ))
    .unwrap();
    let fault = [chosen("H9", Part::Feeder(0), 0.0)];
    let over = |scenario: &Scenario| {
        let broken = broken("chlorine_ceiling", "mg/L", "water");
        bounds.allowed(&broken, &fault, scenario).0.unwrap() - broken.bound
    };
    let one = over(&two);
    two.plant.bodies.push(spa);
    assert!(
        (over(&two) / one - 10.0).abs() < 1e-6,
        "{} {one}",
        over(&two)
    );
}

/// A fast clock makes holds short; by a slow one a dose that was cut short goes on after a longer pause.
#[test]
fn a_hold_by_a_clock_that_is_off_is_short_by_as_much_or_the_pause_of_a_dose() {
    let scenario = home();
    let pause_ms = f64::from(scenario.limits.spec().resume_within.0);
    let held = Broken {
        worst: 1.0,
        bound: 600_000.0,
        ..broken("holds_kept", "ms", "acid")
    };
    for (severity, slow) in [(0.0, true), (1.0, false)] {
        let one = chosen("L6", Part::Site, severity);
        assert_eq!(one.is_clock_slow(&scenario), slow);
        let wanted = if slow {
            pause_ms
        } else {
            600_000.0 / one.clock_times(&scenario)
        };
        assert_eq!(allowed("\"times_clock\"", "", &held, &[one]), Some(wanted));
    }
}
