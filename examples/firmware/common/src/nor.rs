//! NOR flash in a range of memory, for boards whose emulator has no flash controller: an erase sets
//! whole pages to ones, a write only takes ones away.

use embedded_storage::nor_flash::{
    ErrorType, NorFlash, NorFlashErrorKind, ReadNorFlash, check_erase, check_read, check_write,
};

/// Bytes of a page, the unit of an erase.
pub const PAGE: usize = 1024;

/// NOR flash over memory that the board gives: a whole number of pages that a reset leaves alone.
#[derive(Debug)]
pub struct MemoryNor {
    bytes: &'static mut [u8],
    erases: u32,
}

impl MemoryNor {
    /// Takes the memory as it is.
    #[must_use]
    pub fn new(bytes: &'static mut [u8]) -> Self {
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

impl ErrorType for MemoryNor {
    type Error = NorFlashErrorKind;
}

impl ReadNorFlash for MemoryNor {
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

impl NorFlash for MemoryNor {
    const WRITE_SIZE: usize = 4;
    const ERASE_SIZE: usize = PAGE;

    fn erase(&mut self, from: u32, to: u32) -> Result<(), Self::Error> {
        check_erase(self, from, to)?;
        let length =
            usize::try_from(to.saturating_sub(from)).map_err(|_| NorFlashErrorKind::OutOfBounds)?;
        let pages = to.saturating_sub(from).div_ceil(1024);
        self.part(from, length)?.fill(0xFF);
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
