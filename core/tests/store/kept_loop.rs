//! The kept record around a loop, as the README shows it: what a person did stands after a restart, and without it the unit observes.

use dosewarden::guard::units::{Dose, Millis};
use dosewarden::guard::{Authority, Inhibits, TickClock};
use dosewarden::proof::ProofTests;
use dosewarden::regulate::{Direction, SizedDose};
use dosewarden::store::{Found, KeepError, KeptRecord, KeptStore};
use dosewarden::upkeep::Upkeep;
use dosewarden::{Act, Inputs, Person, PoolController};

use crate::flash::Flash;
use crate::image_site::checked_image;

type Chip = Flash<4, 1024>;

const TICK_MS: u32 = 1000;

struct Board {
    kept: KeptStore<Chip>,
}

fn pool() -> PoolController {
    let image = checked_image();
    let dose = |direction, wanted, gain| {
        SizedDose::try_new(direction, wanted, 50, Dose::from_ml(60), gain).expect("in range")
    };
    let regulators = [
        dose(Direction::Lowers, 7400, 100).into(),
        dose(Direction::Raises, 720, 20).into(),
    ];
    PoolController::restore(image.limits, image.settings, regulators, None, None).0
}

/// A start, and a tick for each act.
fn lived(
    board: &mut Board,
    is_new: bool,
    acts: &[Option<Act>],
) -> Result<PoolController, KeepError> {
    let mut pool = pool();
    let mut buffer = [0; 512];
    let mut clock = TickClock::new();
    // Before the first tick. `is_new`: the guard's record was never written either.
    let loaded = board.kept.load();
    let mut is_kept = loaded.found == [Found::Whole; 2]; // else it is saved at once: one copy may rot too
    let mut written = KeptRecord::to_start(loaded.record, is_new);
    written.put_back(&mut pool);
    let upkeep = Upkeep::restore(written.upkeep); // probes, tests of the water
    let proofs = ProofTests::restore(written.proofs);
    let mut since = Millis(0);
    // Shown so far.
    for (now_ms, act) in (0..).step_by(TICK_MS as usize).zip(acts) {
        let mut inputs = Inputs::UNKNOWN;
        inputs.facts.inhibits = Inhibits::NONE;
        inputs.person = act.map(|act| Person {
            by: Authority::Technician,
            act,
        });
        let _ = pool.tick(clock.step(now_ms), &inputs); // nothing is driven here
        // After each tick without a permit: an act of a person is kept at once, what only passes once an hour.
        since.0 = since.0.saturating_add(TICK_MS);
        let now = KeptRecord::of(&pool, &upkeep, &proofs);
        if !is_kept || now.is_due(&written, since) {
            board.kept.save(&now, &mut buffer)?; // to both places, erases included
            (written, since, is_kept) = (now, Millis(0), true);
        }
        // Shown so far.
    }
    Ok(pool)
}

fn board() -> Board {
    holding(Chip::new(4))
}

fn holding(chip: Chip) -> Board {
    let kept = KeptStore::new(chip, [0..2048, 2048..4096]).expect("it fits");
    Board { kept }
}

#[test]
fn what_a_person_did_stands_after_a_restart() {
    let mut board = board();
    let hour = Millis::from_hours(1);
    let pool = lived(
        &mut board,
        true,
        &[None, Some(Act::Pause(hour)), None, None],
    )
    .unwrap();
    assert!(
        pool.restraints().paused.0 > 3_500_000,
        "{:?}",
        pool.restraints()
    );
    let again = lived(&mut board, false, &[None, None]).unwrap();
    assert!(
        again.restraints().paused.0 > 3_500_000,
        "{:?}",
        again.restraints()
    );
    assert!(!again.is_kept_lost());
}

#[test]
fn a_copy_that_rotted_is_whole_again_after_the_first_tick_and_so_is_what_a_new_unit_has() {
    let mut board = board();
    lived(&mut board, true, &[None]).unwrap();
    assert_eq!(board.kept.load::<2>().found, [Found::Whole; 2]);
    let mut chip = board.kept.into_flash();
    chip.bytes[..2048].fill(0);
    board = holding(chip);
    assert_ne!(board.kept.load::<2>().found, [Found::Whole; 2]);
    let again = lived(&mut board, false, &[None]).unwrap();
    assert!(!again.is_kept_lost());
    assert_eq!(board.kept.load::<2>().found, [Found::Whole; 2]);
}

#[test]
fn a_unit_that_was_used_and_finds_nothing_only_observes() {
    let again = lived(&mut board(), false, &[None]).unwrap();
    assert!(again.is_kept_lost() && again.restraints().evidence.is_observing);
}
