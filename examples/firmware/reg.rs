//! A register at a fixed address. Shared as a file by the board crates, which are the only ones with
//! unsafe code.

/// A 32-bit register.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Reg(usize);

impl Reg {
    /// # Safety
    /// `address` has to be that of a 32-bit register of this board, which may be read and written at
    /// any time without breaking what the compiler relies on: none that moves or changes memory.
    pub(crate) const unsafe fn at(address: usize) -> Self {
        Self(address)
    }

    #[inline]
    pub(crate) fn read(self) -> u32 {
        let register: *const u32 = core::ptr::with_exposed_provenance(self.0);
        // SAFETY: a register of this board, as whoever made `self` has said.
        unsafe { register.read_volatile() }
    }

    #[inline]
    pub(crate) fn write(self, value: u32) {
        let register: *mut u32 = core::ptr::with_exposed_provenance_mut(self.0);
        // SAFETY: a register of this board, as whoever made `self` has said.
        unsafe { register.write_volatile(value) }
    }
}
