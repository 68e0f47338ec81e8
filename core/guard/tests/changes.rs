//! What a guard takes over when limits, products or the record's version have changed.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::arithmetic_side_effects,
    reason = "a test that panics has failed, as it should"
)]

mod bench;

use bench::site::{ACID, CHLORINE, LIMITS, SPEC};
use bench::{Bench, G, R, ask};
use dosewarden_guard::units::{Dose, Millis};
use dosewarden_guard::{
    Facts, FeederLimits, Limits, LimitsSpec, Lockout, Product, RecordError, Restored, Rule,
    SetLimits, Ticket,
};

/// A record of version 1, made by the code of that version on this site: an acid cycle of 44.11 mL
/// and 58.52 mL of hypochlorite booked, an acid cycle of 45 mL open.
const VERSION_1: &[u8] = include_bytes!("records/version-1.bin");

fn limits(feeders: [FeederLimits<1>; 2]) -> Limits<2, 1> {
    Limits::try_new(LimitsSpec { feeders, ..SPEC }).expect("sound limits")
}

fn enabled() -> [FeederLimits<1>; 2] {
    SPEC.feeders
}

fn acid_off() -> Limits<2, 1> {
    limits([FeederLimits::Disabled, FeederLimits::Enabled(CHLORINE)])
}

fn day(guard: &G, account: usize) -> Dose {
    guard.state().ledger.totals(account, 0).1
}

/// CRC of limits as the guard writes it into its records.
fn crc(limits: &Limits<2, 1>) -> u32 {
    let (mut guard, _) = G::restore(limits.clone(), None, None);
    let mut bytes = vec![0; R::LEN];
    guard.seal_record(&mut bytes).expect("long enough");
    R::decode(&bytes).expect("whole").limits_crc
}

/// A guard that has fed 45 mL of acid and 60 mL of chlorine at most, and rests.
fn fed() -> Bench {
    let mut bench = Bench::ready();
    bench.until(ask(45, 0), 200, |now| now.feeders[0].closed.is_some());
    bench.until(ask(0, 60), 400, |now| now.feeders[1].closed.is_some());
    bench.idle(120);
    bench
}

#[test]
fn a_record_of_the_version_before_is_taken_up() {
    let mut record = R::decode(VERSION_1).expect("version 1 is understood");
    assert_eq!(record.products, None);
    record.limits_crc = crc(&LIMITS);
    let (guard, found) = G::restore(LIMITS, Some(&record), Some(&record));
    let equal = |limits_changed| Restored::Equal {
        open_cycles: 1,
        limits_changed,
    };
    assert_eq!(found, equal(false));
    assert_eq!(day(&guard, 0), Dose(44_110 + 45_000));
    assert_eq!(day(&guard, 1), Dose(58_520));
    // Which products it counted is known only as long as the limits are those it was made under.
    record.limits_crc ^= 1;
    let (guard, found) = G::restore(LIMITS, Some(&record), Some(&record));
    assert_eq!(found, equal(true));
    assert!(day(&guard, 0) >= ACID.bodies[0].day_cap);
    assert!(day(&guard, 1) >= CHLORINE.bodies[0].day_cap);
}

#[test]
fn a_damaged_record_of_the_version_before_is_not_whole() {
    for at in 0..VERSION_1.len() {
        for bit in 0..8 {
            let mut bytes = VERSION_1.to_vec();
            bytes[at] ^= 1 << bit;
            assert!(R::decode(&bytes).is_err(), "byte {at}, bit {bit}");
        }
        assert_eq!(R::decode(&VERSION_1[..at]), Err(RecordError::NotWhole));
    }
}

#[test]
fn other_limits_for_the_same_products_keep_what_was_fed() {
    let bench = fed();
    let (acid, chlorine) = (day(&bench.guard, 0), day(&bench.guard, 1));
    let mut tighter = ACID;
    tighter.bodies[0].day_cap = Dose::from_ml(500);
    let other = limits([FeederLimits::Enabled(tighter), enabled()[1]]);
    let bench = Bench::start(other, bench.copies);
    let changed = Restored::Equal {
        open_cycles: 0,
        limits_changed: true,
    };
    assert_eq!(bench.found, changed);
    let now = (day(&bench.guard, 0), day(&bench.guard, 1));
    assert_eq!(now, (acid, chlorine));
}

#[test]
fn a_product_that_the_record_does_not_know_counts_its_day_as_used() {
    let bench = fed();
    let chlorine = day(&bench.guard, 1);
    let mut base = ACID;
    base.product = Product::Base;
    base.bodies[0].cutoff =
        dosewarden_guard::Cutoff::BelowPh(dosewarden_guard::units::MilliPh(7800));
    let other = limits([FeederLimits::Enabled(base), enabled()[1]]);
    let bench = Bench::start(other, bench.copies);
    assert!(day(&bench.guard, 0) >= base.bodies[0].day_cap);
    assert_eq!(day(&bench.guard, 1), chlorine);
    let state = bench.guard.state();
    assert_eq!(state.since_cycle[0], [Millis(0)]);
    assert_eq!(state.since_drive[0], Millis(0));
    assert_eq!(state.line.purged, Millis(0));
}

#[test]
fn products_that_change_places_are_no_longer_told_apart() {
    let mut bench = fed();
    let [acid, chlorine] = enabled();
    assert_eq!(
        bench.guard.set_limits(limits([chlorine, acid])),
        SetLimits::Applied
    );
    assert!(day(&bench.guard, 0) >= CHLORINE.bodies[0].day_cap);
    assert!(day(&bench.guard, 1) >= ACID.bodies[0].day_cap);
}

#[test]
fn a_product_out_of_use_leaves_the_others_day_and_owes_a_purge() {
    let mut bench = fed();
    let chlorine = day(&bench.guard, 1);
    assert_eq!(bench.guard.set_limits(acid_off()), SetLimits::Applied);
    assert_eq!(day(&bench.guard, 1), chlorine);
    let decision = bench.tick(ask(0, 60));
    assert!(decision.feeders[1].vetoes.has(Rule::LineClear));
    bench.idle(60);
    // In use again: nobody can say what was fed of it meanwhile.
    assert_eq!(bench.guard.set_limits(LIMITS), SetLimits::Applied);
    assert!(day(&bench.guard, 0) >= ACID.bodies[0].day_cap);
    assert_eq!(day(&bench.guard, 1), chlorine);
}

#[test]
fn a_run_past_its_new_limit_is_ended_and_locks_nothing() {
    let mut bench = Bench::ready();
    bench.until(ask(45, 0), 5, |now| now.feeders[0].run.0 > 0);
    for _ in 0..60 {
        bench.tick(ask(45, 0));
    }
    let mut short = ACID;
    short.run_max = Millis::from_secs(30);
    let shorter = limits([FeederLimits::Enabled(short), enabled()[1]]);
    assert_eq!(
        bench.guard.set_limits(shorter.clone()),
        SetLimits::ClosingFirst
    );
    for _ in 0..3 {
        assert_eq!(bench.tick(ask(45, 0)).feeders[0].run, Millis(0));
    }
    assert_eq!(bench.guard.set_limits(shorter), SetLimits::Applied);
    bench.idle(5);
    assert!(!bench.guard.state().feeder_lockouts[0].has(Lockout::RunTime));
}

#[test]
fn unknown_facts_hold_and_lock_nothing() {
    let mut bench = Bench::ready();
    let facts = bench.facts;
    bench.facts = Facts::UNKNOWN;
    let decision = bench.tick(ask(45, 0));
    assert!(decision.feeders[0].vetoes.has(Rule::InhibitsClear));
    assert!(bench.guard.state().site_lockouts.is_empty());
    bench.facts = facts;
    let decision = bench.tick(ask(45, 0));
    assert!(!decision.feeders[0].vetoes.has(Rule::InhibitsClear));
}

#[test]
fn another_stage_ends_the_cycle_that_was_charged_by_the_old_caps() {
    use dosewarden_guard::{Action, CycleStage, Stage};
    let mut bench = Bench::ready();
    bench.until(ask(45, 0), 5, |now| now.feeders[0].run.0 > 0);
    let decision = bench.act(Action::SetStage(Stage::Full));
    assert_eq!(decision.feeders[0].run, Millis(0));
    assert_ne!(decision.feeders[0].stage, CycleStage::Open);
}

#[test]
fn every_record_names_its_ticket_and_its_products() {
    let bench = fed();
    let bytes = bench.copies[0].clone().expect("saved");
    let record = R::decode(&bytes).expect("whole");
    assert_eq!(
        Ticket::of(&bytes).map(|one| one.sequence),
        Some(record.sequence)
    );
    let products = [Some(Product::Acid), Some(Product::Hypochlorite)];
    assert_eq!(record.products, Some(products));
}

#[test]
fn a_button_held_since_power_on_has_to_be_let_go_first() {
    use dosewarden_guard::{FeedRequest, Mode, Reading};
    let mut bench = Bench::ready().power_cycled();
    let manual = FeedRequest {
        dose: Dose::from_ml(60),
        mode: Mode::Manual,
    };
    let hand = [FeedRequest::NONE, manual];
    bench.facts.feeders[1].hold_to_run = Reading::now(true);
    for _ in 0..700 {
        let decision = bench.tick(hand);
        assert_eq!(decision.feeders[1].run, Millis(0));
        assert!(decision.feeders[1].vetoes.has(Rule::ManualBounded));
    }
    bench.facts.feeders[1].hold_to_run = Reading::now(false);
    bench.tick(hand);
    bench.facts.feeders[1].hold_to_run = Reading::now(true);
    bench.until(hand, 5, |now| now.feeders[1].run.0 > 0);
}

#[test]
fn the_same_test_does_not_begin_fallback_anew() {
    use dosewarden_guard::{Action, ActionResult, Health, units::HOUR_MS};
    let mut bench = Bench::ready();
    bench.facts.orp.health = Health::Failure;
    let enter = |minutes| Action::EnterFallback {
        test_age: Millis::from_mins(minutes),
    };
    assert_eq!(bench.act(enter(10)).action, Some(ActionResult::Done));
    let left = bench.guard.state().fallback_left;
    assert_eq!(left, Millis(72 * HOUR_MS - 10 * 60_000));
    bench.idle(599);
    assert_eq!(bench.act(enter(20)).action, Some(ActionResult::Done));
    assert_eq!(
        bench.guard.state().fallback_left,
        Millis(left.0 - 600 * 1000)
    );
}
