//! A pool and a spa on one pump: each by its own rows, its own volume and what is wanted of it.

use super::super::many::{Round, read};
use super::{Urgency, VisitResult};
use crate::plan::Site;
use std::sync::LazyLock;

static POOL_AND_SPA: LazyLock<String> =
    LazyLock::new(|| crate::examples::text("sites/pool-and-spa.toml"));
/// A round of 2.2 m across, 0.8 m deep: 1.1^2 x pi x 0.8 m3.
const SPA_L: f64 = 3041.0;
const POOL: &str = "2031-05-02 10:00,test,ph,pH 7.5,,pool\n\
    2031-05-02 10:00,test,free_chlorine,2.5 mg/L,,pool\n\
    2031-05-02 10:00,test,alkalinity,90 mg/L,,pool\n";
const SPA: &str = "2031-05-02 10:20,test,ph,pH 7.5,,spa\n\
    2031-05-02 10:20,shows,ph,pH 7.5,,spa\n\
    2031-05-02 10:20,test,free_chlorine,0.5 mg/L,,spa\n\
    2031-05-02 10:20,test,alkalinity,90 mg/L,,spa\n";

fn found(site: &str, rows: &str) -> VisitResult {
    let site = Site::parse("site.toml", site).unwrap_or_else(|error| panic!("{error}"));
    let text = format!("time,what,of,value,with,body\n{rows}");
    read(&site, "log.csv", &text).unwrap_or_else(|error| panic!("{error}"))
}

fn amount<'a>(steps: &'a [crate::plan::Step], what: &str) -> &'a str {
    let found = steps.iter().find(|step| step.what.contains(what));
    found.map_or("none", |step| step.amount.as_str())
}

#[test]
fn a_spa_that_is_low_gets_its_own_dose_and_the_pool_none() {
    let found = found(&POOL_AND_SPA, &format!("{POOL}{SPA}"));
    let spa = found.other.as_ref().expect("a spa");
    assert_eq!((spa.body.as_str(), spa.days_ago), ("spa", Some(0)));
    // 2 mg/L of 3041 L by 120 g/L are 50.7 mL, to the next 10; in the pool it would be over a litre.
    assert!((2.0 * SPA_L / 120.0 - 50.7).abs() < 0.1);
    assert_eq!(amount(&spa.today.steps, "hypochlorite"), "60 mL");
    assert_eq!(amount(&found.today.steps, "hypochlorite"), "none");
    let names: Vec<&str> = spa.causes.iter().map(|one| one.name).collect();
    assert_eq!(names, ["not_fit_to_bathe"]);
    assert!(found.causes.is_empty(), "{:?}", found.causes);
    // Nobody bathes in it, and the whole visit says so.
    assert_eq!(found.urgency, Urgency::Close);
    assert_eq!(
        found.why().first().map(String::as_str),
        Some("spa: not_fit_to_bathe")
    );
    let text = found.to_string();
    for said in [
        // The pool's dose is not for the spa.
        "The pool: by hand today, in this order\n",
        "The spa, by the rows of this visit",
        "The spa: by hand today, in this order\n  1. hypochlorite of 120 g/L: 60 mL",
        "Of the pool's figures: what the feeders gave went to both bodies",
    ] {
        assert!(text.contains(said), "{said}\n{text}");
    }
    let page = super::super::page(&found).expect("a page");
    assert!(page.contains("The spa: by hand today") && page.contains("60 mL"));
    assert!(page.contains("The pool: by hand today") && !page.contains("By hand today"));
    // What a whole round of pools shows.
    let round = Round::of(vec![found]).to_string();
    assert!(round.contains("spa: not_fit_to_bathe"), "{round}");
}

#[test]
fn what_is_wanted_of_the_spa_may_be_otherwise() {
    let wanted = "[second_body.wanted]\nfree_chlorine = \"4 mg/L\"\nfree_chlorine_min = \"0.4 mg/L\"\n\
        alkalinity = \"120 mg/L\"\n\n[valves]\n";
    let site = POOL_AND_SPA.replace("[valves]\n", wanted);
    let found = found(&site, &format!("{POOL}{SPA}"));
    let spa = found.other.expect("a spa");
    // 3.5 mg/L of 3041 L by 120 g/L: 88.7 mL.
    assert_eq!(amount(&spa.today.steps, "hypochlorite"), "90 mL");
    assert!(spa.causes.is_empty(), "0.5 mg/L is over its own least");
    // 30 mg/L as CaCO3 of 3041 L are 0.1532 kg of NaHCO3 (84.007 g a mole; 100.09 / 2 an equivalent).
    let kg = 0.030 * SPA_L * 84.007 / 50.045 / 1000.0;
    assert!((kg - 0.1532).abs() < 1e-3, "{kg}");
    let step = spa
        .today
        .steps
        .iter()
        .find(|one| one.what.contains("bicarbonate"));
    let found_kg = step.and_then(|step| step.kg).expect("bicarbonate");
    assert!((found_kg - kg).abs() < 0.02, "{found_kg}");
    assert_eq!(amount(&found.today.steps, "bicarbonate"), "none");
    let bring: Vec<&str> = found.bring.iter().map(|one| one.what.as_str()).collect();
    assert!(
        bring.iter().any(|what| what.contains("bicarbonate")),
        "{bring:?}"
    );
}

#[test]
fn a_spa_that_was_not_tested_today_gets_nothing_by_hand() {
    let later = "2031-05-16 10:00,test,free_chlorine,2.5 mg/L,,pool\n";
    let tested_once = found(&POOL_AND_SPA, &format!("{POOL}{SPA}{later}"));
    let spa = tested_once.other.as_ref().expect("a spa");
    assert_eq!(spa.days_ago, Some(14));
    assert!(spa.today.steps.is_empty() && spa.causes.is_empty());
    assert!(spa.today.withheld[0].contains("test its water first"));
    let alkalinity = &spa.due[0];
    assert!(
        alkalinity.why.contains("last 14 days ago"),
        "{alkalinity:?}"
    );
    let never = found(&POOL_AND_SPA, POOL);
    let spa = never.other.as_ref().expect("a spa");
    assert_eq!((&spa.time, spa.days_ago), (&None, None));
    assert!(
        never
            .to_string()
            .contains("The spa, no row of the log names it")
    );
    // A row that names no body is about the plant, and is not the spa's.
    let plant = "2031-05-02 10:30,level,acid,9 L,,\n";
    let found = found(&POOL_AND_SPA, &format!("{POOL}{plant}"));
    assert_eq!(found.other.expect("a spa").time, None);
}

#[test]
fn what_looks_at_the_pool_alone_says_what_it_left_out() {
    let site = Site::parse("site.toml", &POOL_AND_SPA).expect("sound");
    let plan = crate::plan::Plan::of(&site).expect("a plan");
    let text = format!("time,what,of,value,with,body\n{POOL}{SPA}");
    let log = super::Log::parse("log.csv", &text, &site, &plan).expect("sound");
    let pool = log.of_pool(&site).expect("rows of the pool");
    assert_eq!(pool.left_out.as_deref(), Some("4 rows of the spa"));
    let opening = crate::season::OpeningSheet::of(&site, &plan, &pool, "2031-05-01");
    let opening = opening.expect("a sheet").to_string();
    assert!(
        opening.contains("Not used: 4 rows of the spa."),
        "{opening}"
    );
    let winter = crate::season::Winter {
        coldest_c: 4.0,
        days: 120.0,
        store_c: 10.0,
        half_life_days: 120.0,
    };
    let closing = crate::season::Closing::of(&site, &plan, &pool, winter);
    let closing = closing.expect("a sheet").to_string();
    assert!(
        closing.contains("Not used: 4 rows of the spa."),
        "{closing}"
    );
    let alone = format!("time,what,of,value,with,body\n{POOL}");
    let log = super::Log::parse("log.csv", &alone, &site, &plan).expect("sound");
    assert_eq!(log.of_pool(&site).expect("rows").left_out, None);
}
