//! Two copies of the record in two ranges of NOR flash, by the store of `dosewarden`. One step at a
//! time, and none that erases while a feeder runs: many chips stand still while a page is erased.

use dosewarden::guard::Ticket;
use dosewarden::store::{Found, Progress, RecordStore, StoreError};
use embedded_storage::nor_flash::NorFlash;

use crate::site::{CHECKED_LIMITS, CHECKED_SETTINGS, Pool, PoolRecord, Regulators, RestoredPool};

/// Bytes of a slot: a record with its header. Two of them are a page.
const SLOT: usize = if cfg!(feature = "small") { 320 } else { 512 };
const _: () = assert!(Pool::RECORD_LEN + 20 <= SLOT);

/// The store, and what came of it.
#[derive(Debug)]
pub struct Records<F> {
    // Kept as it was made: taken out of the result, its buffer would lie on the stack twice.
    store: Result<RecordStore<F, SLOT>, StoreError>,
    is_new: bool,
    written: u32,
    failed: u32,
}

impl<F: NorFlash> Records<F> {
    /// Takes the flash as it is, half of it for each range. Before it is used, [`Records::fit`] has to
    /// be asked.
    pub fn new(flash: F) -> Self {
        let half = u32::try_from(flash.capacity() / 2).unwrap_or(0);
        Self {
            store: RecordStore::with_slots(flash, [0..half, half..half.saturating_mul(2)]),
            is_new: false,
            written: 0,
            failed: 0,
        }
    }

    /// Whether there is a store.
    ///
    /// # Errors
    /// If the flash is too small, or a half of it is no whole number of pages. Nothing is then found,
    /// written or confirmed.
    pub fn fit(&self) -> Result<(), StoreError> {
        self.store.as_ref().map(|_| ()).map_err(|error| *error)
    }

    /// The controller, from the records as found. Whoever calls it says what the stages need ([`CARE`](crate::site::CARE)).
    // Not inlined: what was loaded is needed at no other time. And returned as it is made: a controller
    // takes 2.5 KB, and each move of it would lay another on the stack of a small board.
    #[inline(never)]
    pub fn restore(&mut self, regulators: Regulators) -> RestoredPool {
        let loaded = self.load();
        let [first, second] = &loaded;
        Pool::restore(
            CHECKED_LIMITS.clone(),
            CHECKED_SETTINGS,
            regulators,
            first.as_ref(),
            second.as_ref(),
        )
    }

    // Not inlined: reading takes more of the stack than what it leaves.
    #[inline(never)]
    fn load(&mut self) -> [Option<PoolRecord>; 2] {
        match &mut self.store {
            Ok(store) => {
                let loaded = store.load();
                self.is_new = loaded.found == [Found::Empty; 2];
                loaded.records
            }
            Err(_) => [None, None],
        }
    }

    /// Whether no record was ever written when the controller was restored.
    #[must_use]
    pub const fn is_new(&self) -> bool {
        self.is_new
    }

    /// Ticket of the record that was last read back whole and equal from both places.
    #[must_use]
    pub fn confirmed(&self) -> Option<Ticket> {
        self.store.as_ref().ok().and_then(RecordStore::saved)
    }

    /// Records written to both places since the start, and saves or erases that failed.
    #[must_use]
    pub const fn counts(&self) -> (u32, u32) {
        (self.written, self.failed)
    }

    /// Seals a record and begins to write it. If that fails it is asked for again: until then nothing
    /// new is confirmed, and the guard feeds nothing new.
    // Not inlined: the sealed record would lie on the stack for as long as its caller runs.
    #[inline(never)]
    pub fn begin(&mut self, pool: &mut Pool) {
        let mut bytes = [0; Pool::RECORD_LEN];
        let sealed = pool.seal_record(&mut bytes).is_ok();
        let begun = match &mut self.store {
            Ok(store) if sealed => store.begin(&bytes).is_ok(),
            _ => false,
        };
        if !begun {
            self.failed = self.failed.saturating_add(1);
        }
    }

    /// One step further. `feeding`: a feeder runs, and nothing may be erased.
    pub fn step(&mut self, feeding: bool) {
        let Ok(store) = &mut self.store else {
            return;
        };
        if store.is_busy() {
            if feeding && store.erases_next() {
                return;
            }
            match store.step() {
                Ok(Progress::Saved(_)) => self.written = self.written.saturating_add(1),
                Ok(_) => {}
                Err(_) => self.failed = self.failed.saturating_add(1),
            }
        } else if !feeding && store.erase_due() && store.erase_ahead().is_err() {
            self.failed = self.failed.saturating_add(1);
        }
    }
}
