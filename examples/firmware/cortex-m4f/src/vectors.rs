//! The interrupts in use, and the table that the core finds them by.

use cortex_m::interrupt::InterruptNumber;

use crate::clock;

/// An interrupt in use.
#[derive(Clone, Copy)]
pub(crate) enum Line {
    /// The dual timer.
    DualTimer,
}

// SAFETY: the number is that of the board (AN386, interrupts).
unsafe impl InterruptNumber for Line {
    fn number(self) -> u16 {
        match self {
            Self::DualTimer => 10,
        }
    }
}

/// What the core jumps to.
type Handler = unsafe extern "C" fn();

extern "C" fn dual_timer() {
    clock::on_wake();
}

/// An interrupt that nobody has unmasked: the dead man then does the rest.
extern "C" fn unused() {
    crate::pins::all_off();
}

/// The table of the chip's interrupts.
#[unsafe(link_section = ".vector_table.interrupts")]
#[unsafe(no_mangle)]
pub(crate) static __INTERRUPTS: [Handler; 32] = {
    let mut table: [Handler; 32] = [unused; 32];
    let (_, from10) = table.split_at_mut(10);
    if let [first, ..] = from10 {
        *first = dual_timer;
    }
    table
};
