//! How soon the water's answers name an acid pump whose real rate is wrong, and how often they name
//! one that is right; and what a drum says at a visit.
//!
//! `evidence` is ignored: it runs twenty seeds of each rate and years of healthy water, and holds
//! the committed table `evidence.txt` to what comes of them. A few minutes:
//!
//! ```text
//! cargo test --release -p dosewarden-sim --test lived response:: -- --ignored
//! RESPONSE_WRITE=1 cargo test --release -p dosewarden-sim --test lived response:: -- --ignored
//! ```
//! The second writes the table anew.

mod site;

use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};

use dosewarden::alarm::{AlarmId, FeederAlarm};
use dosewarden::guard::Lockout;
use dosewarden::stock::DrumVerdict;
use dosewarden_sim::{DosewardenUnit, Scenario, SimPool};

/// Rates that are wrong by half or more: real over entered.
const WRONG: [f64; 4] = [0.15, 0.5, 2.0, 6.0];

type Site = fn(f64, u64, u32) -> Scenario;
const SITES: [(&str, Site); 4] = [
    ("pool", site::pool),
    ("pool, small doses", site::small_doses),
    ("spa with jets", site::spa),
    ("busy spa", site::busy_spa),
];

fn attach(scenario: &Scenario) -> SimPool<DosewardenUnit> {
    let unit = DosewardenUnit::for_scenario(scenario);
    SimPool::attach(scenario, unit).expect("a sound plant")
}

/// Doses of acid until the rate is named; `None`: not within ten days or twelve doses.
fn doses_to_name(scenario: &Scenario) -> Option<u32> {
    let mut pool = attach(scenario);
    let mut doses = 0;
    while pool.now_ms() < 10 * 86_400_000 && doses <= 12 {
        pool.tick();
        let controller = pool.unit().controller()?;
        let closed = controller.guard().decision().feeders[0].closed;
        doses += u32::from(closed.is_some_and(|closed| closed.fed.0 > 0));
        if controller.response(0)?.verdict().is_wrong() {
            let alarm = AlarmId::Feeder(0, FeederAlarm::RateWrong);
            pool.tick();
            pool.tick();
            let state = pool.unit().controller()?.alarms().state(alarm);
            assert!(state.is_some_and(|state| state.is_active()), "{state:?}");
            return Some(doses);
        }
    }
    None
}

/// What came of some time of healthy feed.
#[derive(Debug)]
struct Healthy {
    doses: u32,
    /// Least and largest ratio once three doses were followed, thousandths.
    ratios: (i32, i32),
    false_calls: u32,
    false_drums: u32,
    /// Ticks in which the guard had locked a feeder out for how the water answered.
    locked_ticks: u32,
}

fn healthy(scenario: &Scenario) -> Healthy {
    let mut pool = attach(scenario);
    let mut found = Healthy {
        doses: 0,
        ratios: (i32::MAX, i32::MIN),
        false_calls: 0,
        false_drums: 0,
        locked_ticks: 0,
    };
    let (mut called, mut drums) = (false, false);
    while pool.now_ms() < u64::from(scenario.days) * 86_400_000 {
        pool.tick();
        let controller = pool.unit().controller().expect("it has power");
        let closed = controller.guard().decision().feeders[0].closed;
        found.doses += u32::from(closed.is_some_and(|closed| closed.fed.0 > 0));
        let answers = controller.response(0).expect("it is followed");
        if let (true, Some(ratio)) = (answers.doses() >= 3, answers.ratio_milli()) {
            found.ratios.0 = found.ratios.0.min(ratio);
            found.ratios.1 = found.ratios.1.max(ratio);
        }
        let calls = answers.verdict().is_wrong();
        found.false_calls += u32::from(calls && !called);
        called = calls;
        let wrong = (0..2).any(|feeder| controller.drum_verdict(feeder).is_wrong());
        let lockouts = controller.guard().state().feeder_lockouts;
        let locked = lockouts.iter().any(|all| all.has(Lockout::Response));
        found.locked_ticks += u32::from(locked);
        found.false_drums += u32::from(wrong && !drums);
        drums = wrong;
    }
    found
}

#[test]
fn a_wrong_rate_is_named_within_six_doses() {
    for (name, site) in SITES {
        for ratio in WRONG {
            let doses = doses_to_name(&site(ratio, 101, 10));
            assert!(
                doses.is_some_and(|doses| doses <= 6),
                "{name}, {ratio}: {doses:?}"
            );
        }
    }
}

#[test]
fn a_right_rate_is_not_named_in_healthy_water() {
    // The spa is dosed most often.
    for ((name, site), days) in SITES.into_iter().zip([10, 8, 3, 14]) {
        let found = healthy(&site(1.0, 103, days));
        assert!(found.doses > 20, "{name}: {found:?}");
        assert_eq!(
            (found.false_calls, found.false_drums, found.locked_ticks),
            (0, 0, 0),
            "{name}: {found:?}"
        );
    }
}

#[test]
fn a_drum_names_chlorine_that_the_water_cannot() {
    for (ratio, says) in [
        (0.5, DrumVerdict::Low),
        (1.0, DrumVerdict::AsConfigured),
        (2.0, DrumVerdict::High),
    ] {
        let mut scenario = site::pool(1.0, 7, 9);
        scenario.plant.feeders[1].rate_factor = ratio;
        let mut pool = attach(&scenario);
        pool.run_for_days(9);
        let controller = pool.unit().controller().expect("it has power");
        assert_eq!(controller.drum_verdict(1), says, "{ratio}");
        assert!(controller.response(1).is_none(), "ORP steps judge nothing");
    }
}

/// How many of twenty seeds took how many doses.
fn named(site: Site, ratio: f64) -> String {
    let mut by_doses = std::collections::BTreeMap::<u32, u32>::new();
    for seed in 1..=20 {
        let doses = doses_to_name(&site(ratio, seed, 10)).unwrap_or(u32::MAX);
        *by_doses.entry(doses).or_default() += 1;
    }
    let all: Vec<String> = by_doses
        .iter()
        .map(|(doses, seeds)| format!("{doses}: {seeds}"))
        .collect();
    all.join(", ")
}

/// Some days at the entered rate.
fn healthy_row(site: Site, days: u32) -> String {
    let found = healthy(&site(1.0, 1, days));
    assert_eq!(found.locked_ticks, 0, "locked out for healthy water");
    let calls = (found.false_calls, found.false_drums);
    let (low, high) = found.ratios;
    format!(
        "{days} days, {} doses, found {:.2} to {:.2}, false calls {}, by drum {}",
        found.doses,
        f64::from(low) / 1000.0,
        f64::from(high) / 1000.0,
        calls.0,
        calls.1
    )
}

/// The rows, healthy feed first since they take longest, worked out by two threads.
fn rows() -> Vec<String> {
    let years = SITES.map(|(name, site)| (name, site, None));
    let wrong = SITES
        .iter()
        .flat_map(|(name, site)| WRONG.map(|ratio| (*name, *site, Some(ratio))));
    let all: Vec<(&str, Site, Option<f64>)> = years.into_iter().chain(wrong).collect();
    let next = AtomicUsize::new(0);
    let done = Mutex::new(vec![String::new(); all.len()]);
    let work = || {
        loop {
            let at = next.fetch_add(1, Ordering::SeqCst);
            let Some((name, site, ratio)) = all.get(at).copied() else {
                return;
            };
            let row = match ratio {
                None => format!("{name:<18} {}", healthy_row(site, 365)),
                Some(ratio) => format!("{name:<18} {ratio:<5} {}", named(site, ratio)),
            };
            eprintln!("{row}");
            if let Some(place) = done.lock().expect("no row panicked").get_mut(at) {
                *place = row;
            }
        }
    };
    std::thread::scope(|scope| {
        scope.spawn(work);
        work();
    });
    done.into_inner().expect("no row panicked")
}

fn table() -> String {
    let rows = rows();
    let (years, wrong) = rows.split_at(SITES.len());
    format!(
        "Doses until a wrong rate is named (doses: seeds, of 20), by real over entered rate\n{}\n\n\
         Healthy feed\n{}\n",
        wrong.join("\n"),
        years.join("\n")
    )
}

#[test]
#[ignore = "minutes: twenty seeds of each rate, and years"]
fn evidence() {
    let path = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/tests/lived/response/evidence.txt"
    );
    let table = table();
    if std::env::var_os("RESPONSE_WRITE").is_some() {
        std::fs::write(path, &table).expect("the table can be written");
    }
    let committed = std::fs::read_to_string(path).expect("the table is committed");
    assert_eq!(committed, table);
    assert!(!table.contains("4294967295"), "a rate was not named");
}
