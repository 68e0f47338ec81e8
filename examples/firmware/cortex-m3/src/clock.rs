//! SysTick runs free, without an interrupt, and is the counter. Timer 0 is set anew
//! for each time that the program has to wake.
//!
//! SysTick comes round after 1.34 s. The watchdog has reset the chip by then if nobody has looked.

use core::cell::Cell;

use cortex_m::peripheral::syst::SystClkSource;
use cortex_m::peripheral::{NVIC, SYST};
use critical_section::Mutex;
use firmware_common::counter::Millis;
use firmware_common::site::WAKE_MS;
use lm3s6965::Interrupt;

use crate::reg::Reg;
use crate::watchdog;

/// The core's clock after reset: 200 MHz through the divider of 16.
pub(crate) const CYCLES_A_MS: u32 = 12_500;
const MASK: u32 = 0x00FF_FFFF;
const _: () = assert!(watchdog::RESET_MS * CYCLES_A_MS < MASK);

// SAFETY: registers of timer 0 and its clock gate (data sheet, chapters General-Purpose Timers and
// System Control); none touches memory.
const RCGC1: Reg = unsafe { Reg::at(0x400F_E104) };
// SAFETY: as above.
const MODE: Reg = unsafe { Reg::at(0x4003_0004) };
// SAFETY: as above.
const CTL: Reg = unsafe { Reg::at(0x4003_000C) };
// SAFETY: as above.
const IRQ_MASK: Reg = unsafe { Reg::at(0x4003_0018) };
// SAFETY: as above.
const IRQ_CLEAR: Reg = unsafe { Reg::at(0x4003_0024) };
// SAFETY: as above.
const LOAD: Reg = unsafe { Reg::at(0x4003_0028) };

const ONCE: u32 = 1;
const TIMED_OUT: u32 = 1;

static MILLIS: Mutex<Cell<Millis>> = Mutex::new(Cell::new(Millis::from(MASK)));

pub(crate) fn start(mut syst: SYST) {
    syst.set_clock_source(SystClkSource::Core);
    syst.set_reload(MASK);
    syst.clear_current();
    syst.enable_counter();
    RCGC1.write(RCGC1.read() | (1 << 16));
    MODE.write(ONCE);
    IRQ_MASK.write(TIMED_OUT);
}

/// Sets the interrupt of timer 0 to when the counter next reaches a multiple of [`WAKE_MS`].
pub fn set_wake() {
    let _ms = now_ms();
    let counts =
        critical_section::with(|section| MILLIS.borrow(section).get().until(WAKE_MS, CYCLES_A_MS));
    CTL.write(0);
    LOAD.write(counts);
    CTL.write(1);
}

/// Sleeps until then. Masked, so that an interrupt that comes before the core sleeps still wakes it.
pub(crate) fn sleep() {
    cortex_m::interrupt::free(|_| {
        set_wake();
        cortex_m::asm::wfi();
    });
}

pub(crate) fn unmask() {
    // SAFETY: no critical section relies on this interrupt's mask.
    unsafe { NVIC::unmask(Interrupt::TIMER_0A) }
}

/// What the interrupt of timer 0 does: it wakes the program, and no more.
pub fn on_wake() {
    IRQ_CLEAR.write(TIMED_OUT);
}

/// Time since the start, ms; wraps after 49 days.
#[must_use]
pub fn now_ms() -> u32 {
    critical_section::with(|section| {
        let millis = MILLIS.borrow(section);
        let mut now = millis.get();
        let ms = now.down(SYST::get_current(), MASK, CYCLES_A_MS);
        millis.set(now);
        ms
    })
}
