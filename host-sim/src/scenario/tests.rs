//! Every kind of mistake is told once, at its line, with what would be right.

use super::*;
use crate::plant::{FeederFault, PlantFault, ProbeFault, ProbeId};
use dosewarden::guard::units::{Dose, MilliPh, Millis, Rate};
use dosewarden::guard::{Authority, Cutoff, Product};

/// Changes one line of the first pool, and gives the message; it has to be about that line.
fn refused(from: &str, to: &str) -> String {
    assert_eq!(
        FIRST_POOL.matches(from).count(),
        1,
        "{from:?} has to be there once"
    );
    let text = FIRST_POOL.replace(from, to);
    let line = FIRST_POOL
        .split(from)
        .next()
        .map_or(0, |before| before.matches('\n').count() + 1);
    let error = Scenario::parse("my.toml", &text).expect_err(to);
    assert_eq!(error.line, line, "{error}");
    assert!(
        error.column >= 1 && error.to_string().starts_with("my.toml:"),
        "{error}"
    );
    error.what
}

fn with_event(event: &str) -> Result<Scenario, InputError> {
    Scenario::parse("my.toml", &format!("{FIRST_POOL}\n[[event]]\n{event}\n"))
}

#[test]
fn the_first_pool_is_what_it_says() {
    let pool = Scenario::first_pool();
    assert_eq!(pool.feeder_names(), ["acid", "chlorine"]);
    assert_eq!(pool.plant.bodies[0].volume_m3, 95.0);
    assert_eq!((pool.days, pool.tick_ms, pool.events.len()), (7, 1000, 9));
    assert!(pool.plant.circulation.pump_contact && !pool.plant.circulation.flow_meter);
    let acid = pool.limits.feeder(0).expect("the acid feeder");
    assert_eq!((acid.product, acid.rate), (Product::Acid, Rate(3_600_000)));
    assert_eq!(acid.bodies[0].day_cap, Dose::from_ml(900));
    assert_eq!(acid.bodies[0].cutoff, Cutoff::AbovePh(MilliPh(7200)));
    assert_eq!(acid.bodies[0].spread_hold, Millis::from_mins(10));
    assert!(pool.limits.feeder(2).is_none() && pool.limits.feeder(3).is_none());
    let first = &pool.events[0];
    assert_eq!(first.at_ms, 9 * 3_600_000);
    assert_eq!(
        first.act,
        Act::Person(PersonAct::Initialise(Authority::Technician))
    );
}

#[test]
fn the_salt_pool_counts_chlorine_in_milligrams() {
    let pool = Scenario::parse("salt-pool.toml", SALT_POOL).unwrap_or_else(|e| panic!("{e}"));
    let cell = pool.limits.feeder(1).expect("the cell");
    assert_eq!(
        (cell.product, cell.rate),
        (Product::GeneratedChlorine, Rate(25_000))
    );
    assert_eq!(cell.bodies[0].day_cap, Dose(250_000));
    assert!(cell.cell_flow_switch.is_fitted() && !cell.level_switch.is_fitted());
}

#[test]
fn ambiguous_units() {
    let what = refused("volume = \"95 m3\"  ", "volume = \"25000 gal\"");
    assert!(what.contains("`US gal` or `imp gal`"), "{what}");
    let what = refused("dose_min = \"5 mL\"", "dose_min = \"5 fl oz\"");
    assert!(what.contains("`US fl oz` or `imp fl oz`"), "{what}");
    let what = refused("rate = \"60 mL/min\"", "rate = \"7 gal/day\"");
    assert!(what.contains("`US gal` or `imp gal`"), "{what}");
}

#[test]
fn units_of_the_wrong_kind() {
    let what = refused("volume = \"95 m3\"  ", "volume = \"95 min\"");
    assert_eq!(
        what,
        "`volume` is \"95 min\", a time; it has to be a volume, \"0.2 m3\" to \"10000 m3\""
    );
    let what = refused("cycle_cap = \"60 mL\"", "cycle_cap = \"60 g\"");
    assert!(what.contains("a mass; it has to be a volume"), "{what}");
    let what = refused("bathers = 14", "bathers = \"14\"");
    assert!(
        what.contains("it has to be a number without a unit"),
        "{what}"
    );
    let what = refused("days = 7", "days = 7.5");
    assert!(what.contains("it has to be a whole number"), "{what}");
    let what = refused("depth = \"1.5 m\"", "depth = 1.5");
    assert!(what.contains("a length in quotes"), "{what}");
    let what = refused(
        "catch_test_on_record = true  ",
        "catch_test_on_record = \"yes\"",
    );
    assert!(what.contains("true or false"), "{what}");
}

#[test]
fn numbers_that_cannot_be() {
    let what = refused("volume = \"95 m3\"  ", "volume = \"-95 m3\"");
    assert!(
        what.contains("out of range; it has to be a volume, \"0.2 m3\""),
        "{what}"
    );
    let what = refused("volume = \"95 m3\"  ", "volume = \"95000000 m3\"");
    assert!(what.contains("out of range"), "{what}");
    let what = refused("volume = \"95 m3\"  ", "volume = \"nan m3\"");
    assert!(what.contains("not a finite number"), "{what}");
    let what = refused("volume = \"95 m3\"  ", "volume = \"1e999 m3\"");
    assert!(what.contains("not a finite number"), "{what}");
    for (wrong, says) in [
        ("nan", "not a finite"),
        ("inf", "not a finite"),
        ("-1", "it has to be 0"),
    ] {
        let what = refused("bathers = 14", &format!("bathers = {wrong}"));
        assert!(what.contains(says), "{what}");
    }
    let what = refused("days = 7", "days = 99999999999999999999");
    assert!(what.contains("it has to be 1 to 3650"), "{what}");
}

#[test]
fn keys_that_are_not_known_or_not_there() {
    let what = refused("sun_loss = ", "sun_los = ");
    assert_eq!(
        what,
        "unknown key `sun_los` in [pool]; did you mean `sun_loss`?"
    );
    let text = FIRST_POOL.replace("alkalinity = ", "# ");
    let error = Scenario::parse("my.toml", &text).expect_err("no alkalinity");
    assert_eq!(
        error.what,
        "[pool.water] has no `alkalinity`; write alkalinity = \"80 mg/L\""
    );
    assert!(
        FIRST_POOL
            .lines()
            .nth(error.line - 1)
            .expect("a line")
            .starts_with("[pool.water]")
    );
    let text = FIRST_POOL.replace("[alarms]", "[alarm]");
    let error = Scenario::parse("my.toml", &text).expect_err("no alarms");
    assert_eq!(
        error.what,
        "unknown key `alarm` in the file; did you mean `alarms`?"
    );
}

#[test]
fn an_unknown_key_names_the_nearest() {
    let text = format!("{FIRST_POOL}\nfoo = 1\n");
    let error = Scenario::parse("my.toml", &text).expect_err("foo");
    assert!(
        error
            .what
            .starts_with("unknown key `foo` in [event[8]]; it can have: at, "),
        "{error}"
    );
    let text = FIRST_POOL.replace(
        "\nhour_cap = \"640 mL\"",
        "\nhour_cap = \"640 mL\"\nday_capp = 1",
    );
    let error = Scenario::parse("my.toml", &text).expect_err("day_capp");
    assert_eq!(
        error.what,
        "unknown key `day_capp` in [feeder[1].limits]; did you mean `day_cap`?"
    );
    let text = format!("pol = 1\n{FIRST_POOL}");
    let error = Scenario::parse("my.toml", &text).expect_err("pol");
    assert_eq!((error.line, error.column), (1, 1));
    assert_eq!(
        error.what,
        "unknown key `pol` in the file; did you mean `pool`?"
    );
}

#[test]
fn words_that_are_not_known() {
    let what = refused("governor = \"ph\"", "governor = \"pf\"");
    assert!(what.contains("did you mean \"ph\"?"), "{what}");
    let what = refused("hour_cap = \"640 mL\"", "hour_cap = \"640 mL");
    assert!(!what.is_empty());
    let what = refused("daylight = \"06:00-20:00\"", "daylight = \"6-20\"");
    assert!(what.contains("\"08:00-20:00\""), "{what}");
    let what = refused("at = \"day 3 07:30\"", "at = \"day three\"");
    assert!(what.contains("write it as \"day 2 14:05\""), "{what}");
    let what = refused("when_feeding = \"acid\"", "when_feeding = \"acd\"");
    assert!(what.contains("did you mean \"acid\"?"), "{what}");
}

#[test]
fn what_the_guard_refuses_is_told_at_its_key() {
    let what = refused("day_cap = \"3 L\"", "day_cap = \"0 L\"");
    assert!(what.contains("day_cap is 0"), "{what}");
    let what = refused("cycle_cap = \"160 mL\"", "cycle_cap = \"4 L\"");
    assert!(
        what.contains("cycle_cap is 4000000, above day_cap"),
        "{what}"
    );
    let what = refused("flow_switch = \"fitted\"", "flow_switch = \"not fitted\"");
    assert!(
        what.contains("neither flow_switch nor flow_meter"),
        "{what}"
    );
    let what = refused("purge = \"60 s\"", "purge = \"0 s\"");
    assert!(what.contains("purge is 0"), "{what}");
    let what = refused("answer_max = \"pH 0.25\"", "answer_max = \"pH 0.004\"");
    assert!(what.contains("answer_max"), "{what}");
    let what = refused("governor = \"ph\"", "governor = \"orp\"");
    assert!(what.contains("governor"), "{what}");
    let what = refused(
        "rate_any_tube = \"120 mL/min\"",
        "rate_any_tube = \"81 mL/min\"",
    );
    assert!(what.contains("rate_any_tube"), "{what}");
    let what = refused("ph_floor = \"pH 6.8\"", "ph_floor = \"pH 6.0\"");
    assert!(what.contains("cutoff.ph_floor"), "{what}");
}

#[test]
fn a_hold_of_nothing_is_refused() {
    let text = FIRST_POOL.replacen("spread_hold = \"10 min\"", "spread_hold = \"0 s\"", 1);
    let error = Scenario::parse("my.toml", &text).expect_err("a hold of 0");
    assert!(error.what.contains("spread_hold is 0"), "{error}");
    assert!(
        FIRST_POOL
            .lines()
            .nth(error.line - 1)
            .expect("a line")
            .starts_with("spread_hold")
    );
}

#[test]
fn events_of_every_kind() {
    let last = |text: &str| {
        let scenario = with_event(&format!("at = \"day 7 23:00\"\n{text}"));
        scenario
            .map(|s| s.events.last().expect("an event").act)
            .map_err(|e| e.what)
    };
    let fault = |fault| {
        Ok(Act::Fault {
            fault,
            for_ms: None,
        })
    };
    assert_eq!(
        last("fault = \"flow_reduced\"\nsize = \"30 %\""),
        fault(PlantFault::FlowReduced(0.3))
    );
    assert_eq!(
        last("fault = \"probe_offset\"\nof = \"ph\"\nsize = \"pH -0.4\""),
        fault(PlantFault::Probe(ProbeId::Ph, ProbeFault::Offset(-0.4)))
    );
    assert_eq!(
        last("fault = \"late_off\"\nof = \"chlorine\"\nsize = \"1500 ms\""),
        fault(PlantFault::Feeder(1, FeederFault::LateOff(1500)))
    );
    assert_eq!(
        last("fault_ends = \"pump_trips\""),
        Ok(Act::FaultEnds(PlantFault::CirculationTripped))
    );
    assert_eq!(
        last("person = \"manual_feed\"\nfeeder = \"acid\"\nfor = \"30 s\""),
        Ok(Act::Person(PersonAct::ManualFeed {
            feeder: 0,
            for_ms: 30_000
        }))
    );
    assert_eq!(
        last("person = \"hand_dose\"\nfeeder = \"acid\"\namount = \"300 mL\"\nby = \"owner\""),
        Ok(Act::Person(PersonAct::HandDose {
            by: Authority::Owner,
            feeder: 0,
            dose: Dose::from_ml(300),
            body: None,
        }))
    );
    let none = last("").expect_err("nothing happens");
    assert!(none.contains("exactly one"), "{none}");
    let two = last("fault = \"pump_trips\"\npower_cut = \"1 min\"").expect_err("two things");
    assert!(two.contains("power_cut and fault"), "{two}");
    let size = last("fault = \"flow_reduced\"").expect_err("no size");
    assert!(size.contains("has no `size`"), "{size}");
}

#[test]
fn every_fault_can_be_written() {
    for name in faults::names() {
        let tried = [
            "",
            "size = 1.5",
            "size = 0.5",
            "size = \"30 %\"",
            "size = \"1 s\"",
            "size = \"1 L/h\"",
            "of = \"ph\"",
            "of = \"acid\"",
            "of = \"acid\"\nsize = 2",
            "of = \"ph\"\nsize = 0.5",
            "of = \"ph\"\nsize = 2",
            "of = \"orp\"\nsize = \"9 mV\"",
            "of = \"acid\"\nsize = \"1 s\"",
            "of = \"acid\"\nsize = \"1 L/h\"",
        ];
        let read = |rest: &&str| {
            with_event(&format!("at = \"day 1 00:00\"\nfault = \"{name}\"\n{rest}")).is_ok()
        };
        assert_eq!(
            tried.iter().filter(|rest| read(rest)).count().min(1),
            1,
            "{name}"
        );
    }
}

#[test]
fn a_file_that_is_no_text_is_refused() {
    let mut file = tempfile::NamedTempFile::new().expect("a file");
    std::io::Write::write_all(&mut file, b"[scenario]\n\xff\xfe").expect("written");
    let error = Scenario::load(file.path()).expect_err("not UTF-8");
    assert_eq!(error.line, 2, "{error}");
    let gone = Scenario::load(Path::new("no-such-file.toml")).expect_err("not there");
    assert!(
        gone.to_string()
            .starts_with("no-such-file.toml: cannot be read"),
        "{gone}"
    );
}

proptest::proptest! {
    #[test]
    fn no_text_makes_it_panic(text in "\\PC{0,200}", at in 0_usize..8000, cut in 0_usize..40) {
        let _ = Scenario::parse("f", &text);
        let mut mangled: Vec<char> = FIRST_POOL.chars().collect();
        let from = at.min(mangled.len());
        let to = (from + cut).min(mangled.len());
        mangled.splice(from..to, text.chars());
        let _ = Scenario::parse("f", &mangled.into_iter().collect::<String>());
    }
}

#[test]
fn a_run_can_end_sooner_than_its_days_say() {
    let with = |end: &str| {
        let days = format!("days = 7\nends_at = \"{end}\"");
        Scenario::parse("my.toml", &FIRST_POOL.replacen("days = 7", &days, 1))
    };
    let sooner = with("day 2 10:00:05").unwrap_or_else(|error| panic!("{error}"));
    assert_eq!(sooner.run_ms(), clock::DAY_MS + 36_005_000);
    assert_eq!(Scenario::first_pool().run_ms(), 7 * clock::DAY_MS);
    assert!(with("day 8 00:00").is_ok());
    for end in ["day 8 00:01", "day 1 00:00"] {
        let error = with(end).expect_err(end);
        assert!(error.what.contains("at most day 8 00:00"), "{error}");
    }
}
