//! Rot at every byte, in one range and in both; an older copy put back; pages that wear out; bytes
//! that nobody wrote.

use dosewarden::guard::{Guard, Restored};
use dosewarden::store::{Damage, Found, Progress, RecordStore};
use proptest::prelude::*;

use crate::flash::Flash;
use crate::rig::{PAGE, SLOT, Small, load, newest, save, sealed, sequences, small_flash};

/// Where a range's newest slot begins.
fn newest_slot(flash: &mut Flash<4, 384>, range: usize) -> usize {
    let half = flash.bytes.len() / 2;
    let loaded = load(flash);
    let wanted = sealed(sequences(&loaded)[range].unwrap());
    let mut slots = (range * half..(range + 1) * half).step_by(SLOT);
    slots
        .rfind(|at| flash.bytes[at + 20..].starts_with(&wanted))
        .unwrap()
}

#[test]
fn rot_at_any_byte_of_one_range_is_told_and_costs_nothing() {
    for saves in 1..7 {
        let mut flash = small_flash();
        for sequence in 1..=saves {
            save(&mut flash, sequence).unwrap();
        }
        for range in 0..2 {
            let slot = newest_slot(&mut flash, range);
            for at in 0..flash.bytes.len() {
                for bit in [0x01, 0x80] {
                    let mut rotten = flash.clone();
                    rotten.bytes[at] ^= bit;
                    let loaded = load(&mut rotten);
                    assert_eq!(newest(&loaded), Some(saves), "byte {at}");
                    let hit = (slot..slot + 20 + Small::LEN).contains(&at);
                    if hit {
                        assert_ne!(loaded.found[range], Found::Whole, "byte {at}");
                        assert_ne!(sequences(&loaded)[range], Some(saves));
                        let [first, second] = loaded.records;
                        assert_ne!(first, second, "the guard is not told");
                    }
                    assert!(save(&mut rotten, saves + 1).is_ok());
                    assert_eq!(newest(&load(&mut rotten)), Some(saves + 1));
                }
            }
        }
    }
}

#[test]
fn rot_of_the_newest_in_both_ranges_gives_no_record() {
    for saves in 2..7 {
        let mut flash = small_flash();
        for sequence in 1..=saves {
            save(&mut flash, sequence).unwrap();
        }
        let slots = [newest_slot(&mut flash, 0), newest_slot(&mut flash, 1)];
        for one in 0..20 + Small::LEN {
            for other in (one % 5..20 + Small::LEN).step_by(5) {
                let mut rotten = flash.clone();
                rotten.bytes[slots[0] + one] ^= 4;
                rotten.bytes[slots[1] + other] ^= 32;
                let loaded = load(&mut rotten);
                assert_eq!(loaded.records, [None, None], "bytes {one} and {other}");
                let limits = crate::small_site::limits();
                let [first, second] = loaded.records;
                let (_, found) = Guard::restore(limits, first.as_ref(), second.as_ref());
                assert_eq!(found, Restored::Lost);
            }
        }
    }
}

/// After a loss the guard counts from 1 again. An older record of a higher sequence must not come
/// back, whatever is cut.
#[test]
fn a_ledger_begun_anew_is_not_undone_by_an_older_record() {
    let mut flash = small_flash();
    for sequence in 500..507 {
        save(&mut flash, sequence).unwrap();
    }
    for fuel in 0..2000 {
        let mut cut = flash.clone();
        cut.fuel = Some(fuel);
        let done = save(&mut cut, 1).is_ok();
        cut.power_up();
        let loaded = load(&mut cut);
        let given = sequences(&loaded);
        assert!(
            !given.contains(&Some(1)) || !given.contains(&Some(506)),
            "{given:?}"
        );
        assert_ne!(given, [None; 2], "{fuel}");
        if done {
            assert_eq!(given, [Some(1); 2]);
        }
    }
}

#[test]
fn an_older_copy_put_back_in_one_range_is_seen() {
    let mut flash = small_flash();
    for sequence in 1..4 {
        save(&mut flash, sequence).unwrap();
    }
    let older = flash.bytes.clone();
    for sequence in 4..30 {
        save(&mut flash, sequence).unwrap();
        for range in 0..2 {
            let half = flash.bytes.len() / 2;
            let place = range * half..(range + 1) * half;
            let mut mixed = flash.clone();
            mixed.bytes[place.clone()].copy_from_slice(&older[place]);
            let loaded = load(&mut mixed);
            assert_eq!(newest(&loaded), Some(sequence));
            assert_eq!(sequences(&loaded)[range], Some(3));
            let limits = crate::small_site::limits();
            let [first, second] = loaded.records;
            let (_, found) = Guard::restore(limits, first.as_ref(), second.as_ref());
            assert!(matches!(found, Restored::Differing { .. }));
        }
    }
}

#[test]
fn pages_that_wear_out_are_passed_over_or_told() {
    for page in 0..6 {
        for stuck in [false, true] {
            let mut flash = Flash::new(6);
            for sequence in 1..9 {
                save(&mut flash, sequence).unwrap();
            }
            if stuck {
                flash.stuck.push(page);
            } else {
                flash.worn.push(page);
            }
            for sequence in 9..60 {
                save(&mut flash, sequence).unwrap();
                let loaded = load(&mut flash);
                assert_eq!(sequences(&loaded), [Some(sequence); 2]);
            }
        }
    }
    // A whole range gone: told each time, and the other keeps what it has.
    for range in 0..2 {
        let mut flash = small_flash();
        save(&mut flash, 1).unwrap();
        flash.worn.extend([range * 2, range * 2 + 1]);
        flash.stuck.extend([range * 2, range * 2 + 1]);
        for sequence in 2..20 {
            assert!(save(&mut flash, sequence).is_err());
            assert!(newest(&load(&mut flash)).is_some_and(|found| found >= 1));
        }
    }
}

/// With one slot a page, and a page lost to a save that was given up, the page with the newest
/// record is the next to be erased; and the other copy has rotted since it was read back.
#[test]
fn the_only_whole_copy_is_not_erased_though_the_other_rotted_unseen() {
    const RANGES: [std::ops::Range<u32>; 2] = [0..768, 768..1536];
    type Store<'a> = RecordStore<&'a mut Flash<4, PAGE>, PAGE>;
    for fuel in 0..1600 {
        let mut flash = small_flash();
        let mut store = Store::with_slots(&mut flash, RANGES).unwrap();
        store.save(&sealed(1)).unwrap();
        store.save(&sealed(2)).unwrap();
        store.begin(&sealed(3)).unwrap();
        for _ in 0..2 {
            assert_eq!(store.step(), Ok(Progress::More));
        }
        let bytes = &mut store.flash_mut().bytes;
        let copy = bytes.windows(Small::LEN).rposition(|is| is == sealed(2));
        bytes[copy.unwrap()] ^= 1;
        store.flash_mut().fuel = Some(fuel);
        let done = store.save(&sealed(3)).is_ok();
        flash.power_up();
        let mut store = Store::with_slots(&mut flash, RANGES).unwrap();
        let found = newest(&store.load());
        assert!(found == Some(3) || !done && found == Some(2), "{found:?}");
    }
}

#[test]
fn what_cannot_be_read_counts_as_begun() {
    let mut flash = small_flash();
    for sequence in 1..6 {
        save(&mut flash, sequence).unwrap();
    }
    let slots = [newest_slot(&mut flash, 0), newest_slot(&mut flash, 1)];
    for slot in slots {
        let mut deaf = flash.clone();
        deaf.unreadable.push(slot..slot + 1);
        let loaded = load(&mut deaf);
        assert_eq!(newest(&loaded), Some(5));
        assert!(loaded.found.contains(&Found::Older(Damage::Unreadable)));
    }
    flash.unreadable.extend(slots.map(|slot| slot..slot + 1));
    assert_eq!(load(&mut flash).records, [None, None]);
    flash.unreadable.push(0..4 * PAGE);
    assert_eq!(
        load(&mut flash).found,
        [Found::NotWhole(Damage::Unreadable); 2]
    );
}

/// Bytes that nobody wrote, with some true slots among them.
fn any_flash() -> impl Strategy<Value = Vec<u8>> {
    let noise = prop::collection::vec(any::<u8>(), 4 * PAGE);
    let copies = prop::collection::vec((0..8_usize, 0..8_usize, 0..40_u32), 0..10);
    let flips = prop::collection::vec((0..4 * PAGE, 0..8_u8), 0..4);
    (noise, any::<bool>(), copies, flips).prop_map(|(noise, blank, copies, flips)| {
        let mut bytes = if blank { vec![0xFF; 4 * PAGE] } else { noise };
        for (from, to, saves) in copies {
            let mut flash = small_flash();
            for sequence in 1..=saves {
                save(&mut flash, sequence).unwrap();
            }
            bytes[to * SLOT..(to + 1) * SLOT]
                .copy_from_slice(&flash.bytes[from * SLOT..(from + 1) * SLOT]);
        }
        for (at, bit) in flips {
            bytes[at] ^= 1 << bit;
        }
        bytes
    })
}

proptest! {
    #![proptest_config(ProptestConfig {
        failure_persistence: None,
        ..ProptestConfig::default()
    })]
    /// Whatever stands there: no panic, no record that was never sealed (`sequences` compares), and
    /// the store goes on. Until the log has gone round once, rot right after the newest slots of
    /// both ranges may be an erase that was cut, and then nothing is given rather than too little.
    #[test]
    fn any_bytes_give_a_sealed_record_or_none(bytes in any_flash()) {
        let mut flash = Flash::holding(bytes);
        let found = newest(&load(&mut flash)).unwrap_or(0);
        let round = u32::try_from(2 * PAGE / SLOT).unwrap();
        for next in found + 1..=found + round {
            prop_assert!(save(&mut flash, next).is_ok());
            let given = sequences(&load(&mut flash));
            prop_assert!(given == [Some(next); 2] || given == [None; 2], "{:?}", given);
        }
        prop_assert_eq!(sequences(&load(&mut flash)), [Some(found + round); 2]);
    }
}

/// Rot in the first slot of the older page of both ranges, which follows the newest slot once the
/// log has gone round: it may be an erase that was cut, so nothing is given; one save later it is.
#[test]
fn rot_that_may_be_a_cut_erase_in_both_ranges_gives_nothing_until_it_is_written_over() {
    let mut flash = small_flash();
    for sequence in 1..=4 {
        save(&mut flash, sequence).unwrap();
    }
    for first in [0, 4 * SLOT] {
        flash.bytes[first..first + SLOT].fill(0);
    }
    assert_eq!(sequences(&load(&mut flash)), [None; 2]);
    save(&mut flash, 5).unwrap();
    assert_eq!(sequences(&load(&mut flash)), [Some(5); 2]);
}
