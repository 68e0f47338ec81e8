//! The plan of a site with two bodies on one pump: caps for each, findings about the valves, and files that are used.
//!
//! `dosewarden plan examples/sites/pool-and-spa.toml --rust examples/sites/pool-and-spa.rs` writes the constants anew.

use dosewarden_sim::plan::{Finding, Plan, Severity, Site};
use dosewarden_sim::{DosewardenUnit, Scenario, SimPool};

use dosewarden::guard::{Cutoff, FeederLimits, Limits};

const SITE: &str = include_str!("../../../examples/sites/pool-and-spa.toml");
const COMMITTED: &str = include_str!("../../../examples/sites/pool-and-spa.rs");
#[allow(unreachable_pub, reason = "a firmware wants it public")]
#[allow(dead_code, reason = "the limits are used here")]
mod committed {
    include!("../../../examples/sites/pool-and-spa.rs");
}

fn plan(text: &str) -> Plan {
    let site = Site::parse("site.toml", text).unwrap_or_else(|error| panic!("{error}"));
    Plan::of(&site).unwrap_or_else(|error| panic!("{error}"))
}

fn found<'p>(plan: &'p Plan, name: &str) -> Vec<&'p Finding> {
    let all = plan.findings.iter();
    all.filter(|finding| finding.name == name).collect()
}

#[test]
fn each_body_has_its_own_caps_in_sheet_scenario_and_constants() {
    let plan = plan(SITE);
    assert!(!plan.has_errors(), "{:?}", plan.findings);
    let spa = &plan.second.as_ref().expect("a second body").figures;
    let volumes = plan.figures.volume_m3 / spa.volume_m3;
    assert!(volumes > 15.0, "{volumes}");
    for (pool, spa) in plan.figures.feeders.iter().zip(&spa.feeders) {
        assert!(pool.day_cap > 3.0 * spa.day_cap, "{}", pool.name);
        assert!(pool.cycle_cap > 5.0 * spa.cycle_cap, "{}", pool.name);
    }
    // A day's cap of acid at once, in either, ends at the stated floor or above.
    assert!(plan.figures.feeders[0].after_day_cap > 6.79 && spa.feeders[0].after_day_cap > 6.79);
    let text = plan.to_string();
    assert!(
        text.contains("The spa: acid") && text.contains("The spa: water"),
        "{text}"
    );
    assert_eq!(plan.rust, COMMITTED, "stale: write it anew");
    let limits = Limits::try_new(committed::SPEC).expect("the guard accepts them");
    let scenario =
        Scenario::parse("planned.toml", &plan.scenario).unwrap_or_else(|e| panic!("{e}"));
    let two = scenario.limits_of_two.as_ref().expect("two bodies");
    for (feeder, own) in limits.spec().feeders.iter().enumerate() {
        let FeederLimits::Enabled(own) = own else {
            panic!("feeder {feeder} is not in use");
        };
        assert_eq!(two.feeder(feeder), Some(own), "feeder {feeder}");
    }
    let acid = two.body(0, 1).expect("acid in the spa");
    assert_eq!(
        acid.day_cap.0,
        (spa.feeders[0].day_cap * 1000.0).floor() as u32
    );
    assert!(matches!(acid.cutoff, Cutoff::AbovePh(_)));
    assert_eq!(two.spec().body_valves, limits.spec().body_valves);
}

#[test]
fn the_planned_site_lives_two_weeks() {
    let mut scenario = Scenario::parse("planned.toml", &plan(SITE).scenario).expect("accepted");
    scenario.days = 14;
    let mut pool =
        SimPool::attach(&scenario, DosewardenUnit::for_scenario(&scenario)).expect("sound");
    let mut into = [[0.0; 2]; 2];
    while pool.now_ms() < scenario.run_ms() {
        pool.tick();
        let truth = pool.truth();
        for (sum, feeder) in into[truth.body].iter_mut().zip(&truth.feeders) {
            *sum += feeder.fed / 1000.0;
        }
    }
    let findings = pool.finish();
    assert!(
        findings.held(),
        "{:?}",
        findings.broken().collect::<Vec<_>>()
    );
    assert!(into.iter().flatten().all(|ml| *ml > 20.0), "{into:?}");
}

#[test]
fn without_position_switches_the_smaller_caps_stand_for_both_and_it_is_an_error() {
    let unseen = SITE.replace(
        "position = \"fill and return\"",
        "position = \"not fitted\"",
    );
    let plan = plan(&unseen);
    let seen = found(&plan, "valves_not_seen");
    assert_eq!(seen.len(), 2, "for each feeder");
    assert!(
        seen.iter()
            .all(|finding| finding.severity == Severity::Error)
    );
    let spa = &plan.second.as_ref().expect("a second body").figures;
    let scenario =
        Scenario::parse("planned.toml", &plan.scenario).unwrap_or_else(|e| panic!("{e}"));
    assert!(scenario.limits_of_two.is_none());
    for (index, one) in spa.feeders.iter().enumerate() {
        let own = scenario.limits.body(index, 0).expect("in use");
        assert_eq!(own.cycle_cap.0, (one.cycle_cap * 1000.0).floor() as u32);
    }
    assert!(
        plan.rust.contains("LimitsSpec<2, 1>")
            && plan.rust.contains("body_valves: Fitted::NotFitted")
    );
}

#[test]
fn what_is_risky_about_the_valves_is_found() {
    let told = |old: &str, new: &str, name: &str| {
        assert!(found(&plan(SITE), name).is_empty(), "{name}");
        let plan = plan(&SITE.replace(old, new));
        let found = found(&plan, name);
        assert!(!found.is_empty(), "{name}");
        assert!(
            found
                .iter()
                .all(|finding| finding.severity <= Severity::Caution),
            "{name}"
        );
    };
    told(
        "position = \"fill and return\"",
        "position = \"return\"",
        "fill_not_seen",
    );
    told("turn = \"together\"", "turn = \"apart\"", "valves_apart");
    told("\"18:00-20:30\"", "\"18:00-18:10\"", "turn_too_short");
    // In the spa's own table, which comes second. Both are made up to what is wanted.
    let cya = "cyanuric_acid = \"20 mg/L\"";
    let (first, second) = SITE.split_at(SITE.find("[second_body.water]").expect("a water"));
    let apart = format!(
        "{first}{}",
        second.replacen(cya, "cyanuric_acid = \"60 mg/L\"", 1)
    );
    assert!(found(&plan(SITE), "waters_differ").is_empty());
    assert_eq!(found(&plan(&apart), "waters_differ").len(), 1);
    let notes = plan(SITE);
    assert_eq!(
        found(&notes, "dose_of_the_other").len(),
        2,
        "a pool's dose in the spa, for each feeder"
    );
    assert!(
        found(&notes, "dose_of_the_other")[0]
            .what
            .contains("makes pH"),
        "{:?}",
        notes.findings
    );
    assert_eq!(found(&notes, "line_at_a_turn").len(), 2);
    assert_eq!(found(&notes, "one_probe_for_two").len(), 1);
    assert_eq!(found(&notes, "probe_temperature").len(), 1);
}

#[test]
fn each_mistake_is_told_at_its_line() {
    let told = |old: &str, new: &str, ends: &str| {
        assert!(SITE.contains(old), "{old}");
        let wrong = SITE.replacen(old, new, 1);
        let error = Site::parse("site.toml", &wrong).expect_err(new).to_string();
        assert!(error.ends_with(ends), "{error}");
        assert!(error.starts_with("site.toml:"), "{error}");
    };
    told(
        "name = \"spa\"",
        "name = \"pool\"",
        "as the first body is called; names have to differ",
    );
    told(
        "\"18:00-20:30\"",
        "\"22:00-23:00\"",
        "`selected` has to lie in `runs` of [circulation]",
    );
    told(
        "position = \"fill and return\"",
        "position = \"fill\"",
        "it has to be one of \"fill and return\", \"return\", \"not fitted\"",
    );
    told(
        "turn = \"together\"",
        "turn = \"alone\"",
        "it has to be one of \"together\", \"apart\"",
    );
    told(
        "diameter = \"2.2 m\"",
        "diameter = \"0.2 m\"",
        "write [[second_body.part]] with its shape, or [second_body.dilution]",
    );
    told(
        "[second_body.water]",
        "[second_body.waters]",
        "did you mean `water`?",
    );
}

/// Of one probe: where the spa has more cyanuric acid, the same ORP stands for more free chlorine there.
#[test]
fn the_cut_off_by_orp_is_what_either_body_bears() {
    let cutoffs = |text: &str| {
        let plan = plan(text);
        let second = plan.second.as_ref().expect("a spa").figures.orp_cutoff_mv;
        (plan.figures.orp_cutoff_mv, second)
    };
    let (first, second) = cutoffs(SITE);
    assert!(
        (first - 730.0).abs() < 1e-9 && (second - 730.0).abs() < 1e-9,
        "{first} {second}"
    );
    let more = SITE.replace(
        "cyanuric_acid = \"20 mg/L\"\nborate = \"0 mg/L\"\nfree_chlorine = \"2 mg/L\"",
        "cyanuric_acid = \"90 mg/L\"\nborate = \"0 mg/L\"\nfree_chlorine = \"2 mg/L\"",
    );
    assert_ne!(more, SITE);
    let (first, second) = cutoffs(&more);
    assert!(
        first < 725.0 && (first - second).abs() < 1e-9,
        "{first} {second}"
    );
}
