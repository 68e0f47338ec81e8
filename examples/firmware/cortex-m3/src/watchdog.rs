//! The watchdog: resets the chip, and with it every output, if nobody feeds it. It counts down twice:
//! the first time it raises an interrupt that nobody takes, the second time it resets.

use firmware_common::keeper::SAVE_MS_MAX;
use firmware_common::site::{DEAD_MAN_MS_MAX, WAKE_MS};

use crate::clock::CYCLES_A_MS;
use crate::reg::Reg;

const COUNT_MS: u32 = 600;
/// From the last feed to the reset, ms.
pub(crate) const RESET_MS: u32 = 2 * COUNT_MS;
const _: () = assert!(RESET_MS <= DEAD_MAN_MS_MAX);
// What persons did is saved in one go, with a wake before it: that must not look like a hang.
const _: () = assert!(WAKE_MS + SAVE_MS_MAX < RESET_MS);

// SAFETY: registers of the watchdog and its clock gate (data sheet, chapters Watchdog Timer and System
// Control); none touches memory.
const RCGC0: Reg = unsafe { Reg::at(0x400F_E100) };
// SAFETY: as above.
const LOAD: Reg = unsafe { Reg::at(0x4000_0000) };
// SAFETY: as above.
const CTL: Reg = unsafe { Reg::at(0x4000_0008) };
// SAFETY: as above.
const CLEAR: Reg = unsafe { Reg::at(0x4000_000C) };
// SAFETY: as above.
const LOCK: Reg = unsafe { Reg::at(0x4000_0C00) };

const UNLOCK: u32 = 0x1ACC_E551;
const INTERRUPT_AND_RESET: u32 = 0b11;

pub(crate) fn start() {
    RCGC0.write(RCGC0.read() | (1 << 3));
    LOCK.write(UNLOCK);
    LOAD.write(COUNT_MS * CYCLES_A_MS);
    CTL.write(INTERRUPT_AND_RESET);
    // A program that runs wild should not stop it by a stray write.
    LOCK.write(0);
}

/// Starts the count anew.
pub fn feed() {
    LOCK.write(UNLOCK);
    CLEAR.write(0);
    LOCK.write(0);
}
