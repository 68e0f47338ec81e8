//! NOR flash in a range of memory, for boards whose emulator has no flash controller: an erase sets
//! whole pages to ones, a write only takes ones away.

use embedded_storage::nor_flash::{
    ErrorType, NorFlash, NorFlashErrorKind, ReadNorFlash, check_erase, check_read, check_write,
};

use crate::board::Flash;

/// Bytes of a page, the unit of an erase. Of the guard's record it has to hold two slots: it is saved in
/// the middle of a dose too, when nothing may be erased.
pub const PAGE: usize = if cfg!(feature = "small") { 640 } else { 1024 };

/// Bytes of a page for what persons did: one slot does, since nothing is saved while a feeder runs.
pub const KEPT_PAGE: usize = if cfg!(feature = "small") { 512 } else { 1024 };

/// Bytes of four pages for each record: what a board gives.
pub const BYTES: usize = 4 * (PAGE + KEPT_PAGE);

/// What stands beside memory that was erased once, as flash is when it is made.
const MADE: u32 = 0x4D41_4445;

/// Flash of a board that has none: memory that a reset leaves alone.
pub type MemoryFlash = Flash<MemoryNor, MemoryNor<KEPT_PAGE>>;

/// Four pages of the memory for each record. `mark` is left alone by a reset, as the memory is: where it
/// says nothing the power has come, and the memory is erased, as flash comes from its maker.
#[must_use]
pub fn flash(bytes: &'static mut [u8; BYTES], mark: &mut u32) -> MemoryFlash {
    if *mark != MADE {
        bytes.fill(0xFF);
        *mark = MADE;
    }
    let (records, kept) = bytes.split_at_mut(4 * PAGE);
    Flash {
        records: MemoryNor::new(records),
        kept: MemoryNor::new(kept),
    }
}

/// NOR flash over memory that the board gives: a whole number of pages that a reset leaves alone.
#[derive(Debug)]
pub struct MemoryNor<const P: usize = PAGE> {
    bytes: &'static mut [u8],
    erases: u32,
}

impl<const P: usize> MemoryNor<P> {
    /// Takes the memory as it is.
    #[must_use]
    pub const fn new(bytes: &'static mut [u8]) -> Self {
        Self { bytes, erases: 0 }
    }

    /// Pages erased since the start.
    #[must_use]
    pub const fn erases(&self) -> u32 {
        self.erases
    }

    pub(crate) fn part(
        &mut self,
        from: u32,
        length: usize,
    ) -> Result<&mut [u8], NorFlashErrorKind> {
        let from = usize::try_from(from).map_err(|_| NorFlashErrorKind::OutOfBounds)?;
        self.bytes
            .get_mut(from..from.saturating_add(length))
            .ok_or(NorFlashErrorKind::OutOfBounds)
    }
}

impl<const P: usize> ErrorType for MemoryNor<P> {
    type Error = NorFlashErrorKind;
}

impl<const P: usize> ReadNorFlash for MemoryNor<P> {
    const READ_SIZE: usize = 1;

    fn read(&mut self, offset: u32, bytes: &mut [u8]) -> Result<(), Self::Error> {
        check_read(self, offset, bytes.len())?;
        bytes.copy_from_slice(self.part(offset, bytes.len())?);
        Ok(())
    }

    fn capacity(&self) -> usize {
        self.bytes.len()
    }
}

impl<const P: usize> NorFlash for MemoryNor<P> {
    const WRITE_SIZE: usize = 4;
    const ERASE_SIZE: usize = P;

    fn erase(&mut self, from: u32, to: u32) -> Result<(), Self::Error> {
        check_erase(self, from, to)?;
        let length =
            usize::try_from(to.saturating_sub(from)).map_err(|_| NorFlashErrorKind::OutOfBounds)?;
        self.part(from, length)?.fill(0xFF);
        let pages = length.div_ceil(P);
        let pages = u32::try_from(pages).unwrap_or(u32::MAX);
        self.erases = self.erases.saturating_add(pages);
        Ok(())
    }

    fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), Self::Error> {
        check_write(self, offset, bytes.len())?;
        for (cell, byte) in self.part(offset, bytes.len())?.iter_mut().zip(bytes) {
            *cell &= byte;
        }
        Ok(())
    }
}
