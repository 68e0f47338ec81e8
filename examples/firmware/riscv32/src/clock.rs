//! `mtime` runs free and is the counter. `mtimecmp` serves twice: while the program sleeps it is set to
//! when it has to wake, else to when the dead man strikes.

use core::cell::Cell;

use critical_section::Mutex;
use firmware_common::counter::Millis;
use firmware_common::keeper::SAVE_MS_MAX;
use firmware_common::site::{DEAD_MAN_MS_MAX, WAKE_MS};

use crate::reg::Reg;

/// 10 MHz in the emulator. The real chip counts 32,768 a second: there, count in seconds by 32,768.
const COUNTS_A_MS: u32 = 10_000;
const DEAD_MAN_MS: u32 = 1600;
const _: () = assert!(DEAD_MAN_MS <= DEAD_MAN_MS_MAX);
// What persons did is saved in one go, with a wake before it: that must not look like a hang.
const _: () = assert!(WAKE_MS + SAVE_MS_MAX < DEAD_MAN_MS);

// SAFETY: registers of the core-local interruptor (FE310 manual, chapter CLINT); none touches memory.
const COMPARE_LOW: Reg = unsafe { Reg::at(0x0200_4000) };
// SAFETY: as above.
const COMPARE_HIGH: Reg = unsafe { Reg::at(0x0200_4004) };
// SAFETY: as above.
const TIME_LOW: Reg = unsafe { Reg::at(0x0200_BFF8) };
// SAFETY: as above.
const TIME_HIGH: Reg = unsafe { Reg::at(0x0200_BFFC) };

/// The low half of `mtime` comes round after seven minutes, and is looked at each time that the program
/// wakes.
static MILLIS: Mutex<Cell<Millis>> = Mutex::new(Cell::new(Millis::from(0)));
/// When the dead man strikes.
static STRIKES: Mutex<Cell<u64>> = Mutex::new(Cell::new(u64::MAX));

fn time() -> u64 {
    loop {
        let high = TIME_HIGH.read();
        let low = TIME_LOW.read();
        if TIME_HIGH.read() == high {
            return (u64::from(high) << 32) | u64::from(low);
        }
    }
}

/// Sets the compare register; it is far away while only one half of it is new.
fn compare_at(time: u64) {
    let [low, high] = [time & u64::from(u32::MAX), time >> 32]
        .map(|half| u32::try_from(half).unwrap_or(u32::MAX));
    COMPARE_HIGH.write(u32::MAX);
    COMPARE_LOW.write(low);
    COMPARE_HIGH.write(high);
}

pub(crate) fn start() {
    critical_section::with(|section| {
        MILLIS.borrow(section).set(Millis::from(TIME_LOW.read()));
    });
    feed();
    // SAFETY: no critical section relies on this interrupt's mask, and its handler is below.
    unsafe {
        riscv::register::mie::set_mtimer();
        riscv::interrupt::enable();
    }
}

/// Starts the dead man's count anew.
pub(crate) fn feed() {
    let strikes = time().saturating_add(u64::from(DEAD_MAN_MS * COUNTS_A_MS));
    critical_section::with(|section| STRIKES.borrow(section).set(strikes));
    compare_at(strikes);
}

/// Time since the start, ms; wraps after 49 days.
#[must_use]
pub fn now_ms() -> u32 {
    critical_section::with(|section| {
        let millis = MILLIS.borrow(section);
        let mut now = millis.get();
        let ms = now.up(TIME_LOW.read(), u32::MAX, COUNTS_A_MS);
        millis.set(now);
        ms
    })
}

/// Sleeps until the counter next reaches a multiple of [`WAKE_MS`], or the dead man strikes. Masked, so
/// that the interrupt wakes the core and is taken only if it is the dead man's.
pub(crate) fn sleep() {
    critical_section::with(|section| {
        let _ms = now_ms();
        let counts = MILLIS.borrow(section).get().until(WAKE_MS, COUNTS_A_MS);
        let strikes = STRIKES.borrow(section).get();
        compare_at(time().saturating_add(u64::from(counts)).min(strikes));
        riscv::asm::wfi();
        compare_at(strikes);
    });
}

/// The dead man strikes: the main program has not been round.
#[riscv_rt::core_interrupt(riscv::interrupt::Interrupt::MachineTimer)]
fn dead_man() {
    crate::begin_anew()
}
