//! HiFive1 (FE310, RISC-V 32) as QEMU's `sifive_e` shows it: real GPIO registers with pulls, `mtime` as
//! the counter and `mtimecmp` to wake the program, and memory in place of flash.
//!
//! The emulator has no watchdog of this chip, and no way to reset it. The timer's interrupt is the dead
//! man: it turns the outputs off and begins the program anew, and does not see a program that hangs
//! with interrupts masked. Real hardware has to start the always-on watchdog as well.
#![no_std]

#[path = "../../reg.rs"]
mod reg;
#[path = "../../stack.rs"]
mod stack;

pub mod clock;
pub mod defmt_out;
pub mod left;
pub mod pins;
mod trap;

use core::fmt;

use critical_section::Mutex;
use firmware_common::board::{Board, Pins};
use firmware_common::fault::{Failing, Remains};
use firmware_common::nor::MemoryFlash;
use firmware_common::world::Levels;

use pins::{In, Out};

defmt::timestamp!("{=u32:ms}", clock::now_ms());

/// The board.
#[derive(Debug)]
pub struct Fe310 {
    at_start: Levels,
}

/// Everything on the board, once: a second call gives nothing.
#[must_use]
pub fn take() -> Option<(Fe310, Pins<Out, In>, MemoryFlash)> {
    static TAKEN: Mutex<core::cell::Cell<bool>> = Mutex::new(core::cell::Cell::new(false));
    if critical_section::with(|section| TAKEN.borrow(section).replace(true)) {
        return None;
    }
    let (pins, at_start) = pins::set_up();
    defmt_out::set_up();
    clock::start();
    Some((Fe310 { at_start }, pins, left::nor()))
}

impl Board for Fe310 {
    fn now_ms(&self) -> u32 {
        clock::now_ms()
    }

    fn wait(&mut self) {
        clock::sleep();
    }

    fn feed_dead_man(&mut self) {
        clock::feed();
    }

    fn levels(&self) -> Levels {
        pins::levels()
    }

    fn set_contacts(&mut self, flow: bool, pump: bool) {
        pins::set_contacts(flow, pump);
    }

    fn say(&mut self, line: fmt::Arguments<'_>) {
        semihosting::println!("{line}");
    }
}

impl Failing for Fe310 {
    fn remains(&mut self) -> Option<Remains> {
        left::found()
    }

    fn levels_at_start(&self) -> Levels {
        self.at_start
    }

    /// Goes round and does nothing but look, until the dead man's interrupt comes.
    fn hang(&mut self) -> ! {
        let mut remains = Remains::at(clock::now_ms());
        loop {
            remains.look(clock::now_ms(), pins::levels());
            left::leave(remains);
        }
    }

    fn reset(&mut self, remains: Remains) -> ! {
        left::leave(remains);
        begin_anew()
    }

    /// With interrupts masked, so that nothing else changes what lies above the stack.
    fn overflow(&mut self) -> ! {
        riscv::interrupt::disable();
        let now_ms = clock::now_ms();
        left::leave(Remains::NONE);
        left::leave(Remains::before_overflow(now_ms, stack::sum_above()));
        let depth = stack::overflow(0);
        unreachable!("the stack has no end: {depth}")
    }
}

/// What stands for a reset: everything off, then the program from its first instruction. Memory is as
/// it was.
pub(crate) fn begin_anew() -> ! {
    riscv::interrupt::disable();
    pins::all_off();
    // SAFETY: the entry of the program sets up every register and all memory that Rust relies on, and
    // nothing comes back here. Interrupts are masked until the program unmasks them.
    unsafe { core::arch::asm!("j _start", options(noreturn)) }
}

/// Outputs off first, then words.
#[panic_handler]
fn panic(info: &core::panic::PanicInfo<'_>) -> ! {
    riscv::interrupt::disable();
    let before = pins::levels();
    pins::all_off();
    semihosting::println!("{info}");
    semihosting::println!("panic: outputs were {before:?}");
    semihosting::println!("panic: outputs are {:?}", pins::levels());
    defmt::error!("panic");
    // On a board without a debugger: loop here until the watchdog resets the chip.
    semihosting::process::exit(if pins::levels() == Levels::OFF { 3 } else { 1 })
}

/// A fault of the processor: outputs off, then a new start.
extern "C" fn fault() -> ! {
    pins::all_off();
    left::faulted(clock::now_ms);
    begin_anew()
}
