//! TIMER0 runs free at 1 MHz: it is the counter, and wakes the program. TIMER1 is the dead
//! man: its interrupt turns the outputs off and resets the chip, unless the main program clears it.

use core::cell::Cell;

use cortex_m::peripheral::{NVIC, SCB};
use critical_section::Mutex;
use firmware_common::counter::Millis;
use firmware_common::keeper::SAVE_MS_MAX;
use firmware_common::site::{DEAD_MAN_MS_MAX, WAKE_MS};

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

const MICROS_A_MS: u32 = 1000;
/// A compare nearer than this could be past before it is set, and would come 71 minutes later.
const LEAD_US: u32 = 50;
const DEAD_MAN_MS: u32 = 1600;
const _: () = assert!(DEAD_MAN_MS <= DEAD_MAN_MS_MAX);
// What persons did is saved in one go, with a wake before it: that must not look like a hang.
const _: () = assert!(WAKE_MS + SAVE_MS_MAX < DEAD_MAN_MS);

/// The counter comes round after 71 minutes, and is looked at each time that the program wakes.
static MILLIS: Mutex<Cell<Millis>> = Mutex::new(Cell::new(Millis::from(0)));

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
    timer(TIMER1, CC0).write(DEAD_MAN_MS * MICROS_A_MS);
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
#[must_use]
pub fn now_ms() -> u32 {
    critical_section::with(|section| {
        timer(TIMER0, CAPTURE1).write(1);
        let millis = MILLIS.borrow(section);
        let mut now = millis.get();
        let ms = now.up(timer(TIMER0, CC1).read(), u32::MAX, MICROS_A_MS);
        millis.set(now);
        ms
    })
}

/// Starts the dead man's count anew.
pub(crate) fn feed() {
    timer(TIMER1, CLEAR).write(1);
}

/// Sleeps until the counter next reaches a multiple of [`WAKE_MS`]. Masked, so that an interrupt that
/// comes before the core sleeps still wakes it.
pub(crate) fn sleep() {
    let _ms = now_ms();
    critical_section::with(|section| {
        let now = MILLIS.borrow(section).get();
        let counts = now.until(WAKE_MS, MICROS_A_MS).max(LEAD_US);
        timer(TIMER0, CC0).write(now.shows().wrapping_add(counts));
        cortex_m::asm::wfi();
    });
}

/// Wakes the program, and does no more.
pub(crate) fn on_timer0() {
    timer(TIMER0, COMPARE0).write(0);
}

/// The main program has not been round: outputs off, and a new start.
pub(crate) fn on_timer1() {
    pins::all_off();
    SCB::sys_reset()
}
