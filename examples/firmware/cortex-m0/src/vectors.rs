//! The interrupts in use, and the table that the core finds them by.

use cortex_m::interrupt::InterruptNumber;

use crate::timers;

/// An interrupt in use.
#[derive(Clone, Copy)]
pub(crate) enum Line {
    /// TIMER0.
    Timer0,
    /// TIMER1.
    Timer1,
}

// SAFETY: the numbers are those of the chip, and differ.
unsafe impl InterruptNumber for Line {
    fn number(self) -> u16 {
        match self {
            Self::Timer0 => 8,
            Self::Timer1 => 9,
        }
    }
}

/// What the core jumps to.
type Handler = unsafe extern "C" fn();

extern "C" fn timer0() {
    timers::on_timer0();
}

extern "C" fn timer1() {
    timers::on_timer1();
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
    let (_, from8) = table.split_at_mut(8);
    if let [first, second, ..] = from8 {
        *first = timer0;
        *second = timer1;
    }
    table
};
