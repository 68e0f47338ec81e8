//! Two copies of the record in two ranges of NOR flash. They are written one after the other, each
//! whole, so a power cut leaves one of them as it was; and a record counts as saved only once both
//! were read back and are equal.

use dosewarden::guard::{RecordError, Ticket};
use embedded_storage::nor_flash::NorFlash;

use crate::site::{Pool, PoolRecord};

/// A record with its padding: a multiple of every size in which a board may write.
const LENGTH: usize = Pool::RECORD_LEN.next_multiple_of(16);

/// Why nothing was saved.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SaveError {
    /// The record could not be sealed.
    Seal(RecordError),
    /// The flash could not be erased, written or read.
    Flash,
    /// What was read back is not what was written.
    Differs,
}

/// The store: flash of at least two ranges. It is used from its first byte.
#[derive(Debug)]
pub struct Records<F> {
    flash: F,
    confirmed: Option<Ticket>,
    written: u32,
    failed: u32,
}

impl<F: NorFlash> Records<F> {
    /// Bytes of one range: whole pages that hold a record.
    const RANGE: usize = LENGTH.next_multiple_of(F::ERASE_SIZE);

    /// Takes the flash as it is.
    pub const fn new(flash: F) -> Self {
        Self {
            flash,
            confirmed: None,
            written: 0,
            failed: 0,
        }
    }

    /// The copies as found; `None` for one that is not whole.
    pub fn copies(&mut self) -> [Option<PoolRecord>; 2] {
        [0, 1].map(|copy| {
            let mut bytes = [0; LENGTH];
            self.read(copy, &mut bytes).ok()?;
            PoolRecord::decode(&bytes).ok()
        })
    }

    /// Ticket of the record that was last read back whole and equal from both places.
    #[must_use]
    pub const fn confirmed(&self) -> Option<Ticket> {
        self.confirmed
    }

    /// Records written to both places since the start, and attempts that failed.
    #[must_use]
    pub const fn counts(&self) -> (u32, u32) {
        (self.written, self.failed)
    }

    /// Seals a record, writes it to both places, and reads both back. On an error nothing is
    /// confirmed: the guard then feeds nothing new, and the record is asked for again.
    ///
    /// # Errors
    /// What went wrong first.
    pub fn save(&mut self, pool: &mut Pool) -> Result<(), SaveError> {
        self.confirmed = None;
        let saved = self.try_save(pool);
        match saved {
            Ok(ticket) => {
                self.confirmed = Some(ticket);
                self.written = self.written.saturating_add(1);
                Ok(())
            }
            Err(error) => {
                self.failed = self.failed.saturating_add(1);
                Err(error)
            }
        }
    }

    fn try_save(&mut self, pool: &mut Pool) -> Result<Ticket, SaveError> {
        let mut bytes = [0xFF; LENGTH];
        let sealed = pool.seal_record(&mut bytes).map_err(SaveError::Seal)?;
        for copy in [0, 1] {
            let from = Self::start(copy)?;
            let to = Self::start(copy.saturating_add(1))?;
            self.flash.erase(from, to).map_err(|_| SaveError::Flash)?;
            self.flash
                .write(from, &bytes)
                .map_err(|_| SaveError::Flash)?;
            let mut back = [0; LENGTH];
            self.read(copy, &mut back)?;
            let whole = back.get(..Pool::RECORD_LEN).and_then(Ticket::of);
            if whole != Some(sealed) {
                return Err(SaveError::Differs);
            }
        }
        Ok(sealed)
    }

    fn start(copy: usize) -> Result<u32, SaveError> {
        u32::try_from(copy.saturating_mul(Self::RANGE)).map_err(|_| SaveError::Flash)
    }

    fn read(&mut self, copy: usize, bytes: &mut [u8]) -> Result<(), SaveError> {
        let from = Self::start(copy)?;
        self.flash.read(from, bytes).map_err(|_| SaveError::Flash)
    }
}
