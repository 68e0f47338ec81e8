//! Flashes, ranges and contents that a store does not take, each before anything is written.

use dosewarden::guard::{Crc32, Record};
use dosewarden::store::{KeptStore, Progress, RecordStore, SettingsStore, StoreError};

use crate::rig::{PAGE, SLOT, SmallFlash, open, sealed, small_flash};

const BYTES: u32 = PAGE as u32;

fn told<const SIZE: usize>(ranges: [std::ops::Range<u32>; 2]) -> Option<StoreError> {
    let mut flash = small_flash();
    let store: Result<RecordStore<&mut SmallFlash, SIZE>, _> =
        RecordStore::with_slots(&mut flash, ranges);
    let error = store.err();
    assert_eq!(flash.ops, 0);
    error
}

#[test]
fn ranges_are_two_whole_pages_each_inside_the_flash_and_apart() {
    let good = [0..2 * BYTES, 2 * BYTES..4 * BYTES];
    assert_eq!(told::<SLOT>(good.clone()), None);
    let [one, two] = good.clone();
    assert_eq!(told::<SLOT>([two.clone(), one.clone()]), None);
    for (first, second, range) in [
        (0..BYTES, two.clone(), 0),
        (0..2 * BYTES - 1, two.clone(), 0),
        (1..2 * BYTES, two.clone(), 0),
        (one.clone(), 3 * BYTES..4 * BYTES, 1),
        (one.clone(), 3 * BYTES..5 * BYTES, 1),
        (two.end..one.start, two.clone(), 0),
    ] {
        assert_eq!(
            told::<SLOT>([first, second]),
            Some(StoreError::Range { range })
        );
    }
    for overlap in [
        [0..3 * BYTES, two.clone()],
        [two.clone(), 0..3 * BYTES],
        [one.clone(), one],
    ] {
        assert_eq!(told::<SLOT>(overlap), Some(StoreError::Overlap));
    }
    let bytes = PAGE * 2;
    assert_eq!(
        told::<{ PAGE * 2 }>(good.clone()),
        Some(StoreError::Slot { bytes })
    );
    assert_eq!(
        told::<100>(good.clone()),
        Some(StoreError::Slot { bytes: 100 })
    );
    assert_eq!(told::<0>(good), Some(StoreError::Slot { bytes: 0 }));
}

#[test]
fn what_is_too_long_or_not_sealed_is_not_begun() {
    let mut flash = small_flash();
    let mut store = open(&mut flash);
    let mut long = sealed(1);
    long.resize(Record::<2, 1, 7, 25>::LEN - 4, 0);
    long.extend(Crc32::of(&long).to_le_bytes());
    let bytes = long.len();
    let told = store.begin(&long);
    assert!(
        matches!(told, Err(StoreError::TooLong { bytes: is, most }) if is == bytes && most < SLOT)
    );
    let mut changed = sealed(1);
    changed[20] ^= 1;
    assert_eq!(store.begin(&changed), Err(StoreError::NotSealed));
    assert_eq!(store.step(), Ok(Progress::Idle));
    assert_eq!(flash.ops, 0);
}

#[test]
fn stores_give_their_flash_back() {
    let ranges = || [0..2 * BYTES, 2 * BYTES..4 * BYTES];
    let flash = small_flash();
    let flash = KeptStore::<_, SLOT>::with_slots(flash, ranges())
        .unwrap()
        .into_flash();
    let flash = SettingsStore::<_, SLOT>::with_slots(flash, ranges())
        .unwrap()
        .into_flash();
    assert_eq!(flash.bytes, small_flash().bytes);
}
