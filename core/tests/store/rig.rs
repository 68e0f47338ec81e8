//! A small record, a small flash, and a store over it.

use dosewarden::guard::units::ClockSeconds;
use dosewarden::guard::{Record, State, Ticket};
use dosewarden::store::{Found, Loaded, RecordStore, StoreError};

use crate::flash::Flash;

/// One feeder, and the least buckets: 108 bytes.
pub(crate) type Small = Record<1, 1, 2, 2>;
/// Pages of two slots, written by the word.
pub(crate) type SmallFlash = Flash<4, 384>;
pub(crate) type SmallStore<'a> = RecordStore<&'a mut SmallFlash, 192>;

pub(crate) const PAGE: usize = 384;
pub(crate) const SLOT: usize = 192;

/// Two pages for each range.
pub(crate) fn small_flash() -> SmallFlash {
    SmallFlash::new(4)
}

pub(crate) fn open(flash: &mut SmallFlash) -> SmallStore<'_> {
    let pages = u32::try_from(flash.bytes.len() / PAGE).unwrap();
    let middle = pages / 2 * PAGE as u32;
    RecordStore::with_slots(flash, [0..middle, middle..pages * PAGE as u32]).unwrap()
}

/// A sealed record that nobody can take for another.
pub(crate) fn sealed(sequence: u32) -> Vec<u8> {
    let mut state = State::POWER_ON;
    state.ledger.add(
        0,
        0,
        dosewarden::guard::units::Dose(sequence.wrapping_mul(77)),
    );
    let record = Small {
        sequence,
        stamp: Some(ClockSeconds(sequence.wrapping_mul(31))),
        limits_crc: 1,
        products: Some([Some(dosewarden_guard::Product::Acid)]),
        state,
    };
    let mut bytes = vec![0; Small::LEN];
    record.encode(&mut bytes).unwrap();
    bytes
}

pub(crate) fn load(flash: &mut SmallFlash) -> Loaded<1, 1, 2, 2> {
    open(flash).load()
}

pub(crate) fn save(flash: &mut SmallFlash, sequence: u32) -> Result<Ticket, StoreError> {
    open(flash).save(&sealed(sequence))
}

/// Sequences that were given, by range.
pub(crate) fn sequences(loaded: &Loaded<1, 1, 2, 2>) -> [Option<u32>; 2] {
    let one = |record: &Option<Small>| {
        let record = record.as_ref()?;
        let mut bytes = vec![0; Small::LEN];
        record.encode(&mut bytes).unwrap();
        assert_eq!(bytes, sealed(record.sequence), "not what was sealed");
        Some(record.sequence)
    };
    [one(&loaded.records[0]), one(&loaded.records[1])]
}

/// The later of both, as the guard takes it.
pub(crate) fn newest(loaded: &Loaded<1, 1, 2, 2>) -> Option<u32> {
    sequences(loaded).into_iter().flatten().max()
}

#[test]
fn an_erased_flash_is_empty_and_keeps_what_is_saved() {
    let mut flash = small_flash();
    let loaded = load(&mut flash);
    assert_eq!(loaded.found, [Found::Empty; 2]);
    assert_eq!(sequences(&loaded), [None; 2]);
    for sequence in 1..40 {
        let ticket = save(&mut flash, sequence).unwrap();
        assert_eq!(Some(ticket), Ticket::of(&sealed(sequence)));
        let loaded = load(&mut flash);
        assert_eq!(loaded.found, [Found::Whole; 2]);
        assert_eq!(sequences(&loaded), [Some(sequence); 2]);
    }
    let most = flash.erases.iter().max();
    let least = flash.erases.iter().min();
    assert_eq!((most, least), (Some(&10), Some(&10)), "wear is not level");
}
