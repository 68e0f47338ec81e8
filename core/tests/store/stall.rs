//! An erase that stalls the program for seconds.

use dosewarden::guard::Rule;
use dosewarden::guard::units::Millis;

use crate::cuts::asks;
use crate::life::{Life, ask};

/// Lives until acid is fed.
fn feeding() -> Life {
    let mut life = Life::begun();
    for _ in 0..2000 {
        life.tick(1000, ask(0, 45), None);
        life.settle();
        if life.runs() {
            return life;
        }
    }
    panic!("acid was never fed");
}

#[test]
fn an_erase_under_a_permit_counts_in_full_as_drive_on_time_and_ends_the_feed() {
    let mut life = feeding();
    let before = life.guard.state().feeders[0].run;
    life.tick(2500, ask(0, 45), None); // the program stood for 2 s in an erase
    let own = life.guard.state().feeders[0];
    assert_eq!(own.run, Millis(before.0 + 2500), "the whole gap was fed");
    assert!(life.guard.decision().feeders[0].vetoes.has(Rule::ClockSane));
    assert!(
        !life.runs(),
        "no permit in a tick whose gap is out of range"
    );
    assert_eq!(life.guard.state().flow_proven, Millis(0), "proven anew");
    // What runs out of the charge is in the record all the same.
    for _ in 0..400 {
        life.tick(1000, ask(0, 0), None);
        life.settle();
    }
    let (_, day) = life.guard.state().ledger.totals(0, 0);
    assert!(u64::from(day.0) >= life.truth.fed(0));
}

/// What the docs ask of a firmware: erase ahead while no permit stands. Saves, and ticks in which
/// the next step would erase under a permit.
fn erases_under_a_permit(ahead: bool) -> (u32, u32) {
    let (mut saves, mut under_permit) = (0, 0);
    for seed in 0..12 {
        let mut life = Life::begun();
        for second in 0..7200 {
            life.tick(1000, asks(second, seed), None);
            if ahead && !life.runs() && life.store.erase_due() {
                assert!(life.store.erase_ahead().unwrap());
            }
            let permit = life.runs();
            under_permit += u32::from(permit && life.store.erases_next());
            assert!(life.step());
        }
        saves += life.truth.saves;
    }
    (saves, under_permit)
}

#[test]
fn erased_ahead_no_step_of_a_save_erases_while_a_permit_stands() {
    let (saves, under_permit) = erases_under_a_permit(true);
    assert!(saves > 500, "{saves} saves");
    assert_eq!(under_permit, 0);
    // It would, without.
    let (_, under_permit) = erases_under_a_permit(false);
    assert!(under_permit > 0);
}
