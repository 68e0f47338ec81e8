//! Two bodies in a scenario file: each mistake is told at its line, with what would be right.

use dosewarden_sim::Scenario;

const POOL_AND_SPA: &str = include_str!("../../../examples/scenarios/pool-and-spa.toml");
const FIRST_POOL: &str = include_str!("../../../examples/scenarios/first-pool.toml");

/// The line on which `needle` stands for the nth time.
fn line_of(text: &str, needle: &str, nth: usize) -> usize {
    let (at, _) = text.match_indices(needle).nth(nth).expect(needle);
    text[..at].lines().count() + usize::from(text[..at].ends_with('\n') || at == 0)
}

/// Replaces the nth `old`, and checks that the error stands at that line and ends as it should.
fn told(text: &str, (old, nth): (&str, usize), new: &str, ends: &str) {
    let (at, _) = text.match_indices(old).nth(nth).expect(old);
    let wrong = format!("{}{new}{}", &text[..at], &text[at + old.len()..]);
    let error = Scenario::parse("it.toml", &wrong)
        .expect_err(new)
        .to_string();
    assert!(error.ends_with(ends), "{error}");
    let line = line_of(text, old, nth);
    assert!(
        error.starts_with(&format!("it.toml:{line}:")),
        "line {line}: {error}"
    );
}

#[test]
fn what_a_file_says_is_what_stands() {
    let read = Scenario::parse("it.toml", POOL_AND_SPA).unwrap_or_else(|error| panic!("{error}"));
    let names: Vec<&str> = read.bodies.iter().map(|plan| plan.name.as_str()).collect();
    assert_eq!(names, ["pool", "spa"]);
    assert_eq!(read.plant.bodies[1].volume_m3, 3.0);
    let valves = read.plant.valves.expect("valves");
    assert_eq!(
        (valves.travel_s, valves.position, valves.first),
        (30.0, true, 0)
    );
    let limits = read.limits_of_two.expect("limits of both");
    let caps = |feeder| [0, 1].map(|body| limits.body(feeder, body).expect("a body").day_cap.0);
    assert_eq!(caps(0), [600_000, 60_000]);
    assert_eq!(caps(1), [2_000_000, 250_000]);
    assert_eq!(
        read.limits.body(0, 0).map(|own| own.day_cap.0),
        Some(600_000)
    );
    let one = Scenario::parse("it.toml", FIRST_POOL).unwrap_or_else(|error| panic!("{error}"));
    assert_eq!(one.bodies.len(), 1);
    assert!(one.limits_of_two.is_none() && one.plant.valves.is_none());
}

#[test]
fn wrong_bodies_and_valves() {
    let two = POOL_AND_SPA;
    told(
        two,
        ("name = \"spa\"", 0),
        "name = \"pool\"",
        "a second body is named \"pool\"; names have to differ",
    );
    told(
        two,
        ("travel = \"30 s\"", 0),
        "travel = \"30 h\"",
        "it has to be a time, \"0 s\" to \"10 min\"",
    );
    told(
        two,
        ("selected = \"pool\"", 0),
        "selected = \"pond\"",
        "`selected` is \"pond\"; it has to be one of \"pool\", \"spa\"",
    );
    told(
        two,
        ("position = \"fitted\"", 0),
        "position = \"yes\"",
        "it has to be one of \"fitted\", \"not fitted\"",
    );
    told(
        two,
        ("turn_valves = \"spa\"", 0),
        "turn_valves = \"sea\"",
        "`turn_valves` is \"sea\"; it has to be one of \"pool\", \"spa\"; did you mean \"spa\"?",
    );
    told(
        two,
        ("body = \"pool\"", 0),
        "body = \"pond\"",
        "`body` is \"pond\"; it has to be one of \"pool\", \"spa\"",
    );
    let third = format!("{two}\n[[body]]\nname = \"sea\"\n");
    let error = Scenario::parse("it.toml", &third)
        .expect_err("three")
        .to_string();
    assert!(
        error.ends_with("one [[body]] too many; 2 can be on one pump"),
        "{error}"
    );
    let both = format!("{two}\n[pool]\nvolume = \"3 m3\"\n");
    let error = Scenario::parse("it.toml", &both)
        .expect_err("both")
        .to_string();
    assert!(
        error.ends_with("write [pool] for one body of water, or two [[body]]"),
        "{error}"
    );
}

#[test]
fn wrong_limits_are_told_at_the_body_that_they_are_about() {
    let two = POOL_AND_SPA;
    told(
        two,
        ("of = \"spa\"", 0),
        "of = \"pool\"",
        "there has to be one [[feeder.limits.body]] for each body, of \"pool\", then \"spa\"",
    );
    let cycle = "cycle_cap = \"5 mL\"";
    told(
        two,
        (cycle, 0),
        "cycle_cap = \"25 mL\"",
        "it counts in ms, uL (a generator: mg), mV and pH x 1000",
    );
    let error = Scenario::parse("it.toml", &two.replace(cycle, "cycle_cap = \"25 mL\""));
    let error = error.expect_err("above the hour's").to_string();
    assert!(
        error.contains("feeder 0, body 1: cycle_cap is 25000"),
        "{error}"
    );
    let unfitted = two.replace("position = \"fitted\"", "position = \"not fitted\"");
    let error = Scenario::parse("it.toml", &unfitted)
        .expect_err("steady")
        .to_string();
    assert!(
        error.contains("`steady` is how long a position stands"),
        "{error}"
    );
    let unfitted = unfitted.replace("steady = \"10 s\"", "");
    let error = Scenario::parse("it.toml", &unfitted)
        .expect_err("limits of each")
        .to_string();
    assert!(
        error.contains("[[feeder.limits.body]] are for two [[body]]"),
        "{error}"
    );
}

#[test]
fn what_one_body_cannot_have() {
    let with = |more: &str| {
        let text = format!("{FIRST_POOL}\n{more}\n");
        Scenario::parse("it.toml", &text)
            .expect_err(more)
            .to_string()
    };
    let error = with("[valves]\ntravel = \"30 s\"");
    assert!(
        error.contains("[pool] is one; leave [valves] out"),
        "{error}"
    );
    let error = with("[[event]]\nat = \"day 1 10:00\"\nturn_valves = \"spa\"");
    assert!(error.contains("there are no valves to turn"), "{error}");
    let visit = "[[visit]]\nfirst = \"day 1 10:00\"\nevery = \"7 days\"\nph_error = \"pH 0.1\"\nbody = \"spa\"";
    let error = with(visit);
    assert!(
        error.ends_with("the site has one body of water; leave `body` out"),
        "{error}"
    );
    let pour =
        "[[event]]\nat = \"day 1 10:00\"\nperson = \"pour\"\nof = \"acid\"\namount = \"1 L\"";
    let two = format!("{POOL_AND_SPA}\n{pour}\n");
    let error = Scenario::parse("it.toml", &two)
        .expect_err("whose")
        .to_string();
    assert!(error.contains("has no `body`"), "{error}");
}
