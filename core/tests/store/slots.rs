//! Single slots: what a damaged one is called, and which is written to next.

use dosewarden::guard::Crc32;
use dosewarden::store::{Damage, Found, KeptError, KeptRecord, KeptStore, RecordStore, StoreError};

use crate::flash::Flash;
use crate::rig::{PAGE, SLOT, SmallFlash, load, open, save, sealed, sequences, small_flash};

const HEADER: usize = 20;

/// What is found in the first range of an erased flash with zeros at some places.
fn found(zeros: impl IntoIterator<Item = std::ops::Range<usize>>) -> Found {
    let mut flash = small_flash();
    for place in zeros {
        flash.bytes[place].fill(0);
    }
    load(&mut flash).found[0]
}

#[test]
fn a_header_that_was_begun_with_nothing_after_it_is_torn_and_anything_else_rotten() {
    let torn = Found::NotWhole(Damage::Torn);
    assert_eq!(found(Some(0..8)), torn);
    assert_eq!(found(Some(0..HEADER)), torn);
    let rotten = Found::NotWhole(Damage::Rotten);
    assert_eq!(found([0..8, 40..41]), rotten);
    assert_eq!(found([0..8, 150..151]), rotten, "past the first piece");
    assert_eq!(found(Some(150..151)), rotten, "no header at all");
    assert_eq!(found(None), Found::Empty);
}

#[test]
fn both_copies_of_a_save_have_the_same_header() {
    let mut flash = small_flash();
    for sequence in 1..9 {
        save(&mut flash, sequence).unwrap();
        let wanted = sealed(sequence);
        let mut slots =
            (flash.bytes.chunks(SLOT)).filter(|slot| slot[HEADER..].starts_with(&wanted));
        let headers = [slots.next().unwrap(), slots.next().unwrap()].map(|slot| &slot[4..8]);
        assert_eq!(headers, [sequence.to_le_bytes(); 2], "its serial");
    }
}

#[test]
fn a_slot_in_which_a_byte_behind_the_content_has_changed_is_not_used() {
    // Written by 8 bytes: the content ends at 132 of 192.
    let mut flash = Flash::<8, PAGE>::new(4);
    flash.disturbed.push(150);
    let middle = 2 * PAGE as u32;
    let ranges = [0..middle, middle..2 * middle];
    let mut store = RecordStore::<_, SLOT>::with_slots(flash, ranges).unwrap();
    store.save(&sealed(1)).unwrap();
    let flash = store.into_flash();
    assert_eq!(flash.bytes[150], 0);
    assert!(flash.bytes[PAGE..].starts_with(b"DWSL"), "in the next page");
}

#[test]
fn a_copy_that_can_no_longer_be_read_is_not_taken_from_the_other() {
    let mut flash = small_flash();
    save(&mut flash, 1).unwrap();
    flash.reads = 0;
    assert_eq!(sequences(&load(&mut flash)), [Some(1); 2]);
    flash.reads_left = Some(flash.reads - 1);
    flash.reads = 0;
    assert_eq!(sequences(&load(&mut flash)), [Some(1), None]);
}

#[test]
fn a_slot_may_be_full() {
    let most = SLOT - HEADER;
    let save = |length: usize| {
        let mut full = sealed(1);
        full.resize(length - 4, 0);
        full.extend(Crc32::of(&full).to_le_bytes());
        open(&mut small_flash()).save(&full)
    };
    assert!(save(most).is_ok());
    let bytes = most + 1;
    assert_eq!(save(bytes), Err(StoreError::TooLong { bytes, most }));
}

#[test]
fn where_the_next_page_cannot_be_erased_the_last_slot_of_this_one_is_still_used() {
    for tells in [true, false] {
        passes_over_page_one(tells);
    }
}

/// Of a page whose erase fails, and of one whose erase says that all was well and leaves a bit.
fn passes_over_page_one(tells: bool) {
    let mut flash = SmallFlash::new(6);
    if tells {
        flash.stuck.push(1);
    } else {
        flash.faded.push(1);
    }
    let written = |flash: &SmallFlash| -> Vec<usize> {
        let slots = flash.bytes[..3 * PAGE].chunks(SLOT).enumerate();
        let used = slots.filter(|(_, slot)| slot.starts_with(b"DWSL"));
        used.map(|(nth, _)| nth).collect()
    };
    // One store all along: it knows the page that it could not erase.
    let middle = 3 * PAGE as u32;
    let mut store = RecordStore::<&mut SmallFlash, SLOT>::with_slots(
        &mut flash,
        [0..middle, middle..2 * middle],
    )
    .unwrap();
    let mut used = Vec::new();
    for sequence in 1..=3 {
        store.save(&sealed(sequence)).unwrap();
        used.push(written(store.flash_mut()));
    }
    assert_eq!(used[1], [0, 1]);
    assert_eq!(used[2], [0, 1, 4], "page 1 is passed over");
}

#[test]
fn a_page_that_takes_nothing_before_one_that_cannot_be_erased_is_left_for_the_third() {
    let mut flash = SmallFlash::new(6);
    flash.worn.push(0);
    flash.stuck.push(1);
    let middle = 3 * PAGE as u32;
    let mut store = RecordStore::<&mut SmallFlash, SLOT>::with_slots(
        &mut flash,
        [0..middle, middle..2 * middle],
    )
    .unwrap();
    for sequence in 1..40 {
        store.save(&sealed(sequence)).unwrap();
        let loaded = load(&mut store.flash_mut().clone());
        assert_eq!(sequences(&loaded), [Some(sequence); 2]);
    }
}

#[test]
fn where_one_of_two_pages_cannot_be_erased_the_other_is_written_again_while_the_copy_stands() {
    type OneSlot<'a> = RecordStore<&'a mut SmallFlash, PAGE>;
    for stuck in [1, 3] {
        let mut flash = small_flash();
        flash.stuck.push(stuck);
        let middle = 2 * PAGE as u32;
        let mut store = OneSlot::with_slots(&mut flash, [0..middle, middle..2 * middle]).unwrap();
        for sequence in 1..9 {
            store.save(&sealed(sequence)).unwrap();
            assert_eq!(sequences(&store.load()), [Some(sequence); 2]);
        }
    }
}

#[test]
fn nothing_is_erased_ahead_of_the_first_look_nor_while_a_save_is_under_way() {
    let mut flash = small_flash();
    save(&mut flash, 1).unwrap();
    let before = flash.bytes.clone();
    let mut store = open(&mut flash);
    assert!(!store.erase_due());
    assert_eq!(store.erase_ahead(), Ok(false));
    assert_eq!(store.flash_mut().bytes, before);
    let _ = store.load::<1, 1, 2, 2>();
    assert!(store.erase_due(), "half of a page is used");
    store.begin(&sealed(2)).unwrap();
    assert!(!store.erase_due());
    assert_eq!(store.erase_ahead(), Ok(false));
}

#[test]
fn what_is_damaged_in_both_ranges_is_not_a_new_unit() {
    let mut flash = Flash::<4, 1024>::new(4);
    let kept = |flash: &mut Flash<4, 1024>| {
        let ranges = [0..2048, 2048..4096];
        let mut store = KeptStore::new(flash, ranges).unwrap();
        let loaded = store.load::<2>();
        (loaded.record, loaded.found)
    };
    assert_eq!(kept(&mut flash).0, Err(KeptError::Empty));
    for at in [0, 2048] {
        flash.bytes[at..at + 8].fill(0);
        let (record, found) = kept(&mut flash);
        assert_eq!(record, Err(KeptError::NotWhole));
        assert_eq!(found[0], Found::NotWhole(Damage::Torn));
        assert_eq!(KeptRecord::to_start(record, true), KeptRecord::LOST);
        let lost = KeptRecord::<2>::LOST;
        assert!(lost.is_lost && lost.restraints.evidence.is_observing);
    }
}

#[test]
fn of_what_is_kept_an_older_copy_is_called_outdated_and_so_are_both_where_the_newest_is_lost() {
    let mut flash = Flash::<4, 1024>::new(4);
    let mut images = Vec::new();
    for is_too_cold in [false, true] {
        let ranges = [0..2048, 2048..4096];
        let mut store = KeptStore::<_, 512>::new(&mut flash, ranges).unwrap();
        let record = KeptRecord::<2> {
            is_too_cold,
            ..KeptRecord::NEW
        };
        store.save(&record, &mut [0; 512]).unwrap();
        images.push(flash.bytes.clone());
    }
    let found = |bytes: Vec<u8>| {
        let ranges = [0..2048, 2048..4096];
        let mut store = KeptStore::<_, 512>::new(Flash::<4, 1024>::holding(bytes), ranges).unwrap();
        let loaded = store.load::<2>();
        (loaded.record.map(|one| one.is_too_cold), loaded.found)
    };
    assert_eq!(found(images[1].clone()), (Ok(true), [Found::Whole; 2]));
    let mixed = [&images[1][..2048], &images[0][2048..]].concat();
    assert_eq!(found(mixed), (Ok(true), [Found::Whole, Found::Outdated]));
    let mut lost = images[1].clone();
    for range in [0, 2048] {
        lost[range + 512 + HEADER] ^= 1;
    }
    assert_eq!(
        found(lost),
        (Err(KeptError::NotWhole), [Found::Outdated; 2])
    );
}
