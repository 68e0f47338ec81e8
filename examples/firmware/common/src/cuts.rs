//! The power goes at every place of some saves, one after the other: at each place the chip is really
//! reset, in the middle of what it does to the flash, and the start after it looks at what is left.
//!
//! The flash, a copy of it from before the save and the [`Book`] lie in memory that a reset leaves
//! alone. Each start judges the cut before it and saves the next record on what the cut has left; at every
//! second place that save is cut too, somewhere. Then the copy is put back, and the run goes one place
//! further.

use dosewarden::guard::units::Dose;
use dosewarden::guard::{LedgerTrust, RecordError, Restored, Stage, State};
use dosewarden::store::{Progress, RecordStore, StoreError};
use embedded_storage::nor_flash::{NorFlash, NorFlashErrorKind, ReadNorFlash};

use crate::board::Board;
use crate::cut_nor::CutNor;
use crate::nor::MemoryNor;
use crate::site::{
    CHECKED_LIMITS, CHECKED_SETTINGS, DAY, Pool, PoolRecord, RestoredPool, SiteError, regulators,
};

/// Enough that each of the four pages is written full, and erased again.
const SAVES: u32 = 5;
/// More places than a save has.
const PLACES: u32 = 1700;
const MAGIC: u32 = 0x4355_5453;

/// How far the run has come: what a reset leaves alone.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[repr(C)]
pub struct Book {
    magic: u32,
    /// The last record that the store has confirmed; 0: none.
    confirmed: u32,
    /// Saves of which all places are done.
    saves: u32,
    /// The next place of the save that is on.
    place: u32,
    /// Cuts that have to come one after the other: a start that finds some comes from the last.
    cuts: u32,
    resets: u32,
    operations: u32,
    /// Starts that found the record before, the one that was being saved, and no record.
    before: u32,
    after: u32,
    none: u32,
}

impl Book {
    const FIRST: Self = Self {
        magic: MAGIC,
        confirmed: 0,
        saves: 0,
        place: 0,
        cuts: 0,
        resets: 0,
        operations: 0,
        before: 0,
        after: 0,
        none: 0,
    };

    /// What a power-on leaves.
    pub const UNKNOWN: Self = Self {
        magic: 0,
        ..Self::FIRST
    };

    /// Sequence of the record that is saved: one more after each cut.
    const fn sequence(&self) -> u32 {
        self.saves.saturating_add(self.cuts)
    }
}

/// What a reset leaves alone.
#[derive(Debug)]
pub struct Kept {
    /// In place of flash.
    pub nor: MemoryNor,
    /// As long as that.
    pub copy: &'static mut [u8],
    /// How far the run has come.
    pub book: &'static mut Book,
}

/// Why a start after a cut is not as it has to be, or the run cannot go on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Broken {
    /// A record was handed out that nobody sealed.
    NeverSealed(u32),
    /// No record is left, after one was confirmed.
    Lost,
    /// The record that is left is older than one that was confirmed.
    Older(u32),
    /// The ledger counts less than the record that was confirmed, uL.
    Counts(u32),
    /// A save did not come to its end, or what it saved on what a cut has left is not found.
    GoesOn,
    /// A store that cannot be made or does not save.
    Store(StoreError),
    /// A record that cannot be made.
    Record(RecordError),
    /// Memory in place of flash.
    Nor(NorFlashErrorKind),
    /// The site.
    Site(SiteError),
}

impl From<StoreError> for Broken {
    fn from(error: StoreError) -> Self {
        Self::Store(error)
    }
}

impl From<RecordError> for Broken {
    fn from(error: RecordError) -> Self {
        Self::Record(error)
    }
}

impl From<NorFlashErrorKind> for Broken {
    fn from(error: NorFlashErrorKind) -> Self {
        Self::Nor(error)
    }
}

impl From<SiteError> for Broken {
    fn from(error: SiteError) -> Self {
        Self::Site(error)
    }
}

/// Goes on with the run, up to the next cut or to the end of it. True if all went well; a run that did
/// not says where and why.
pub fn run_cuts<B: Board>(board: &mut B, kept: Kept, reset: fn() -> !) -> bool {
    let Kept { nor, copy, book } = kept;
    match go_on(board, nor, copy, book, reset) {
        Ok(()) => {
            let Book {
                operations,
                resets,
                before,
                after,
                none,
                ..
            } = *book;
            board.say(format_args!(
                "cuts: {before} starts with the record before, {after} with the new one, {none} before any was confirmed"
            ));
            board.say(format_args!(
                "== cuts: {operations} operations, {resets} resets, all restored at or past the last confirmed"
            ));
            true
        }
        Err(broken) => {
            board.say(format_args!("cuts: {broken:?} at {book:?}"));
            false
        }
    }
}

fn go_on<B: Board>(
    board: &mut B,
    mut nor: MemoryNor,
    copy: &mut [u8],
    book: &mut Book,
    reset: fn() -> !,
) -> Result<(), Broken> {
    if book.magic != MAGIC {
        nor.erase(0, capacity(&nor)?)?;
        nor.read(0, copy)?;
        *book = Book::FIRST;
    } else if book.cuts > 0 {
        book.resets = book.resets.saturating_add(1);
        look(&mut nor, book)?;
        board.feed_dead_man();
        let again = book.cuts == 1 && book.place.is_multiple_of(2);
        book.cuts = book.cuts.saturating_add(1);
        // Past the last place no cut comes, and the save is whole.
        let place = if again {
            book.resets.wrapping_mul(787).checked_rem(PLACES)
        } else {
            None
        };
        let mut flash = CutNor::new(&mut nor, place.unwrap_or(u32::MAX), reset);
        save(&mut flash, book)?;
        both_hold(&mut nor, book)?;
    }
    while book.saves < SAVES {
        board.feed_dead_man();
        nor.part(0, copy.len())?.copy_from_slice(copy);
        book.confirmed = book.saves;
        let place = book.place;
        book.place = place.saturating_add(1);
        book.cuts = 1;
        let mut flash = CutNor::new(&mut nor, place, reset);
        save(&mut flash, book)?;
        // No cut has come: all places of this save are done.
        let operations = flash.operations();
        book.operations = book.operations.saturating_add(operations);
        book.saves = book.sequence();
        book.cuts = 0;
        book.place = 0;
        nor.read(0, copy)?;
    }
    Ok(())
}

fn capacity(nor: &MemoryNor) -> Result<u32, Broken> {
    u32::try_from(nor.capacity()).map_err(|_| Broken::Nor(NorFlashErrorKind::OutOfBounds))
}

/// Half of the flash for each range, as the controller has it.
fn open<F: NorFlash>(flash: F) -> Result<RecordStore<F>, StoreError> {
    let half = u32::try_from(flash.capacity() / 2).unwrap_or(0);
    RecordStore::new(flash, [0..half, half..half.saturating_mul(2)])
}

/// What the acid account counts in the record of this sequence.
const fn counted(sequence: u32) -> Dose {
    Dose(sequence.saturating_mul(45_077))
}

/// A record that nobody can take for another.
fn seal(sequence: u32, bytes: &mut [u8; Pool::RECORD_LEN]) -> Result<(), RecordError> {
    let mut state = State {
        trust: LedgerTrust::Trusted,
        stage: Stage::Full,
        ..State::POWER_ON
    };
    state.ledger.add(0, 0, counted(sequence));
    let record = PoolRecord {
        sequence,
        stamp: None,
        limits_crc: sequence,
        products: Some([CHECKED_LIMITS.product(0), CHECKED_LIMITS.product(1)]),
        state,
    };
    record.encode(bytes).map(|_| ())
}

/// Saves the next record, and erases ahead as the controller does between two cycles. The book says
/// that it is confirmed as soon as the store says so.
fn save<F: NorFlash>(flash: F, book: &mut Book) -> Result<(), Broken> {
    let mut bytes = [0; Pool::RECORD_LEN];
    seal(book.sequence(), &mut bytes)?;
    let mut store = open(flash)?;
    store.begin(&bytes)?;
    while store.is_busy() {
        if let Progress::Saved(ticket) = store.step()? {
            book.confirmed = ticket.sequence;
        }
    }
    if book.confirmed != book.sequence() {
        return Err(Broken::GoesOn);
    }
    while store.erase_due() {
        store.erase_ahead()?;
    }
    Ok(())
}

/// The start after a cut.
fn look(nor: &mut MemoryNor, book: &mut Book) -> Result<(), Broken> {
    let mut store = open(nor)?;
    let [first, second] = store.load().records;
    let mut newest = 0;
    for record in [&first, &second].into_iter().flatten() {
        let [mut found, mut sealed] = [[0; Pool::RECORD_LEN]; 2];
        record.encode(&mut found)?;
        seal(record.sequence, &mut sealed)?;
        if found != sealed || record.sequence > book.sequence() {
            return Err(Broken::NeverSealed(record.sequence));
        }
        newest = newest.max(record.sequence);
    }
    let (pool, found) = restore(first.as_ref(), second.as_ref())?;
    let (_, day) = pool.guard().state().ledger.totals(0, 0);
    if found == Restored::Lost && book.confirmed > 0 {
        return Err(Broken::Lost);
    }
    if newest < book.confirmed {
        return Err(Broken::Older(newest));
    }
    if day < counted(book.confirmed) {
        return Err(Broken::Counts(day.0));
    }
    let count = if newest == book.sequence() {
        &mut book.after
    } else if newest > 0 {
        &mut book.before
    } else {
        &mut book.none
    };
    *count = count.saturating_add(1);
    Ok(())
}

#[inline(never)]
fn restore(
    first: Option<&PoolRecord>,
    second: Option<&PoolRecord>,
) -> Result<RestoredPool, SiteError> {
    let limits = CHECKED_LIMITS.clone();
    let regulators = regulators()?;
    Ok(Pool::restore(
        limits,
        CHECKED_SETTINGS,
        regulators,
        first,
        second,
    ))
}

/// What was saved on what a cut has left is found in both ranges.
fn both_hold(nor: &mut MemoryNor, book: &Book) -> Result<(), Broken> {
    let records = open(nor)?.load::<2, 1, 7, { DAY }>().records;
    let newest = |record: &Option<PoolRecord>| {
        record
            .as_ref()
            .is_some_and(|one| one.sequence == book.sequence())
    };
    if records.iter().all(newest) {
        Ok(())
    } else {
        Err(Broken::GoesOn)
    }
}
