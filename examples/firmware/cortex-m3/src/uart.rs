//! The first serial port, for the link.

use crate::reg::Reg;

// SAFETY: registers of UART0 and its clock gate (data sheet, chapters UARTs and System Control); none
// touches memory.
const RCGC1: Reg = unsafe { Reg::at(0x400F_E104) };
// SAFETY: as above.
const DATA: Reg = unsafe { Reg::at(0x4000_C000) };
// SAFETY: as above.
const FLAGS: Reg = unsafe { Reg::at(0x4000_C018) };
// SAFETY: as above.
const LINE: Reg = unsafe { Reg::at(0x4000_C02C) };
// SAFETY: as above.
const CONTROL: Reg = unsafe { Reg::at(0x4000_C030) };
// SAFETY: as above.
const IRQ_MASK: Reg = unsafe { Reg::at(0x4000_C038) };

const EMPTY: u32 = 1 << 4;
const FULL: u32 = 1 << 5;
const EIGHT_BITS: u32 = 0x60;
const BOTH_WAYS: u32 = 0x301;
const RECEIVED: u32 = 1 << 4;

/// Starts it. A byte that comes in raises the port's interrupt.
pub fn set_up() {
    RCGC1.write(RCGC1.read() | 1);
    LINE.write(EIGHT_BITS);
    CONTROL.write(BOTH_WAYS);
    IRQ_MASK.write(RECEIVED);
}

/// A byte that came in, if there is one.
#[must_use]
pub fn byte() -> Option<u8> {
    if FLAGS.read() & EMPTY != 0 {
        return None;
    }
    let [byte, ..] = DATA.read().to_le_bytes();
    Some(byte)
}

/// Sends.
pub fn send(bytes: &[u8]) {
    for byte in bytes {
        while FLAGS.read() & FULL != 0 {}
        DATA.write(u32::from(*byte));
    }
}
