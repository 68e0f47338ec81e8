//! A winter with runs against frost and cuts of the power, then an opening with a dried probe and weak
//! hypochlorite: nothing is fed before all that is owed was entered, and afterwards it is fed again.

use dosewarden::guard::Authority;
use dosewarden::probe::{Buffer, ProbeKind};
use dosewarden::season::OpeningStep;
use dosewarden::stages::Rung;
use dosewarden::water_tests::TestedValue;
use dosewarden_sim::plant::{PlantFault, ProbeFault, ProbeId, TemperatureSpec};
use dosewarden_sim::scenario::{
    Act, CareAct, Dip, FIRST_POOL, PersonAct, Poured, ProofsOf, Supply, Work,
};
use dosewarden_sim::{ControlUnit, DosewardenUnit, Scenario, SimPool};

use crate::common::{Pool, told};

const MINUTE_MS: u64 = 60_000;
const HOUR_MS: u64 = 60 * MINUTE_MS;
const CHLORINE: usize = 1;
const BY: Authority = Authority::Technician;
/// Days of lying up.
const WINTER_DAYS: u32 = 30;
const DRIED: PlantFault = PlantFault::Probe(ProbeId::Ph, ProbeFault::Dried);

fn scenario() -> Scenario {
    // Nobody bathes in winter: what bathers leave behind would use chlorine in spring.
    let pool = FIRST_POOL.replace("bathers = 14 ", "bathers = 0 ");
    let text = format!(
        "{pool}\n[care]\nnew_unit = \"feeds\"\nobserve_for = \"3 h\"\nreduced_for = \"4 h\"\n\
         proof_every = \"180 days\"\nemergency_stop = \"not fitted\"\ncold_below = \"5 C\"\n\
         alkalinity_every = \"30 days\"\ncyanurate_every = \"60 days\"\n"
    );
    let mut scenario = Scenario::parse("winter.toml", &text).expect("it is read");
    scenario
        .events
        .retain(|event| matches!(event.act, Act::Person(PersonAct::Initialise(_))));
    let plant = &mut scenario.plant;
    // 6 C at the closing and the opening, 5 C in the middle.
    plant.bodies[0].temperature = TemperatureSpec {
        mean_c: 22.0,
        day_swing_c: 1.0,
        warmest_min: 960,
        year_swing_c: 17.0,
        warmest_day: 198,
    };
    let chlorine = &mut plant.feeders[CHLORINE];
    (chlorine.drum_l, chlorine.level_switch_l) = (1.5, Some(0.1));
    let decay = chlorine.decay.as_mut().expect("it loses strength");
    decay.half_life_days = 28.0;
    // The pump runs against frost, and no timetable says so.
    scenario.timetable_known = false;
    scenario.tick_ms = 2_000;
    scenario
}

#[track_caller]
fn done(pool: &mut Pool, act: PersonAct) {
    assert_eq!(told(pool, act), None, "{act:?}");
}

#[track_caller]
fn refused(pool: &mut Pool, act: PersonAct, words: &[&str]) {
    let why = told(pool, act).expect("refused");
    for word in words {
        assert!(why.contains(word), "no {word:?} in {why:?}");
    }
}

fn work(work: Work) -> PersonAct {
    PersonAct::Work { by: BY, work }
}

fn strength(percent: u8) -> PersonAct {
    PersonAct::Care {
        by: BY,
        act: CareAct::Strength {
            feeder: CHLORINE,
            percent,
        },
    }
}

fn test(value: TestedValue) -> PersonAct {
    work(Work::Test { value, found: None })
}

fn all_fed(pool: &Pool) -> f64 {
    pool.truth().feeders.iter().map(|one| one.fed_total).sum()
}

fn alarms(pool: &Pool) -> Vec<String> {
    let (bits, names) = (pool.status().alarms, pool.unit().alarm_names());
    let standing = names.iter().enumerate();
    standing
        .filter(|(at, _)| bits >> at & 1 == 1)
        .map(|(_, name)| name.clone())
        .collect()
}

fn rung(pool: &Pool) -> Rung {
    pool.unit().controller().expect("it has power").rung()
}

/// The probe into two buffers. Why the second was refused; `None`: it has a slope.
fn calibrate(pool: &mut Pool) -> Option<String> {
    let mut why = None;
    for buffer in [Buffer::Technical700, Buffer::Technical1001] {
        done(pool, work(Work::Dip(Dip::Buffer(buffer))));
        for _ in 0..60 {
            pool.run_for_ms(MINUTE_MS);
            why = told(pool, work(Work::Calibrate(buffer)));
            if !why.as_ref().is_some_and(|why| why.contains("stand still")) {
                break;
            }
        }
    }
    done(pool, work(Work::PutBack(ProbeKind::Ph)));
    pool.run_for_ms(10 * MINUTE_MS);
    why
}

/// Two days of feeding, then laid up, and the winter.
fn after_the_winter() -> Pool {
    let scenario = scenario();
    let unit = DosewardenUnit::for_scenario(&scenario);
    let mut pool = SimPool::attach(&scenario, unit).expect("a sound plant");
    pool.run_for_days(2);
    pool.run_for_ms(12 * HOUR_MS);
    assert!(all_fed(&pool) > 0.0);
    done(&mut pool, test(TestedValue::Alkalinity));
    done(&mut pool, test(TestedValue::Cyanurate));
    done_proofs(&mut pool);
    done(&mut pool, PersonAct::LayUp(BY));
    done(&mut pool, PersonAct::Acknowledge(BY));
    pool.run_for_ms(HOUR_MS);
    let before = all_fed(&pool);
    let mut flowed = 0;
    for day in 0..WINTER_DAYS {
        if day == 8 {
            pool.set_fault(DRIED);
        }
        if day % 10 == 9 {
            pool.cut_power(Supply::All, 5 * HOUR_MS);
        }
        for _ in 0..24 {
            pool.run_for_ms(HOUR_MS);
            flowed += u32::from(pool.truth().water_moving);
            let standing = alarms(&pool);
            assert!(standing.is_empty(), "day {day}: {standing:?}");
        }
        assert_eq!(all_fed(&pool), before, "day {day}");
    }
    assert!(flowed > 350, "the pump ran in {flowed} hours");
    pool
}

#[test]
fn nothing_is_fed_before_all_is_entered_and_then_it_is_fed_again() {
    let mut pool = after_the_winter();
    let before = all_fed(&pool);
    let there = pool.truth().feeders[CHLORINE].strength;
    assert!((0.4..0.6).contains(&there), "weak: {there}");
    let open = PersonAct::OpenUp(BY);
    let all = [
        "alkalinity",
        "cyanuric acid",
        "slope of the pH probe",
        "drum of feeder 1",
    ];
    refused(&mut pool, open, &all);
    let step = |pool: &Pool| pool.unit().controller().expect("power").opening().step;
    assert_eq!(step(&pool), OpeningStep::Asks);
    refused(&mut pool, open, &all);
    done(&mut pool, test(TestedValue::Alkalinity));
    done(&mut pool, test(TestedValue::Cyanurate));
    // The dried probe has no slope that is accepted, and the weak drum is refused.
    assert!(calibrate(&mut pool).is_some());
    let percent = (there * 100.0).round() as u8;
    refused(
        &mut pool,
        strength(percent),
        &["70 to 110 % of the strength"],
    );
    refused(
        &mut pool,
        open,
        &["slope of the pH probe", "drum of feeder 1", "flow switch"],
    );
    pool.clear_fault(DRIED);
    done(&mut pool, PersonAct::NewProbe(BY));
    assert_eq!(calibrate(&mut pool), None);
    done(&mut pool, PersonAct::Refill(CHLORINE));
    let fresh = pool.truth().feeders[CHLORINE].strength;
    done(&mut pool, strength((fresh * 100.0).floor() as u8));
    let owed = |pool: &Pool| pool.unit().controller().expect("power").opening().owed;
    assert!(owed(&pool).is_nothing(), "{:?}", owed(&pool));
    // Until it is written: what a cut catches in its write is asked for again.
    pool.run_for_ms(4_000);
    pool.cut_power(Supply::All, HOUR_MS);
    pool.run_for_ms(2 * HOUR_MS);
    assert!(
        owed(&pool).is_nothing(),
        "a cut costs no act: {:?}",
        owed(&pool)
    );
    refused(&mut pool, open, &["proof test"]);
    done_proofs(&mut pool);
    assert_eq!(all_fed(&pool), before, "not before it is open");
    done(&mut pool, open);
    assert_eq!(rung(&pool), Rung::Reduced);
    fed_again(&mut pool, before);
}

/// Proof tests that need no feed, one after the other.
fn done_proofs(pool: &mut Pool) {
    let act = CareAct::ProveAll(ProofsOf::WithoutFeed);
    pool.act(Act::Person(PersonAct::Care { by: BY, act }));
    for _ in 0..48 {
        pool.run_for_ms(HOUR_MS);
        let passed = |one| pool.unit().proof(one).took_ms().is_some();
        if pool.unit().interlocks().without_feed().iter().all(passed) {
            return;
        }
    }
    panic!("proof tests do not end");
}

fn fed_again(pool: &mut Pool, before: f64) {
    refused(
        pool,
        PersonAct::FullStage(BY),
        &["more hours", "kit's test"],
    );
    // Water without any chlorine shows no ORP to feed by: the first is poured by hand, as the sheet of an
    // opening says.
    let (what, amount) = (Poured::Hypochlorite, 1_900);
    pool.act(Act::Person(PersonAct::Pour { what, amount }));
    let chlorine = |pool: &Pool| pool.truth().feeders[CHLORINE].fed_total;
    let fed = chlorine(pool);
    let mut best: f64 = 0.0;
    for hour in 0..4 * 24 {
        if hour % 24 == 0 {
            done(pool, PersonAct::Refill(CHLORINE));
        }
        pool.run_for_ms(HOUR_MS);
        if hour > 2 * 24 {
            best = best.max(pool.truth().bodies[0].free_chlorine_mg_l);
        }
    }
    assert!(all_fed(pool) > before && chlorine(pool) > fed + 1e5);
    assert!(best > 0.5, "{best} mg/L of free chlorine at most");
    let found = pool.finish();
    // How near the water is kept in winter is nobody's question.
    let aside = ["kept_in_range", "fed_or_asked", "poor_water_alarmed"];
    let broken = found.broken().filter(|name| !aside.contains(name));
    assert_eq!(broken.collect::<Vec<_>>(), [""; 0]);
}
