//! NOR flash whose power goes at a given place in a write or an erase. What a data sheet calls
//! undefined is made as bad as the record store's tests on the host make it.

use embedded_storage::nor_flash::{
    ErrorType, NorFlash, NorFlashErrorKind, ReadNorFlash, check_erase, check_write,
};

use crate::nor::{MemoryNor, PAGE};

/// Ways in which an erase that is cut may leave a page.
const ERASE_WAYS: u32 = 7;

/// Memory that stands for flash, and the board's reset in it.
#[derive(Debug)]
pub struct CutNor<'a> {
    nor: &'a mut MemoryNor,
    reset: fn() -> !,
    /// Places that are passed before the power goes.
    left: u32,
    /// Writes and erases that were done.
    operations: u32,
    noise: u32,
}

impl<'a> CutNor<'a> {
    /// The power goes at the `nth` place from here on: two in each byte that is written (before it,
    /// and with half of its bits), seven in each erase of a page.
    pub const fn new(nor: &'a mut MemoryNor, nth: u32, reset: fn() -> !) -> Self {
        Self {
            nor,
            reset,
            left: nth,
            operations: 0,
            noise: 0x9E37_79B9 ^ nth,
        }
    }

    /// Writes and erases of pages that came to their end.
    #[must_use]
    pub const fn operations(&self) -> u32 {
        self.operations
    }

    /// One place further. True if the power goes here.
    const fn goes(&mut self) -> bool {
        match self.left.checked_sub(1) {
            Some(left) => {
                self.left = left;
                false
            }
            None => true,
        }
    }

    /// A page after an erase that was cut: untouched, half of it erased from either end, all bits on
    /// their way, all of it noise, the first bytes noise, or all of it blank.
    fn erase_cut(&mut self, page: u32, way: u32) -> Result<(), NorFlashErrorKind> {
        let mut noise = self.noise;
        for (nth, cell) in self.nor.part(page, PAGE)?.iter_mut().enumerate() {
            // xorshift32 (Marsaglia 2003): the same in each run, and good enough for noise.
            noise ^= noise << 13;
            noise ^= noise >> 17;
            noise ^= noise << 5;
            let [byte, ..] = noise.to_le_bytes();
            *cell = match way {
                0 => *cell,
                1 if nth >= PAGE / 2 => *cell,
                2 if nth < PAGE / 2 => *cell,
                3 => *cell | byte,
                4 => byte,
                5 if nth < 4 => byte,
                _ => 0xFF,
            };
        }
        Ok(())
    }

    fn program(&mut self, at: u32, byte: u8) -> Result<(), NorFlashErrorKind> {
        for cell in self.nor.part(at, 1)? {
            *cell &= byte;
        }
        Ok(())
    }
}

impl ErrorType for CutNor<'_> {
    type Error = NorFlashErrorKind;
}

impl ReadNorFlash for CutNor<'_> {
    const READ_SIZE: usize = <MemoryNor>::READ_SIZE;

    fn read(&mut self, offset: u32, bytes: &mut [u8]) -> Result<(), Self::Error> {
        self.nor.read(offset, bytes)
    }

    fn capacity(&self) -> usize {
        self.nor.capacity()
    }
}

impl NorFlash for CutNor<'_> {
    const WRITE_SIZE: usize = <MemoryNor>::WRITE_SIZE;
    const ERASE_SIZE: usize = <MemoryNor>::ERASE_SIZE;

    fn erase(&mut self, from: u32, to: u32) -> Result<(), Self::Error> {
        check_erase(self, from, to)?;
        let mut page = from;
        while page < to {
            for way in 0..ERASE_WAYS {
                if self.goes() {
                    self.erase_cut(page, way)?;
                    (self.reset)()
                }
            }
            let after = page.saturating_add(1024);
            self.nor.erase(page, after)?;
            self.operations = self.operations.saturating_add(1);
            page = after;
        }
        Ok(())
    }

    fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), Self::Error> {
        check_write(self, offset, bytes.len())?;
        let mut at = offset;
        for byte in bytes {
            if self.goes() {
                (self.reset)()
            }
            if self.goes() {
                let missing = if at.is_multiple_of(2) { 0xF0 } else { 0x0F };
                self.program(at, byte | missing)?;
                (self.reset)()
            }
            self.program(at, *byte)?;
            at = at.saturating_add(1);
        }
        self.operations = self.operations.saturating_add(1);
        Ok(())
    }
}
