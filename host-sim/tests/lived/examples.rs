//! Scenarios that are shipped, each with the verdict expected of it, the alarms that come, and how long the water was
//! where it should be.

use dosewarden_sim::run::{Quiet, Summary, run};
use dosewarden_sim::{DosewardenUnit, Scenario};

/// What is expected of a scenario.
struct Expected {
    file: &'static str,
    text: &'static str,
    /// Oracles that it is meant to break.
    broken: &'static [&'static str],
    alarms: &'static [&'static str],
    /// Least share of the time in which pH, and ORP, are within the alarm thresholds, %.
    inside: (f64, f64),
}

const TABLE: [Expected; 4] = [
    Expected {
        file: "pool-and-spa.toml",
        text: include_str!("../../../examples/scenarios/pool-and-spa.toml"),
        broken: &[],
        alarms: &[
            "acid: demand_unmet",
            "chlorine: demand_unmet",
            "locked_record_lost",
            "orp_low",
            "ph_high",
        ],
        inside: (99.0, 99.0),
    },
    Expected {
        file: "three-speeds.toml",
        text: include_str!("../../../examples/scenarios/three-speeds.toml"),
        broken: &[],
        // No flow is seen for eleven hours of each night, and that is no alarm.
        alarms: &["acid: demand_unmet", "locked_record_lost"],
        inside: (99.0, 99.0),
    },
    Expected {
        file: "eight-hours-clock.toml",
        text: include_str!("../../../examples/scenarios/eight-hours-clock.toml"),
        broken: &[],
        alarms: &["acid: demand_unmet", "locked_record_lost"],
        inside: (99.0, 99.0),
    },
    Expected {
        file: "eight-hours.toml",
        text: include_str!("../../../examples/scenarios/eight-hours.toml"),
        broken: &[],
        alarms: &["locked_record_lost"],
        inside: (99.0, 99.0),
    },
];

fn scenario(one: &Expected) -> Scenario {
    Scenario::parse(one.file, one.text).unwrap_or_else(|error| panic!("{error}"))
}

fn lived(scenario: &Scenario) -> Summary {
    let unit = DosewardenUnit::for_scenario(scenario);
    let result = run(scenario, unit, None, &mut Quiet);
    result.unwrap_or_else(|error| panic!("{error}")).summary
}

#[test]
fn each_meets_its_verdict() {
    for one in &TABLE {
        let scenario = scenario(one);
        assert_eq!(scenario.expect_broken, one.broken, "{}", one.file);
        let summary = lived(&scenario);
        let broken = summary
            .oracles
            .iter()
            .filter(|oracle| oracle.verdict == "broken");
        let broken: Vec<&str> = broken.map(|oracle| oracle.name).collect();
        assert_eq!(broken, one.broken, "{}", one.file);
        assert!(
            summary.as_expected && summary.never_came.is_empty(),
            "{}",
            one.file
        );
        let mut alarms: Vec<&str> = summary
            .alarms
            .iter()
            .map(|alarm| alarm.name.as_str())
            .collect();
        alarms.sort_unstable();
        assert_eq!(alarms, one.alarms, "{}", one.file);
        let inside = (summary.ph.inside_percent, summary.orp.inside_percent);
        assert!(
            inside.0 >= one.inside.0 && inside.1 >= one.inside.1,
            "{}: {inside:?}",
            one.file
        );
        assert!(
            summary.feeders.iter().all(|feeder| feeder.standing == 0.0),
            "{}",
            one.file
        );
    }
}

#[test]
fn a_clock_or_caps_for_three_days_make_each_day_a_day() {
    let acid = |scenario: &Scenario| lived(scenario).feeders[0].days.clone();
    for at in [2, 3] {
        let days = acid(&scenario(&TABLE[at]));
        assert!(days.iter().all(|ml| *ml > 100.0), "{days:?}");
    }
    // The cap of a pool that is fed all day, and no clock.
    let text = TABLE[3]
        .text
        .replace("day_cap = \"1.5 L\"", "day_cap = \"900 mL\"");
    let without = acid(&Scenario::parse("it.toml", &text).expect("sound"));
    let dry = without.iter().filter(|ml| **ml == 0.0).count();
    assert_eq!(dry, 3, "each third day of ten: {without:?}");
}

#[test]
fn a_speed_that_nobody_told_the_unit_of_is_alarmed_each_night() {
    let mut scenario = scenario(&TABLE[1]);
    scenario.without_flow.clear();
    scenario.days = 3;
    let summary = lived(&scenario);
    let told = |name| summary.alarms.iter().any(|alarm| alarm.name == name);
    assert!(told("pump_without_flow") && told("flow_absent"));
}

#[test]
fn mistakes_about_speeds_and_supply_are_told_at_their_line() {
    let told = |text: &str, old: &str, new: &str, says: &str| {
        let at = text.find(old).expect(old);
        let wrong = format!("{}{new}{}", &text[..at], &text[at + old.len()..]);
        let error = Scenario::parse("it.toml", &wrong)
            .expect_err(new)
            .to_string();
        assert!(error.contains(says), "{error}");
        let line = wrong[..at].matches('\n').count() + 1;
        let near = [line, line + new.matches('\n').count()];
        let own = near.map(|line| error.starts_with(&format!("it.toml:{line}:")));
        assert!(own.contains(&true), "lines {near:?}: {error}");
    };
    let speeds = TABLE[1].text;
    told(
        speeds,
        "flow_switch = \"does not make\"",
        "flow_switch = \"makes\"",
        "at 70 L/min the switch does not make, since it opens under 110 L/min; say \"does not make\" or another flow",
    );
    told(
        speeds,
        "flow_switch = \"makes\"",
        "flow_switch = \"does not make\"",
        "at 160 L/min the switch makes, since it closes at 130 L/min; say \"makes\" or another flow",
    );
    told(
        speeds,
        "flow = \"160 L/min\"\nflow_switch = \"makes\"",
        "flow = \"120 L/min\"\nflow_switch = \"makes\"",
        "at 120 L/min the switch may make or not",
    );
    let supply = TABLE[2].text;
    told(
        supply,
        "power = \"with the pump\"",
        "power = \"pump\"",
        "it has to be one of \"always\", \"with the pump\"",
    );
    told(
        supply,
        "clock = \"fitted\"",
        "clock = \"not fitted\"",
        "without a clock the unit cannot know the pump's timetable",
    );
}
