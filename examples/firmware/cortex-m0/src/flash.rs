//! The last eight pages of the chip's own flash, through its controller: four for each record.

use embedded_storage::nor_flash::{
    ErrorType, NorFlash, NorFlashErrorKind, ReadNorFlash, check_erase, check_read, check_write,
};

use firmware_common::board::Flash;

use crate::reg::Reg;

const PAGE: usize = 1024;
const BYTES: usize = 4 * PAGE;
const PAGES_END: u32 = 4096;
/// Behind what `memory.x` gives to the program.
const FIRST: usize = 0x0003_E000;

// SAFETY: registers of the NVMC (nRF51 reference manual, chapter NVMC). An erase or a write touches
// only the address given, and `Nvmc` gives none but its own pages, which the linker does not use.
const READY: Reg = unsafe { Reg::at(0x4001_E400) };
// SAFETY: as above.
const MODE: Reg = unsafe { Reg::at(0x4001_E504) };
// SAFETY: as above.
const ERASE_PAGE: Reg = unsafe { Reg::at(0x4001_E508) };

const READ_ONLY: u32 = 0;
const WRITE: u32 = 1;
const ERASE: u32 = 2;

/// Four pages, from this address on.
#[derive(Debug)]
pub struct Nvmc(usize);

/// Called once, by the board's set-up.
pub(crate) fn take() -> Flash<Nvmc> {
    let mut flash = Flash {
        records: Nvmc(FIRST),
        kept: Nvmc(FIRST + BYTES),
    };
    // The emulator's flash comes as zeros, which no record is; a chip's comes blank from its maker.
    if flash.records.is_zeros() && flash.kept.is_zeros() {
        for pages in [&mut flash.records, &mut flash.kept] {
            // What could not be erased is found as rotten: the unit then observes, and says so.
            let _found_rotten = pages.erase(0, PAGES_END);
        }
    }
    flash
}

impl Nvmc {
    fn is_zeros(&self) -> bool {
        (0..PAGES_END)
            .step_by(4)
            .all(|at| word(self.0, at).is_ok_and(|word| word.read() == 0))
    }
}

fn word(first: usize, offset: u32) -> Result<Reg, NorFlashErrorKind> {
    let offset = usize::try_from(offset).map_err(|_| NorFlashErrorKind::OutOfBounds)?;
    if offset >= BYTES || !offset.is_multiple_of(4) {
        return Err(NorFlashErrorKind::OutOfBounds);
    }
    // SAFETY: a word of the pages, which no Rust object lies in.
    Ok(unsafe { Reg::at(first.wrapping_add(offset)) })
}

fn in_mode<T>(
    mode: u32,
    work: impl FnOnce() -> Result<T, NorFlashErrorKind>,
) -> Result<T, NorFlashErrorKind> {
    MODE.write(mode);
    let done = work();
    while READY.read() == 0 {}
    // What runs wild after this finds the flash shut.
    MODE.write(READ_ONLY);
    done
}

impl ErrorType for Nvmc {
    type Error = NorFlashErrorKind;
}

impl ReadNorFlash for Nvmc {
    const READ_SIZE: usize = 4;

    fn read(&mut self, offset: u32, bytes: &mut [u8]) -> Result<(), Self::Error> {
        check_read(self, offset, bytes.len())?;
        let mut at = offset;
        for part in bytes.chunks_mut(4) {
            part.copy_from_slice(&word(self.0, at)?.read().to_le_bytes());
            at = at.saturating_add(4);
        }
        Ok(())
    }

    fn capacity(&self) -> usize {
        BYTES
    }
}

impl NorFlash for Nvmc {
    const WRITE_SIZE: usize = 4;
    const ERASE_SIZE: usize = PAGE;

    fn erase(&mut self, from: u32, to: u32) -> Result<(), Self::Error> {
        check_erase(self, from, to)?;
        let base = u32::try_from(self.0).map_err(|_| NorFlashErrorKind::OutOfBounds)?;
        let mut page = from;
        while page < to {
            in_mode(ERASE, || {
                ERASE_PAGE.write(base.wrapping_add(page));
                Ok(())
            })?;
            page = page.saturating_add(1024);
        }
        Ok(())
    }

    fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), Self::Error> {
        check_write(self, offset, bytes.len())?;
        let mut at = offset;
        for part in bytes.chunks(4) {
            let mut value = [0xFF; 4];
            value.copy_from_slice(part);
            in_mode(WRITE, || {
                word(self.0, at)?.write(u32::from_le_bytes(value));
                Ok(())
            })?;
            at = at.saturating_add(4);
        }
        Ok(())
    }
}
