//! What persons did and found, in two ranges of flash of its own, apart from the guard's record: put back
//! before the first tick, saved after a tick in which nothing is driven.
//!
//! A save blocks, erases included, and nobody feeds the dead man meanwhile: one that fed it from within
//! would feed it for a chip that never answers. Instead the save has to fit in between:
//! [`SAVE_MS_MAX`] and a wake are less than each board's dead man allows (asserted beside its count), and
//! half of a tick, so that the next tick is not late. Measure what your flash takes for two erases
//! of a page and two writes of 512 bytes; if that is more, choose the ranges in a faster one.

use dosewarden::guard::units::Millis;
use dosewarden::proof::ProofTests;
use dosewarden::store::{Found, KeepError, KeptError, KeptRecord, KeptStore, StoreError};
use dosewarden::upkeep::Upkeep;
use embedded_storage::nor_flash::NorFlash;

use crate::site::{Pool, TICK_MS};

/// What a save may take, ms.
pub const SAVE_MS_MAX: u32 = 500;
const _: () = assert!(SAVE_MS_MAX * 2 <= TICK_MS);

/// After a save that failed, the next is tried so much later, ms: a chip that is broken would be erased
/// in each tick.
const AGAIN_MS: u32 = 60_000;

/// What a slot holds beside its header.
const LENGTH_MAX: usize = 492;

/// The store, what stands in it, and what came of it.
#[derive(Debug)]
pub struct Keeper<F> {
    store: Result<KeptStore<F>, StoreError>,
    found: [Found; 2],
    /// What both ranges hold, if `is_written`.
    written: KeptRecord<2>,
    is_written: bool,
    /// Counter at the last save, at the start if there was none, and at the last that failed if none
    /// followed, ms.
    saved_ms: u32,
    failed_ms: Option<u32>,
    saves: u32,
    failed: u32,
    longest_ms: u32,
}

impl<F: NorFlash> Keeper<F> {
    /// Takes the flash as it is, half of it for each range. Before it is used, [`Keeper::fit`] has to be
    /// asked.
    pub fn new(flash: F, now_ms: u32) -> Self {
        let half = u32::try_from(flash.capacity() / 2).unwrap_or(0);
        Self {
            store: KeptStore::new(flash, [0..half, half..half.saturating_mul(2)]),
            found: [Found::Empty; 2],
            written: KeptRecord::LOST,
            is_written: false,
            saved_ms: now_ms,
            failed_ms: None,
            saves: 0,
            failed: 0,
            longest_ms: 0,
        }
    }

    /// Whether there is a store.
    ///
    /// # Errors
    /// If the flash is too small, or a half of it is no whole number of pages. What was kept is then lost,
    /// and nothing is saved.
    pub fn fit(&self) -> Result<(), StoreError> {
        self.store.as_ref().map(|_| ()).map_err(|error| *error)
    }

    /// Puts back what was kept, before the first tick. `is_new`: the guard's record was never written
    /// either. Where anything but that is missing, the unit only observes until a technician ends it.
    // Not inlined: what was loaded is needed at no other time.
    #[inline(never)]
    pub fn put_back(&mut self, pool: &mut Pool, is_new: bool) {
        let read = match &mut self.store {
            Ok(store) => {
                let loaded = store.load();
                self.found = loaded.found;
                loaded.record
            }
            Err(_) => Err(KeptError::NotWhole),
        };
        self.written = KeptRecord::to_start(read, is_new);
        // A new unit's as well: a start that finds the guard's record and not this one takes it as lost.
        self.is_written = self.found == [Found::Whole; 2];
        self.written.put_back(pool);
    }

    /// Saves what has changed, if it is due. After a tick without a permit.
    ///
    /// # Errors
    /// It was not saved. It is tried again in a minute.
    // Not inlined: three records lie on the stack while they are compared.
    #[inline(never)]
    pub fn look(&mut self, pool: &Pool, clock: impl Fn() -> u32) -> Result<(), KeepError> {
        let from_ms = clock();
        let now = self.now(pool);
        let due = match self.failed_ms {
            Some(at_ms) => from_ms.wrapping_sub(at_ms) >= AGAIN_MS,
            None => {
                let since = Millis(from_ms.wrapping_sub(self.saved_ms));
                !self.is_written || now.is_due(&self.written, since)
            }
        };
        if !due {
            return Ok(());
        }
        let saved = self.save(&now);
        self.is_written = saved.is_ok();
        if saved.is_ok() {
            self.written = now;
            (self.saved_ms, self.failed_ms) = (from_ms, None);
            self.saves = self.saves.saturating_add(1);
        } else {
            self.failed_ms = Some(from_ms);
            self.failed = self.failed.saturating_add(1);
        }
        let took_ms = clock().wrapping_sub(from_ms);
        self.longest_ms = self.longest_ms.max(took_ms);
        saved
    }

    /// As it is now. This unit calibrates no probe and proves no interlock, so of both what was found is
    /// carried on. One that does has [`Upkeep`] and [`ProofTests`] beside its controller, and gives
    /// those.
    #[inline(never)]
    fn now(&self, pool: &Pool) -> KeptRecord<2> {
        let upkeep = Upkeep::restore(self.written.upkeep);
        KeptRecord::of(pool, &upkeep, &ProofTests::restore(self.written.proofs))
    }

    // Not inlined: the bytes would lie on the stack beside what is compared.
    #[inline(never)]
    fn save(&mut self, now: &KeptRecord<2>) -> Result<(), KeepError> {
        let mut buffer = [0; LENGTH_MAX];
        match &mut self.store {
            Ok(store) => store.save(now, &mut buffer),
            Err(error) => Err(KeepError::Store(*error)),
        }
    }

    /// What was found in each range at the start.
    #[must_use]
    pub const fn found(&self) -> [Found; 2] {
        self.found
    }

    /// Saves since the start, saves that failed, and how long the longest took, ms.
    #[must_use]
    pub const fn counts(&self) -> (u32, u32, u32) {
        (self.saves, self.failed, self.longest_ms)
    }
}
