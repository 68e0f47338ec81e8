//! Days of a public spa, and of a pool with a spa on the same pump, held to the plant's truth.

use std::fmt::Write as _;
use std::sync::LazyLock;

use dosewarden_sim::Scenario;
use dosewarden_sim::day::{Asked, DaySheet, Record, Wanted};
use dosewarden_sim::plan::HOTEL_SPA;
use dosewarden_sim::plant::{FeederFault, PlantFault};
use dosewarden_sim::run::Trace;
use dosewarden_sim::visit::Log;

use super::{DAY, MINUTE_MS, Pool, met, morning, site_of, wanted};

const POOL_AND_SPA: &str = include_str!("../../../../examples/sites/pool-and-spa.toml");
const CHLORINE: usize = 1;
/// 22 CCR 65529(b): a spa has at least so much free chlorine, mg/L.
const SPA_MIN: f64 = 3.0;
const SPA_LIMIT: &str = "free chlorine at least 3.0 mg/L in a spa";

/// The water at the end of a minute.
#[derive(Clone, Copy, Debug)]
struct Minute {
    body: usize,
    moves: bool,
    ph: f64,
    free: f64,
    orp_mv: f64,
    fed_ml: f64,
}

/// A day of a site, minute by minute, with its trace and a log of tests at some of them: in each body, by its name.
struct Day {
    minutes: Vec<Minute>,
    trace: Vec<u8>,
    log: String,
}

fn lived(
    (scenario, morning): &(Scenario, Pool),
    bodies: &[&str],
    tests: &[u64],
    fault: impl Fn(&mut Pool, u64),
) -> Day {
    let mut pool = morning.clone();
    let midnight = pool.clock_ms();
    let mut trace = Trace::begin(scenario, Vec::new()).expect("a trace");
    let mut log = "time,what,of,value,with,body\n".to_owned();
    for name in bodies {
        for (of, value) in [
            ("alkalinity", "100 mg/L"),
            ("calcium", "200 mg/L"),
            ("cyanuric_acid", "0 mg/L"),
        ] {
            let _ = writeln!(log, "2031-05-01 09:00,test,{of},{value},,{name}");
        }
    }
    let mut minutes = Vec::new();
    for minute in 1..=1440 {
        let mut fed_ml = 0.0;
        while pool.clock_ms() < midnight + minute * MINUTE_MS {
            pool.tick();
            fed_ml += pool.truth().feeders[CHLORINE].fed / 1000.0;
            trace.look(&pool).expect("written");
        }
        fault(&mut pool, minute);
        let truth = pool.truth();
        let water = truth.bodies[truth.body];
        minutes.push(Minute {
            body: truth.body,
            moves: truth.water_moving,
            ph: water.ph,
            free: water.free_chlorine_mg_l,
            orp_mv: truth.sample_orp_mv,
            fed_ml,
        });
        if tests.contains(&minute) {
            for (name, water) in bodies.iter().zip(&truth.bodies) {
                let time = format!("2031-05-02 {:02}:{:02}", minute / 60, minute % 60);
                let free = water.free_chlorine_mg_l;
                let _ = writeln!(log, "{time},test,ph,pH {:.2},,{name}", water.ph);
                let _ = writeln!(log, "{time},test,free_chlorine,{free:.2} mg/L,,{name}");
                let warm = water.temperature_c;
                let _ = writeln!(log, "{time},test,temperature,{warm:.1} C,,{name}");
            }
        }
    }
    Day {
        minutes,
        trace: trace.end().expect("ended"),
        log,
    }
}

impl Day {
    fn sheet(&self, text: &str, asks: &Wanted<'_>) -> DaySheet {
        let (site, plan) = site_of(text);
        let log = Log::parse("log.csv", &self.log, &site, &plan).unwrap_or_else(|e| panic!("{e}"));
        let all = ["all".to_owned()];
        let asks = Wanted {
            codes: &all,
            ..*asks
        };
        let asked = Asked::parse(&site, &log, &asks).unwrap_or_else(|error| panic!("{error}"));
        let first = format!("2031-04-{:02}", 31 - DAY + 2);
        let days = asked.record_days(Some(&first)).expect("days");
        let record = Record::read("record.csv", self.trace.as_slice(), &site, days);
        let record = record.unwrap_or_else(|error| panic!("{error}"));
        DaySheet::of(&site, &log, Some(&record), &asked)
    }

    fn at(&self, minute: u64) -> &Minute {
        &self.minutes[usize::try_from(minute).expect("a minute") - 1]
    }
}

static SPA: LazyLock<(Scenario, Pool)> = LazyLock::new(|| morning(HOTEL_SPA));

const OPENS: u64 = 8 * 60;
const CLOSES: u64 = 22 * 60;
const TESTS: [u64; 4] = [OPENS, 12 * 60, 16 * 60, 20 * 60];

fn spa_day(fault: impl Fn(&mut Pool, u64)) -> (Day, DaySheet) {
    let day = lived(&SPA, &[""], &TESTS, fault);
    let sheet = day.sheet(HOTEL_SPA, &wanted("08:00-22:00"));
    (day, sheet)
}

/// What a person found at the last test, and what the probe saw, is what the sheet says: each minute of the hours.
fn as_the_water_was(day: &Day, sheet: &DaySheet) -> u64 {
    let low = met(sheet, "california", SPA_LIMIT);
    let weak = met(sheet, "quebec", "ORP over 750 mV above 35 C");
    let mut under = 0;
    for minute in OPENS..=CLOSES {
        let tested = TESTS.iter().rev().find(|at| **at <= minute).expect("one");
        let found = (day.at(*tested).free * 100.0).round() / 100.0;
        assert_eq!(low(minute), found < SPA_MIN, "{minute}: {found} mg/L");
        under += u64::from(found < SPA_MIN);
        // The probe lags by its own time and that of the water's way, and is off by its noise.
        let near = (minute.saturating_sub(4)..=minute).map(|at| day.at(at).orp_mv);
        let (least, most) = near.fold((f64::MAX, f64::MIN), |(a, b), mv| (a.min(mv), b.max(mv)));
        if most < 745.0 {
            assert!(weak(minute), "{minute}: {most} mV");
        } else if least > 755.0 {
            assert!(!weak(minute), "{minute}: {least} mV");
        }
    }
    under
}

#[test]
fn a_public_spa_s_day_is_held_to_what_a_spa_has_to_have() {
    let (day, sheet) = spa_day(|_, _| ());
    as_the_water_was(&day, &sheet);
    let fed: f64 = day.minutes.iter().map(|one| one.fed_ml).sum();
    let told = sheet.fed[CHLORINE].amount.expect("recorded");
    assert!((told - fed).abs() < 1.0 && fed > 100.0, "{told} {fed}");
    let ph = met(&sheet, "mahc", "pH at most 8.0");
    assert!((OPENS..=CLOSES).all(|minute| day.at(minute).ph < 7.8 && !ph(minute)));
    for test in &sheet.tests {
        assert!(test.ph_difference.expect("both").abs() < 0.1, "{test:?}");
    }
}

#[test]
fn a_spa_whose_drum_is_empty_meets_the_conditions_when_its_water_does() {
    let (day, sheet) = spa_day(|pool, minute| {
        if minute == 13 * 60 {
            pool.set_fault(PlantFault::Feeder(CHLORINE, FeederFault::DrumEmpty));
        }
    });
    assert!(day.at(20 * 60).free < 1.0, "the fault has to bite");
    let under = as_the_water_was(&day, &sheet);
    assert!(under >= 2 * 60, "{under} min");
    let runs = met(&sheet, "mahc", "disinfection runs");
    assert!((13 * 60 + 5..=CLOSES).all(&runs) && !(OPENS..13 * 60).any(&runs));
    // What a pool may have is less: the spa's own limit is what is met first.
    let pool = met(&sheet, "california", "free chlorine at least 1.0 mg/L");
    assert!(
        (OPENS..=CLOSES)
            .all(|minute| !pool(minute) || met(&sheet, "california", SPA_LIMIT)(minute))
    );
}

static BOTH: LazyLock<(Scenario, Pool)> = LazyLock::new(|| morning(POOL_AND_SPA));

#[test]
fn of_two_bodies_on_one_pump_each_has_its_own_day() {
    let names = ["pool", "spa"];
    let day = lived(&BOTH, &names, &[8 * 60 + 30, 12 * 60, 19 * 60], |_, _| ());
    let seen: Vec<usize> = (1..=1440).map(|minute| day.at(minute).body).collect();
    assert!(seen.contains(&0) && seen.contains(&1));
    for (body, name) in names.iter().enumerate() {
        let asks = Wanted {
            body: Some(name),
            ..wanted("08:00-20:55")
        };
        let sheet = day.sheet(POOL_AND_SPA, &asks);
        assert!(sheet.site.ends_with(name), "{}", sheet.site);
        let stands = met(&sheet, "mahc", "filtration runs");
        let sound = |minute: u64| {
            let one = day.at(minute);
            one.body == body && one.moves
        };
        // A row tells of the end of its minute: where the valves turn it may be one off.
        for minute in 8 * 60 + 1..=20 * 60 + 54 {
            let around = [minute - 1, minute, minute + 1].map(sound);
            if around == [around[0]; 3] {
                assert_eq!(stands(minute), !sound(minute), "{name} at {minute}");
            }
        }
        // What holds of warm water does not of the pool, which has less ORP than that all day.
        let weak = met(&sheet, "quebec", "ORP over 750 mV above 35 C");
        let is_warm = (8 * 60 + 30..=20 * 60 + 54).any(weak);
        assert_eq!(is_warm, *name == "spa", "{name}");
        // The probe is in the water of the one that is selected, and beside that one's test alone.
        for (test, minute) in sheet.tests.iter().zip([8 * 60 + 30, 12 * 60, 19 * 60]) {
            assert_eq!(test.ph_probe.is_some(), sound(minute), "{name}: {test:?}");
            let off = test.ph_difference.unwrap_or(0.0);
            assert!(off.abs() < 0.1, "{name}: {test:?}");
        }
        let own = |one: &&Minute| one.body == body;
        let fed: f64 = day.minutes.iter().filter(own).map(|one| one.fed_ml).sum();
        let told = sheet.fed[CHLORINE].amount.expect("recorded");
        assert!((told - fed).abs() < 30.0, "{name}: {told} {fed}");
        assert!(
            sheet
                .gaps
                .iter()
                .any(|gap| gap.what == "probes not recorded")
        );
    }
}
