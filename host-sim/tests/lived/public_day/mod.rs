//! The day of a public pool that was lived in, held to the plant's truth: what the day log says was met is what the
//! water did, and a day on which nothing is wrong has nothing to ask.

mod sheets;
mod spa;

use std::fmt::Write as _;
use std::sync::LazyLock;

use dosewarden_sim::day::{Asked, Condition, DaySheet, Record, Wanted};
use dosewarden_sim::plan::{COMMUNITY_POOL, Plan, Site};
use dosewarden_sim::plant::{FeederFault, PlantFault};
use dosewarden_sim::run::Trace;
use dosewarden_sim::scenario::{Act, PersonAct, Poured};
use dosewarden_sim::visit::Log;
use dosewarden_sim::{DosewardenUnit, Scenario, SimPool};

const MINUTE_MS: u64 = 60_000;
const DAY_MS: u64 = 86_400_000;
/// The pool is past its stages on this day.
const DAY: u64 = 5;
const HOURS: (u64, u64) = (7 * 60, 21 * 60);
const CHLORINE: usize = 1;

pub(crate) type Pool = SimPool<DosewardenUnit>;

pub(crate) fn site() -> (Site, Plan) {
    site_of(COMMUNITY_POOL)
}

pub(crate) fn site_of(text: &str) -> (Site, Plan) {
    let site = Site::parse("site.toml", text).expect("a sound site");
    let plan = Plan::of(&site).expect("a plan");
    (site, plan)
}

/// Hours of people, held to every code.
pub(crate) fn wanted(hours: &str) -> Wanted<'_> {
    Wanted {
        date: Some("2031-05-02"),
        hours,
        ..Wanted::default()
    }
}

/// A planned site at midnight before its day.
pub(crate) fn morning(text: &str) -> (Scenario, Pool) {
    let (_, plan) = site_of(text);
    let scenario = Scenario::parse("planned.toml", &plan.scenario).expect("it runs");
    let unit = DosewardenUnit::for_scenario(&scenario);
    let mut pool = SimPool::attach(&scenario, unit).expect("a sound plant");
    pool.run_for_ms((DAY - 1) * DAY_MS - pool.clock_ms());
    (scenario, pool)
}

/// The planned pool; lived once.
static MORNING: LazyLock<(Scenario, Pool)> = LazyLock::new(|| morning(COMMUNITY_POOL));

/// What was lived.
struct Lived {
    sheet: DaySheet,
    /// pH and free chlorine of the water at the end of each minute of the hours.
    truth: Vec<(f64, f64)>,
    fed_ml: f64,
}

/// A person tests what is there.
fn test(text: &mut String, pool: &Pool, minute: u64) {
    let water = pool.truth().bodies[0];
    let time = format!("2031-05-02 {:02}:{:02}", minute / 60, minute % 60);
    let _ = writeln!(text, "{time},test,ph,pH {:.2},", water.ph);
    let chlorine = water.free_chlorine_mg_l;
    let _ = writeln!(text, "{time},test,free_chlorine,{chlorine:.2} mg/L,");
}

/// The planned pool on one of its days, with something done to it at 13:00; tested at the opening, and each 4 h.
fn lived(fault: impl Fn(&mut Pool)) -> Lived {
    let (site, plan) = site();
    let (scenario, morning) = &*MORNING;
    let mut pool = morning.clone();
    let midnight = pool.clock_ms();
    let mut trace = Trace::begin(scenario, Vec::new()).expect("a trace");
    let mut text = "time,what,of,value,with\n\
        2031-05-01 09:00,test,alkalinity,100 mg/L,\n\
        2031-05-01 09:00,test,calcium,200 mg/L,\n\
        2031-05-01 09:00,test,cyanuric_acid,0 mg/L,\n"
        .to_owned();
    let mut truth = Vec::new();
    let mut fed_ml = 0.0;
    for minute in 1..=1440 {
        let end = midnight + minute * MINUTE_MS;
        while pool.clock_ms() < end {
            pool.tick();
            fed_ml += pool.truth().feeders[CHLORINE].fed / 1000.0;
            trace.look(&pool).expect("written");
        }
        if minute == 13 * 60 {
            fault(&mut pool);
        }
        if (HOURS.0..=HOURS.1).contains(&minute) {
            let water = pool.truth().bodies[0];
            truth.push((water.ph, water.free_chlorine_mg_l));
            if (minute - HOURS.0).is_multiple_of(240) {
                test(&mut text, &pool, minute);
            }
        }
    }
    let _ = writeln!(text, "2031-05-02 23:00,bathers,,180,");
    let log = Log::parse("log.csv", &text, &site, &plan).unwrap_or_else(|error| panic!("{error}"));
    let asked = Asked::parse(&site, &log, &wanted("07:00-21:00")).expect("asked");
    let days = asked.record_days(Some("2031-04-28")).expect("days");
    let written = trace.end().expect("ended");
    let record = Record::read("record.csv", written.as_slice(), &site, days);
    let record = record.unwrap_or_else(|error| panic!("{error}"));
    Lived {
        sheet: DaySheet::of(&site, &log, Some(&record), &asked),
        truth,
        fed_ml,
    }
}

pub(crate) fn minute_of(time: &str) -> u64 {
    let (hour, minute) = time.split_once(':').expect("a time");
    let parts = (hour.parse::<u64>(), minute.parse::<u64>());
    parts.0.expect("hours") * 60 + parts.1.expect("minutes")
}

/// The minutes of the hours in which a condition was met.
pub(crate) fn met<'a>(
    sheet: &'a DaySheet,
    code: &'a str,
    what: &'a str,
) -> impl Fn(u64) -> bool + 'a {
    let own: Vec<&Condition> = sheet
        .conditions
        .iter()
        .filter(|it| it.is_met && it.code == code && it.what == what)
        .collect();
    move |minute| {
        own.iter()
            .any(|it| (minute_of(&it.from)..=minute_of(&it.to)).contains(&minute))
    }
}

#[test]
fn a_day_on_which_nothing_is_wrong_asks_for_nothing() {
    let lived = lived(|_| ());
    let sheet = &lived.sheet;
    assert!(
        !sheet.conditions.iter().any(|it| it.closes || it.is_met),
        "{sheet}"
    );
    assert!(!sheet.has_something_wrong(), "{sheet}");
    assert!(
        sheet
            .verdict()
            .starts_with("No condition for closing was met in what")
    );
    assert!(!sheet.to_string().contains("is open"));
    // Truth agrees: inside of the strictest of them all day, as far as a probe knows.
    assert!(
        lived
            .truth
            .iter()
            .all(|(ph, free)| (7.2..=7.8).contains(ph) && *free >= 1.0)
    );
    let fed = sheet.fed[CHLORINE].amount.expect("recorded");
    assert!((fed - lived.fed_ml).abs() < 1.0, "{fed} {}", lived.fed_ml);
    assert!(fed > 100.0, "bathers used some");
    assert_eq!(sheet.bathers, Some(180.0));
    assert_eq!(sheet.tests.len(), 4);
    for test in &sheet.tests {
        let off = test.ph_difference.expect("probe and kit");
        assert!(off.abs() < 0.1, "{test:?}");
    }
    assert_eq!(sheet.gaps, []);
    assert!(
        sheet
            .dues
            .iter()
            .all(|due| due.late_min == 0 && due.made.is_some())
    );
}

#[test]
fn acid_that_was_poured_into_the_pool_meets_the_conditions_when_the_water_does() {
    let lived = lived(|pool| {
        let pour = PersonAct::Pour {
            what: Poured::Acid,
            amount: 32_000,
        };
        pool.act(Act::Person(pour));
    });
    let sheet = &lived.sheet;
    // What the probe sees lags by its way and its own time constant, and is off by its noise.
    let lag = 5;
    for (code, limit, what) in [
        ("mahc", 6.5, "pH at least 6.5"),
        ("delaware", 7.2, "pH at least 7.2"),
    ] {
        let is_met = met(sheet, code, what);
        let mut count = 0;
        for (at, minute) in (HOURS.0..=HOURS.1).enumerate() {
            let near = &lived.truth[at.saturating_sub(lag)..=at];
            let under = |margin: f64| near.iter().all(|(ph, _)| *ph < limit + margin);
            let over = near.iter().all(|(ph, _)| *ph > limit + 0.05);
            // A kit's test stands until the next one: it may say so for longer, never for less.
            assert!(
                !under(-0.05) || is_met(minute),
                "{what}: missed at {minute}"
            );
            assert!(
                !over || minute >= 13 * 60 || !is_met(minute),
                "{what}: {minute}"
            );
            count += u64::from(under(-0.05));
        }
        assert!(count > 30, "{what}: the water was there for {count} min");
        assert!(
            (13 * 60..13 * 60 + 10).any(&is_met),
            "{what}: within minutes"
        );
    }
    assert!(
        sheet
            .verdict()
            .starts_with("A condition for closing was met")
    );
    assert!(sheet.has_something_wrong());
    let fit = met(sheet, "mahc", "filtration runs");
    assert!((HOURS.0..=HOURS.1).all(|minute| !fit(minute)));
}

#[test]
fn an_empty_drum_is_disinfection_that_does_not_run_and_a_test_finds_the_chlorine_gone() {
    let lived = lived(|pool| {
        pool.set_fault(PlantFault::Feeder(CHLORINE, FeederFault::DrumEmpty));
        // Thrice the bathers, so that the rest of the day uses up what is in the water.
        pool.set_fault(PlantFault::BatherLoad(3.0));
    });
    let sheet = &lived.sheet;
    let is_met = met(sheet, "mahc", "disinfection runs");
    assert!(!(HOURS.0..13 * 60).any(&is_met), "not before");
    assert!(
        (13 * 60 + 5..=HOURS.1).all(&is_met),
        "from the empty drum on"
    );
    let low = "free chlorine at least the site's own minimum";
    let is_low = met(sheet, "mahc", low);
    // Nobody knew of it before the next test.
    let at = |minute: u64| lived.truth[(minute - HOURS.0) as usize].1;
    assert!(at(15 * 60) > 1.0 || is_low(15 * 60), "{}", at(15 * 60));
    let low_at = at(19 * 60);
    assert!(low_at < 1.0, "the fault has to bite: {low_at}");
    assert!((19 * 60..=HOURS.1).all(&is_low));
    let alarm = |name: &str| {
        let all = sheet.alarms.as_ref().expect("recorded");
        all.iter().any(|it| it.what == name)
    };
    assert!(alarm("chlorine: stock_empty"), "{sheet}");
}

#[test]
fn a_pump_that_trips_is_filtration_that_does_not_run() {
    let lived = lived(|pool| pool.set_fault(PlantFault::CirculationTripped));
    let sheet = &lived.sheet;
    for code in ["mahc", "delaware"] {
        let is_met = met(sheet, code, "filtration runs");
        assert!(!(HOURS.0..13 * 60).any(&is_met), "not before");
        assert!((13 * 60 + 2..=HOURS.1).all(&is_met), "from then on");
    }
    let slow = met(
        sheet,
        "california",
        "recirculation at least 75 % of the required rate",
    );
    assert!((13 * 60 + 2..=HOURS.1).all(slow));
}
