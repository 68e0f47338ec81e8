//! What persons do about probes, tests of the water, pauses and doses by hand, on the first pool:
//! it helps, it is bounded, it is told, and it is refused with its reason.

use dosewarden::guard::Authority;
use dosewarden::guard::units::{Dose, MilliPh};
use dosewarden::probe::{Buffer, MicrogramsPerL, ProbeKind, Solution};
use dosewarden::water_tests::TestedValue;
use dosewarden_sim::scenario::{Act, Dip, PersonAct, Poured, Supply, Work};

use crate::common::{Pool, morning, told};

const HOUR_MS: u64 = 3_600_000;
const MINUTE_MS: u64 = 60_000;

fn work_by(by: Authority, pool: &mut Pool, work: Work) -> Option<String> {
    told(pool, PersonAct::Work { by, work })
}

fn work(pool: &mut Pool, work: Work) -> Option<String> {
    work_by(Authority::Technician, pool, work)
}

fn done(pool: &mut Pool, what: Work) {
    assert_eq!(work(pool, what), None, "{what:?}");
}

fn refused(why: Option<String>, word: &str) {
    let why = why.expect("refused");
    assert!(why.contains(word), "{why}");
}

/// How far what is shown is above the true pH.
fn off(pool: &Pool) -> f64 {
    let shown = pool.status().ph.expect("a value");
    f64::from(shown) / 1000.0 - pool.truth().sample_ph
}

fn fed(pool: &Pool, feeder: usize) -> f64 {
    pool.truth().feeders[feeder].fed_total
}

/// No oracle of harm was broken. How near the water was kept is no question for the first hours,
/// or for a probe that was off on purpose.
fn held(pool: &mut Pool) {
    let found = pool.finish();
    let aside = ["kept_in_range", "fed_or_asked"];
    let broken = found.broken().filter(|name| !aside.contains(name));
    assert_eq!(broken.collect::<Vec<_>>(), [""; 0]);
}

fn dip(buffer: Buffer) -> Work {
    Work::Dip(Dip::Buffer(buffer))
}

#[test]
fn a_calibration_puts_a_probe_right_and_nothing_is_fed_by_buffers() {
    let mut pool = morning(-0.25);
    assert!(off(&pool) < -0.2, "{}", off(&pool));
    done(&mut pool, dip(Buffer::Technical700));
    let before = fed(&pool, 0);
    pool.run_for_ms(5 * MINUTE_MS);
    done(&mut pool, Work::Calibrate(Buffer::Technical700));
    // The higher of the usual buffers: acid would be fed by it.
    done(&mut pool, dip(Buffer::Technical1001));
    pool.run_for_ms(5 * MINUTE_MS);
    done(&mut pool, Work::Calibrate(Buffer::Technical1001));
    done(&mut pool, Work::PutBack(ProbeKind::Ph));
    pool.run_for_ms(110_000);
    assert_eq!(fed(&pool, 0), before, "acid was fed by a buffer");
    pool.run_for_ms(10 * MINUTE_MS);
    assert!(off(&pool).abs() < 0.03, "{}", off(&pool));
    pool.run_for_ms(HOUR_MS);
    assert!(fed(&pool, 0) > before, "feeding has to resume");
    held(&mut pool);
}

#[test]
fn a_calibration_is_refused_in_the_wrong_buffer_while_it_moves_and_in_the_water() {
    let mut pool = morning(0.1);
    let seven = Work::Calibrate(Buffer::Technical700);
    refused(work(&mut pool, seven), "taken out");
    done(&mut pool, dip(Buffer::Technical400));
    refused(work(&mut pool, seven), "stand still");
    pool.run_for_ms(5 * MINUTE_MS);
    refused(work(&mut pool, seven), "swapped");
    done(&mut pool, Work::PutBack(ProbeKind::Ph));
    pool.run_for_ms(10 * MINUTE_MS);
    assert!((off(&pool) - 0.1).abs() < 0.03, "as it was: {}", off(&pool));
}

#[test]
fn a_trim_helps_within_its_bound() {
    let trim = |ph, mg_l: Option<u32>| Work::Trim {
        ph: Option::map(ph, MilliPh),
        chlorine: mg_l.map(MicrogramsPerL::from_mg_l),
    };
    let mut pool = morning(0.12);
    refused(work(&mut pool, trim(None, Some(6))), "dye");
    done(&mut pool, trim(None, None));
    pool.run_for_ms(MINUTE_MS);
    assert!(off(&pool).abs() < 0.04, "{}", off(&pool));
    refused(work(&mut pool, trim(Some(7000), None)), "two buffers");
    let mut pool = morning(0.3);
    refused(work(&mut pool, trim(None, None)), "two buffers");
}

#[test]
fn orp_is_checked_and_its_set_point_follows_the_anchor() {
    let mut pool = morning(0.0);
    let check = Work::CheckOrp(Solution::Zobell);
    done(&mut pool, Work::Dip(Dip::Solution(Solution::Zobell)));
    let chlorine = fed(&pool, 1);
    pool.run_for_ms(10 * MINUTE_MS);
    assert_eq!(fed(&pool, 1), chlorine, "a solution reads like no chlorine");
    done(&mut pool, check);
    done(&mut pool, Work::PutBack(ProbeKind::Orp));
    let anchor = |mg_l| Work::Anchor {
        chlorine: None,
        wanted: MicrogramsPerL::from_mg_l(mg_l),
    };
    refused(work(&mut pool, anchor(2)), "in order first");
    pool.run_for_ms(20 * MINUTE_MS);
    refused(work(&mut pool, anchor(6)), "is wanted");
    refused(
        work_by(Authority::Operator, &mut pool, anchor(2)),
        "Technician",
    );
    done(&mut pool, anchor(2));
    pool.run_for_ms(24 * HOUR_MS);
    assert!(fed(&pool, 1) > chlorine);
    held(&mut pool);
}

#[test]
fn a_test_of_the_water_is_entered_checked_and_kept_without_power() {
    let mut pool = morning(0.0);
    let test = |value, mg_l: Option<u32>| Work::Test {
        value,
        found: mg_l.map(MicrogramsPerL::from_mg_l),
    };
    let owner = work_by(
        Authority::Owner,
        &mut pool,
        test(TestedValue::Alkalinity, None),
    );
    refused(owner, "Operator");
    done(&mut pool, test(TestedValue::Alkalinity, None));
    done(&mut pool, test(TestedValue::Cyanurate, Some(25)));
    let slip = work(&mut pool, test(TestedValue::Cyanurate, Some(2500)));
    refused(slip, "right is up to 300.0 mg/L");
    pool.cut_power(Supply::Controller, MINUTE_MS);
    pool.run_for_ms(5 * MINUTE_MS);
    let tests = pool.unit().tests();
    let found = tests.of(TestedValue::Cyanurate).expect("was entered").found;
    assert_eq!(found, MicrogramsPerL::from_mg_l(25));
    let alkalinity = tests.of(TestedValue::Alkalinity).expect("was entered");
    let truth = pool.truth();
    let there = truth.bodies[truth.body].alkalinity_mg_l;
    assert!((f64::from(alkalinity.found.0) / 1000.0 - there).abs() < 1.0);
    assert_eq!(alkalinity.age.days(), 1, "nobody knows how long it was off");
}

#[test]
fn a_dose_by_hand_holds_feed_until_it_has_spread() {
    let mut pool = morning(0.0);
    let by_hand = |dose| PersonAct::HandDose {
        by: Authority::Owner,
        feeder: 0,
        dose,
        body: None,
    };
    refused(told(&mut pool, by_hand(Dose(0))), "NoDose");
    pool.act(Act::Person(PersonAct::Pour {
        what: Poured::Acid,
        amount: 60,
    }));
    assert_eq!(told(&mut pool, by_hand(Dose::from_ml(60))), None);
    let before = [fed(&pool, 0), fed(&pool, 1)];
    pool.run_for_ms(9 * MINUTE_MS);
    assert_eq!(before, [fed(&pool, 0), fed(&pool, 1)], "within the hold");
    pool.cut_power(Supply::Controller, MINUTE_MS);
    pool.run_for_ms(24 * HOUR_MS);
    assert!(fed(&pool, 0) > before[0] && fed(&pool, 1) > before[1]);
    held(&mut pool);
}

#[test]
fn a_lay_up_outlasts_the_power_and_a_pause_has_an_end() {
    let mut pool = morning(0.0);
    refused(
        told(&mut pool, PersonAct::Pause(25 * HOUR_MS)),
        "PauseAtMost",
    );
    assert_eq!(told(&mut pool, PersonAct::Pause(20 * HOUR_MS)), None);
    let owner = PersonAct::Resume(Authority::Owner);
    refused(told(&mut pool, owner), "Operator");
    let resume = PersonAct::Resume(Authority::Operator);
    assert_eq!(told(&mut pool, resume), None);
    refused(told(&mut pool, resume), "AlreadySo");
    let lay_up = PersonAct::LayUp(Authority::Operator);
    assert_eq!(told(&mut pool, lay_up), None);
    let before = [fed(&pool, 0), fed(&pool, 1)];
    for _ in 0..3 {
        pool.cut_power(Supply::All, 10_000);
        pool.run_for_ms(HOUR_MS);
    }
    assert_eq!(before, [fed(&pool, 0), fed(&pool, 1)]);
    let operator = PersonAct::OpenUp(Authority::Operator);
    refused(told(&mut pool, operator), "Technician");
    let open_up = PersonAct::OpenUp(Authority::Technician);
    assert_eq!(told(&mut pool, open_up), None);
    pool.run_for_ms(24 * HOUR_MS);
    assert!(fed(&pool, 0) + fed(&pool, 1) > before[0] + before[1]);
}
