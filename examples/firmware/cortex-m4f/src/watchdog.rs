//! The watchdog: turns the outputs off at the end of its first count, by an interrupt that nothing can
//! mask, and resets the chip at the end of the second.

use firmware_common::keeper::SAVE_MS_MAX;
use firmware_common::site::{DEAD_MAN_MS_MAX, WAKE_MS};

use crate::clock::CYCLES_A_MS;
use crate::reg::Reg;

/// Of one count; both are within the stated time.
const COUNT_MS: u32 = 800;
const _: () = assert!(2 * COUNT_MS <= DEAD_MAN_MS_MAX);
// What persons did is saved in one go, with a wake before it: that must not look like a hang.
const _: () = assert!(WAKE_MS + SAVE_MS_MAX < COUNT_MS);

// SAFETY: registers of the watchdog (CMSDK reference manual, APB watchdog); none touches memory.
const LOAD: Reg = unsafe { Reg::at(0x4000_8000) };
// SAFETY: as above.
const CTL: Reg = unsafe { Reg::at(0x4000_8008) };
// SAFETY: as above.
const CLEAR: Reg = unsafe { Reg::at(0x4000_800C) };
// SAFETY: as above.
const LOCK: Reg = unsafe { Reg::at(0x4000_8C00) };

const UNLOCK: u32 = 0x1ACC_E551;
const INTERRUPT_AND_RESET: u32 = 0b11;

pub(crate) fn start() {
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

/// The end of the first count. The interrupt is not cleared, so that the second one resets.
#[cortex_m_rt::exception]
unsafe fn NonMaskableInt() {
    crate::pins::all_off();
}
