//! Timer 0 of the board runs free, 32 bits wide, and is the counter. The dual timer is set
//! anew for each time that the program has to wake.

use core::cell::Cell;

use cortex_m::peripheral::NVIC;
use critical_section::Mutex;
use firmware_common::counter::Millis;
use firmware_common::site::WAKE_MS;

use crate::reg::Reg;
use crate::vectors::Line;

/// The board's clock: 25 MHz.
pub(crate) const CYCLES_A_MS: u32 = 25_000;

// SAFETY: registers of timer 0 (CMSDK reference manual, APB timer); none touches memory.
const CTL: Reg = unsafe { Reg::at(0x4000_0000) };
// SAFETY: as above.
const VALUE: Reg = unsafe { Reg::at(0x4000_0004) };
// SAFETY: as above.
const RELOAD: Reg = unsafe { Reg::at(0x4000_0008) };

// SAFETY: registers of the dual timer (CMSDK reference manual, APB dual timer); none touches memory.
const WAKE_LOAD: Reg = unsafe { Reg::at(0x4000_2000) };
// SAFETY: as above.
const WAKE_CTL: Reg = unsafe { Reg::at(0x4000_2008) };
// SAFETY: as above.
const WAKE_CLEAR: Reg = unsafe { Reg::at(0x4000_200C) };

const ENABLED: u32 = 1 << 7;
const INTERRUPT: u32 = 1 << 5;
const BITS_32: u32 = 1 << 1;
const ONCE: u32 = 1;

static MILLIS: Mutex<Cell<Millis>> = Mutex::new(Cell::new(Millis::from(u32::MAX)));

pub(crate) fn start() {
    RELOAD.write(u32::MAX);
    VALUE.write(u32::MAX);
    CTL.write(1);
    // SAFETY: no critical section relies on this interrupt's mask.
    unsafe { NVIC::unmask(Line::DualTimer) }
}

/// Sleeps until the counter next reaches a multiple of [`WAKE_MS`]. Masked, so that an interrupt that
/// comes before the core sleeps still wakes it.
pub(crate) fn sleep() {
    let _ms = now_ms();
    critical_section::with(|section| {
        let now = MILLIS.borrow(section).get();
        WAKE_CTL.write(0);
        WAKE_LOAD.write(now.until(WAKE_MS, CYCLES_A_MS));
        WAKE_CTL.write(ENABLED | INTERRUPT | BITS_32 | ONCE);
        cortex_m::asm::wfi();
    });
}

/// Wakes the program, and does no more.
pub(crate) fn on_wake() {
    WAKE_CLEAR.write(1);
}

/// Time since the start, ms; wraps after 49 days.
#[must_use]
pub fn now_ms() -> u32 {
    critical_section::with(|section| {
        let millis = MILLIS.borrow(section);
        let mut now = millis.get();
        let ms = now.down(VALUE.read(), u32::MAX, CYCLES_A_MS);
        millis.set(now);
        ms
    })
}
