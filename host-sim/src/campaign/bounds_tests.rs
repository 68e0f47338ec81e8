//! What entries of the bounds come to.

use std::collections::BTreeSet;

use super::bounds::Bounds;
use super::trial::Broken;
use crate::fault::{Chosen, Part, find};
use crate::plan::{HOME_POOL, Plan, Site};
use crate::scenario::Scenario;

fn home() -> Scenario {
    let site = Site::parse("home-pool.toml", HOME_POOL).unwrap();
    Scenario::parse("planned.toml", &Plan::of(&site).unwrap().scenario).unwrap()
}

fn broken(oracle: &'static str, unit: &'static str, who: &str) -> Broken {
    Broken {
        oracle,
        worst: 300.0,
        bound: 100.0,
        unit,
        first_at_ms: 0,
        words: format!("{who}: too much"),
    }
}

fn chosen(id: &str, part: Part, severity: f64) -> Chosen {
    Chosen {
        fault: find(id).unwrap(),
        part,
        severity,
        at_ms: 0,
        for_ms: None,
    }
}

fn entry(faults: &str, oracle: &str, rest: &str) -> String {
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
    assert_eq!(of("acid"), (Some(100.0), Vec::new()));
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
    let all: BTreeSet<usize> = (0..bounds.entries.len()).collect();
    assert_eq!(bounds.unneeded(&all), Vec::<String>::new());
    let but_one: BTreeSet<usize> = all.iter().copied().filter(|at| *at != 3).collect();
    assert_eq!(bounds.unneeded(&but_one), [bounds.entries[3].name()]);
}
