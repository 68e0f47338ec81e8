//! TIMER0 runs free at 1 MHz: it is the counter, and wakes the program each slice. TIMER1 is the dead
//! man: its interrupt turns the outputs off and resets the chip, unless the main program clears it.

use core::sync::atomic::{AtomicU32, Ordering};

use cortex_m::interrupt;
use cortex_m::peripheral::{NVIC, SCB};
use firmware_common::site::{DEAD_MAN_MS_MAX, SLICE_MS};

use crate::pins;
use crate::reg::Reg;
use crate::vectors::Line;

const TIMER0: usize = 0x4000_8000;
const TIMER1: usize = 0x4000_9000;
const START: usize = 0x000;
const CLEAR: usize = 0x00C;
const CAPTURE1: usize = 0x044;
const COMPARE0: usize = 0x140;
const ENABLE_IRQ: usize = 0x304;
const BITS: usize = 0x508;
const PRESCALER: usize = 0x510;
const CC0: usize = 0x540;
const CC1: usize = 0x544;

const WIDTH_32: u32 = 3;
const IRQ_COMPARE0: u32 = 1 << 16;
/// 16 MHz by 2 to this: 1 MHz.
const TO_MICROS: u32 = 4;

const SLICE_US: u32 = SLICE_MS * 1000;
/// Shorter than the stated time by the slice in which it was fed, and some.
const DEAD_MAN_MS: u32 = 1600;
const _: () = assert!(DEAD_MAN_MS + SLICE_MS <= DEAD_MAN_MS_MAX);

/// Microseconds of the counter that are in `MILLIS` already, and those milliseconds. The counter wraps
/// after 71 minutes: it has to be looked at more often, and is, each slice.
static TAKEN_US: AtomicU32 = AtomicU32::new(0);
static MILLIS: AtomicU32 = AtomicU32::new(0);

fn timer(base: usize, offset: usize) -> Reg {
    // SAFETY: a register of TIMER0 or TIMER1 (nRF51 reference manual, chapter TIMER); none touches
    // memory.
    unsafe { Reg::at(base.wrapping_add(offset)) }
}

pub(crate) fn start(mut nvic: NVIC) {
    for base in [TIMER0, TIMER1] {
        timer(base, BITS).write(WIDTH_32);
        timer(base, PRESCALER).write(TO_MICROS);
        timer(base, CLEAR).write(1);
        timer(base, ENABLE_IRQ).write(IRQ_COMPARE0);
    }
    timer(TIMER0, CC0).write(SLICE_US);
    timer(TIMER1, CC0).write(DEAD_MAN_MS * 1000);
    // SAFETY: the priorities are set before either interrupt is unmasked, and no critical section
    // relies on them. The dead man is above the other.
    unsafe {
        nvic.set_priority(Line::Timer1, 0);
        nvic.set_priority(Line::Timer0, 0x80);
        NVIC::unmask(Line::Timer0);
        NVIC::unmask(Line::Timer1);
    }
    timer(TIMER0, START).write(1);
    timer(TIMER1, START).write(1);
}

/// Time since the start, ms; wraps after 49 days.
pub fn now_ms() -> u32 {
    interrupt::free(|_| {
        timer(TIMER0, CAPTURE1).write(1);
        let now_us = timer(TIMER0, CC1).read();
        let taken_us = TAKEN_US.load(Ordering::Relaxed);
        let whole_ms = now_us.wrapping_sub(taken_us) / 1000;
        let millis = MILLIS.load(Ordering::Relaxed).wrapping_add(whole_ms);
        MILLIS.store(millis, Ordering::Relaxed);
        let more_us = whole_ms.saturating_mul(1000);
        TAKEN_US.store(taken_us.wrapping_add(more_us), Ordering::Relaxed);
        millis
    })
}

/// Starts the dead man's count anew.
pub(crate) fn feed() {
    timer(TIMER1, CLEAR).write(1);
}

/// The next slice: wakes the main program, and does nothing else.
pub(crate) fn on_timer0() {
    timer(TIMER0, COMPARE0).write(0);
    let next = timer(TIMER0, CC0).read().wrapping_add(SLICE_US);
    timer(TIMER0, CC0).write(next);
}

/// The main program has not been round: outputs off, and a new start.
pub(crate) fn on_timer1() {
    pins::all_off();
    SCB::sys_reset()
}
