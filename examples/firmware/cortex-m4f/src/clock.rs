//! Timer 0 of the board runs free, 32 bits wide, and is the counter. SysTick wakes the program.

use core::cell::Cell;

use cortex_m::peripheral::SYST;
use cortex_m::peripheral::syst::SystClkSource;
use critical_section::Mutex;
use firmware_common::counter::Millis;
use firmware_common::site::WAKE_MS_MAX;

use crate::reg::Reg;

/// The board's clock: 25 MHz.
pub(crate) const CYCLES_A_MS: u32 = 25_000;

/// Half of what is allowed: one interrupt may be lost.
const WAKE_MS: u32 = WAKE_MS_MAX / 2;

// SAFETY: registers of timer 0 (CMSDK reference manual, APB timer); none touches memory.
const CTL: Reg = unsafe { Reg::at(0x4000_0000) };
// SAFETY: as above.
const VALUE: Reg = unsafe { Reg::at(0x4000_0004) };
// SAFETY: as above.
const RELOAD: Reg = unsafe { Reg::at(0x4000_0008) };

static MILLIS: Mutex<Cell<Millis>> = Mutex::new(Cell::new(Millis::from(u32::MAX)));

pub(crate) fn start(mut syst: SYST) {
    RELOAD.write(u32::MAX);
    VALUE.write(u32::MAX);
    CTL.write(1);
    syst.set_clock_source(SystClkSource::Core);
    syst.set_reload(WAKE_MS * CYCLES_A_MS - 1);
    syst.clear_current();
    syst.enable_counter();
    syst.enable_interrupt();
}

/// Wakes the program, and does no more.
#[cortex_m_rt::exception]
fn SysTick() {}

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
