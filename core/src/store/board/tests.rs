//! Changing the board: the old one feeds no more, the new one nothing that the old could not have.

use super::*;
use crate::bench::{Bench, SETTINGS_SPEC, SPEC, regulators};
use crate::care::CareSettings;
use crate::event::EventKind;
use crate::guard::units::{ClockSeconds, DAY_MS, Dose, Fitted, HOUR_MS, Millis};
use crate::guard::{Authority, LedgerTrust, Limits, Lockout, LockoutSet, Reading, Rule, Stage};
use crate::handover::Handover;
use crate::proof::{Interlock, ProofEnd, Proofs};
use crate::settings::Settings;
use crate::stages::Evidence;
use crate::store::{Damage, Found, Loaded, RegulatorSpec};
use crate::upkeep::Kept;
use crate::water_tests::TestedValue;
use crate::{Act, ActResult, Obstacle};

mod limits;

type Image = BoardImage<2, 1, 7, 25>;
type Brought = Arrival<2, 1, 7, 25>;
type Own<'a> = Holding<'a, 2, 1, 7, 25>;

const ACID: usize = 0;
const NOON: ClockSeconds = ClockSeconds(1_700_000_000);

fn settings() -> SettingsImage<2, 1> {
    SettingsImage {
        limits: Limits::try_new(SPEC).unwrap(),
        settings: Settings::try_new(SETTINGS_SPEC).unwrap(),
        regulators: [RegulatorSpec::Never; 2],
        care: CareSettings::NONE,
        proof: Fitted::NotFitted,
        tests: TestedValue::USUAL,
    }
}

fn ceilings() -> Ceilings<2> {
    Ceilings::of(&settings().limits)
}

/// A board that feeds acid, its clock at noon.
fn feeding() -> Bench {
    let mut bench = Bench::usual();
    bench.inputs.facts.clock = Reading::now(NOON);
    bench.water(7800, 720);
    bench.until(600, |shown| shown.feeds(ACID));
    bench.run(20);
    bench
}

fn export(bench: &mut Bench) -> Result<Image, BoardError> {
    let upkeep = Upkeep::restore(Kept::NOTHING);
    let proofs = ProofTests::restore(Proofs::NEVER);
    let all = (&settings(), &upkeep, &proofs);
    let (mut record, mut out) = ([0; 1024], [0; 2048]);
    let told = Image::export(&mut bench.controller, all, &mut record, &mut out);
    let (length, ticket) = told?;
    assert_eq!(
        Ticket::of(&record[..Record::<2, 1, 7, 25>::LEN]),
        Some(ticket)
    );
    let image = Image::decode(&out[..length]).unwrap();
    let mut again = [0; 2048];
    assert_eq!(image.encode(&mut again), Ok(length));
    assert_eq!(again[..length], out[..length]);
    Ok(image)
}

/// Given away in mid-dose.
fn given() -> (Bench, Image) {
    let mut bench = feeding();
    bench.act(Act::GiveAway);
    let image = export(&mut bench).unwrap();
    (bench, image)
}

fn later(hours: u32) -> Option<ClockSeconds> {
    Some(ClockSeconds(NOON.0 + hours * 3600))
}

fn take(image: Image, now: Option<ClockSeconds>, own: Own<'_>) -> Brought {
    let taken = image.take_up(Authority::Technician, &ceilings(), now, own);
    taken.unwrap()
}

fn blank(image: Image) -> Brought {
    take(image, later(1), Own::BLANK)
}

fn day(record: &Record<2, 1, 7, 25>) -> Dose {
    record.state.ledger.totals(ACID, 0).1
}

/// The new board, started from what was written there.
fn started(brought: &Brought) -> Bench {
    let mut bytes = std::vec![0; Record::<2, 1, 7, 25>::LEN];
    brought.record.encode(&mut bytes).unwrap();
    let mut bench = Bench::start(SPEC, regulators(), [Some(bytes.clone()), Some(bytes)]);
    brought.kept.put_back(&mut bench.controller);
    brought.note(&mut bench.controller);
    bench.water(7800, 720);
    bench
}

/// What a bench feeds of acid in so many seconds, mL at the entered rate.
fn fed_ml(bench: &mut Bench, secs: u32) -> u32 {
    let on = (0..secs).filter(|_| bench.tick().feeds(ACID)).count();
    u32::try_from(on).unwrap() / 2
}

#[test]
fn a_board_that_was_given_away_stops_in_the_same_tick_and_says_why() {
    let mut bench = feeding();
    let operator = bench.act_as(Authority::Operator, Act::GiveAway);
    let needed = ActResult::NeedsAuthority(Authority::Technician);
    assert!(operator.act == Some(needed) && operator.feeds(ACID));
    let shown = bench.act(Act::GiveAway);
    assert!(shown.act == Some(ActResult::Done) && !shown.feeds(ACID));
    assert_eq!(bench.act(Act::GiveAway).act, Some(ActResult::AlreadySo));
    let mut why = bench.controller.why(ACID).unwrap();
    assert!(why.any(|one| one == Obstacle::GivenAway));
    // Not only is nothing asked: the guard is told, too.
    let vetoes = shown.decision.feeders[ACID].vetoes;
    assert!(vetoes.has(Rule::InhibitsClear), "{vetoes:?}");
    assert_eq!(fed_ml(&mut bench, 4 * HOUR_MS / 1000), 0);
    // What is kept holds after a restart; the guard itself has nothing against feeding.
    let upkeep = Upkeep::restore(Kept::NOTHING);
    let proofs = ProofTests::restore(Proofs::NEVER);
    let kept = KeptRecord::of(&bench.controller, &upkeep, &proofs);
    for (handed, feeds) in [(Handover::FIRST, true), (kept.handover, false)] {
        let mut bench = Bench::start(SPEC, regulators(), bench.copies.clone());
        KeptRecord {
            handover: handed,
            ..kept.clone()
        }
        .put_back(&mut bench.controller);
        bench.water(7800, 720);
        assert_eq!(fed_ml(&mut bench, 1800) > 0, feeds);
    }
}

#[test]
fn taken_back_its_day_counts_as_used_and_then_it_feeds() {
    let (mut bench, _) = given();
    assert_eq!(bench.act_as(Authority::Operator, Act::TakeBack).act, {
        Some(ActResult::NeedsAuthority(Authority::Technician))
    });
    assert_eq!(bench.act(Act::TakeBack).act, Some(ActResult::Done));
    assert_eq!(bench.act(Act::TakeBack).act, Some(ActResult::AlreadySo));
    assert_eq!(fed_ml(&mut bench, DAY_MS / 1000 - 10), 0);
    let mut why = bench.controller.why(ACID).unwrap();
    assert!(why.any(|one| matches!(one, Obstacle::HandDay(_))));
    assert!(fed_ml(&mut bench, 1800) > 0, "the day is over");
}

#[test]
fn only_a_board_that_was_given_away_makes_an_image() {
    let mut bench = feeding();
    assert_eq!(export(&mut bench), Err(BoardError::NotGivenAway));
    bench.act(Act::GiveAway);
    let mut image = export(&mut bench).unwrap();
    let (mut record, mut out) = ([0; 1024], [0; 2048]);
    let upkeep = Upkeep::restore(Kept::NOTHING);
    let proofs = ProofTests::restore(Proofs::NEVER);
    let all = (&settings(), &upkeep, &proofs);
    let length = image.encode(&mut out).unwrap();
    for short in [0, HEAD, 200, 700, length - 1] {
        let told = Image::export(&mut bench.controller, all, &mut record, &mut out[..short]);
        assert!(told.is_err(), "{short}");
    }
    image.kept.handover.is_given_away = false;
    assert_eq!(image.encode(&mut out), Err(BoardError::NotGivenAway));
    let taken = image.take_up(Authority::Maker, &ceilings(), later(1), Own::BLANK);
    assert_eq!(taken, Err(BoardError::NotGivenAway));
}

#[test]
fn the_day_s_total_and_the_open_charge_survive() {
    let (_, image) = given();
    let charge: u32 = image
        .record
        .state
        .feeders
        .iter()
        .map(|own| own.charged().0)
        .sum();
    assert!(charge > 0, "a dose was under way");
    let before = day(&image.record).0;
    let brought = blank(image);
    assert_eq!((brought.day_used, brought.hours_off), (None, Some(1)));
    let mut bench = started(&brought);
    let total = || bench.controller.guard().state().ledger.totals(ACID, 0).1;
    assert_eq!(total().0, before + charge, "the open charge counts in full");
    // Reduced: half of 900 mL a day is left at most.
    let left = 450 - (before + charge).div_ceil(1000);
    let fed = fed_ml(&mut bench, DAY_MS / 1000 - 3600);
    assert!(fed > left / 2 && fed <= left, "{fed} of {left} mL");
}

#[test]
fn the_day_counts_as_used_where_nobody_knows_what_was_fed_since() {
    let image = || given().1;
    let used = |brought: &Brought| (brought.day_used, day(&brought.record) >= Dose::from_ml(900));
    let of = |now| used(&take(image(), now, Own::BLANK));
    assert_eq!(of(later(24)), (None, false));
    assert_eq!(
        of(Some(ClockSeconds(NOON.0 + 86_401))),
        (Some(DayUsed::NotFresh), true)
    );
    assert_eq!(
        of(Some(ClockSeconds(NOON.0 - 1))),
        (Some(DayUsed::NotFresh), true)
    );
    assert_eq!(of(None), (Some(DayUsed::TimeOffUnknown), true));
    let mut no_stamp = image();
    no_stamp.record.stamp = None;
    let unknown = (Some(DayUsed::TimeOffUnknown), true);
    assert_eq!(used(&take(no_stamp, later(1), Own::BLANK)), unknown);
    // The same image once more on the board that took it up.
    let first = blank(image());
    let again = Own {
        record: Ok(Some(&first.record)),
        kept: Some(&first.kept),
    };
    assert_eq!(
        used(&take(image(), later(1), again)),
        (Some(DayUsed::NotNewer), true)
    );
    // Nothing fed before the day is over.
    let mut bench = started(&take(image(), None, Own::BLANK));
    assert_eq!(fed_ml(&mut bench, DAY_MS / 1000), 0);
    assert!(fed_ml(&mut bench, 2 * HOUR_MS / 1000) > 0);
}

#[test]
fn a_record_of_its_own_that_cannot_be_read_still_needs_a_person() {
    let own = Own {
        record: Err(Unreadable),
        kept: Some(&KeptRecord::LOST),
    };
    let brought = take(given().1, later(1), own);
    assert_eq!(brought.day_used, Some(DayUsed::OwnRecordLost));
    let state = &brought.record.state;
    assert!(state.site_lockouts.has(Lockout::RecordLost));
    assert_eq!(state.trust, LedgerTrust::Lost(Millis(0)));
    assert_eq!(brought.kept.restraints.evidence, Evidence::OBSERVING);
    let record = || brought.record.clone();
    let mut loaded = Loaded {
        records: [None, None],
        found: [Found::Empty; 2],
    };
    assert_eq!(loaded.later(), Ok(None));
    loaded.found[1] = Found::NotWhole(Damage::Torn);
    assert_eq!(loaded.later(), Err(Unreadable));
    let newer = Record {
        sequence: record().sequence + 1,
        ..record()
    };
    loaded.records = [Some(newer.clone()), Some(record())];
    assert_eq!(loaded.later(), Ok(Some(&newer)));
}

#[test]
fn lockouts_are_those_of_both_boards_and_nothing_is_loosened() {
    let (_, mut image) = given();
    let state = &mut image.record.state;
    state.stage = Stage::Full;
    state.fallback_left = Millis(HOUR_MS);
    state.off_bank = Millis(HOUR_MS);
    state.feeder_lockouts[0] = LockoutSet::NONE.with(Lockout::Response);
    image.kept.restraints.evidence.kit_agreed = true;
    let mut own = image.record.clone();
    own.sequence = image.record.sequence + 50;
    own.state.site_lockouts = LockoutSet::NONE.with(Lockout::RecordLost);
    own.state.feeder_lockouts = [LockoutSet::NONE, LockoutSet::NONE.with(Lockout::Drive)];
    own.state.ran_against = [false, true];
    let mut before = KeptRecord::<2>::NEW;
    before.restraints.is_laid_up = true;
    before.restraints.paused = Millis(5000);
    before.restraints.evidence = Evidence::OBSERVING;
    let holds = Own {
        record: Ok(Some(&own)),
        kept: Some(&before),
    };
    let brought = take(image, later(1), holds);
    let (state, kept) = (&brought.record.state, &brought.kept);
    assert_eq!(state.stage, Stage::Reduced);
    assert_eq!(
        (state.fallback_left, state.off_bank),
        (Millis(0), Millis(0))
    );
    assert_eq!(state.line.purged, Millis(0));
    assert!(state.site_lockouts.has(Lockout::RecordLost));
    assert!(state.feeder_lockouts[0].has(Lockout::Response));
    assert!(state.feeder_lockouts[1].has(Lockout::Drive) && state.ran_against[1]);
    assert!(brought.record.sequence > own.sequence && brought.record.stamp.is_none());
    let restraints = &kept.restraints;
    assert!(restraints.is_laid_up && restraints.paused == Millis(5000));
    assert_eq!(
        restraints.evidence,
        Evidence::OBSERVING,
        "no evidence of this board"
    );
    assert_eq!(
        kept.handover,
        Handover {
            number: 1,
            is_given_away: false
        }
    );
}

#[test]
fn proofs_are_due_anew_and_a_failed_one_stays_failed() {
    let (_, mut image) = given();
    let passed = ProofEnd::Passed {
        took_ms: 300,
        fed: true,
    };
    let proofs = &mut image.kept.proofs;
    proofs.end(Interlock::FlowSwitch, passed);
    proofs.end(Interlock::PumpContact, ProofEnd::FedOn);
    let brought = blank(image);
    let proofs = brought.kept.proofs;
    assert_eq!(proofs.of(Interlock::FlowSwitch).took_ms(), None);
    assert!(!proofs.of(Interlock::FlowSwitch).has_failed());
    assert!(proofs.of(Interlock::PumpContact).has_failed());
}

#[test]
fn a_cut_before_all_is_written_leaves_a_board_that_feeds_nothing_and_takes_it_up_again() {
    let (_, image) = given();
    let brought = blank(image.clone());
    let between = brought.between();
    let mut half = brought.clone();
    half.kept = between.clone();
    let mut bench = started(&half);
    assert_eq!(fed_ml(&mut bench, 3600), 0);
    let own = Own {
        record: Ok(Some(&brought.record)),
        kept: Some(&between),
    };
    let again = take(image, later(2), own);
    assert_eq!((again.day_used, again.kept.handover.number), (None, 1));
}

#[test]
fn who_brought_it_is_in_the_log() {
    let (_, image) = given();
    let owner = image
        .clone()
        .take_up(Authority::Operator, &ceilings(), None, Own::BLANK);
    let needed = BoardError::NeedsAuthority(Authority::Technician);
    assert_eq!(owner, Err(needed));
    let mut bench = started(&blank(image));
    bench.controller.note_board_refused(Authority::Operator);
    let events = bench.controller.events().iter().map(|event| event.kind);
    let imports: std::vec::Vec<_> = events
        .filter(|kind| matches!(kind, EventKind::BoardImport { .. }))
        .collect();
    let import = |by, number, done| EventKind::BoardImport {
        by,
        number,
        day_used: false,
        done,
    };
    let technician = import(Authority::Technician, 1, true);
    assert_eq!(imports, [technician, import(Authority::Operator, 0, false)]);
    assert_eq!(technician.number(), 25);
}
