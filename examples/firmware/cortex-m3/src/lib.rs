//! LM3S6965 as QEMU's `lm3s6965evb` shows it: real GPIO registers (PL061), a real watchdog that
//! resets the chip, SysTick as the counter, a timer that wakes the program, and memory that a reset
//! leaves alone in place of flash.
#![no_std]

#[path = "../../hard_fault.rs"]
mod hard_fault;
#[path = "../../mpu.rs"]
mod mpu;
#[path = "../../reg.rs"]
mod reg;
#[path = "../../stack.rs"]
mod stack;

pub mod clock;
pub mod defmt_out;
pub mod left;
pub mod pins;
pub mod uart;
pub mod watchdog;

use core::fmt;

use cortex_m::peripheral::SYST;
use firmware_common::board::{Board, Pins};
use firmware_common::fault::{Failing, Remains};
use firmware_common::nor::MemoryFlash;
use firmware_common::world::Levels;

use pins::{In, Out};

defmt::timestamp!("{=u32:ms}", clock::now_ms());

/// The board.
#[derive(Debug)]
pub struct Lm3s {
    at_start: Levels,
}

/// Everything on the board, once: a second call gives nothing.
#[must_use]
pub fn take() -> Option<(Lm3s, Pins<Out, In>, MemoryFlash)> {
    let core = cortex_m::Peripherals::take()?;
    let all = set_up(core.SYST);
    clock::unmask();
    Some(all)
}

/// As [`take`], for a program that owns the core's peripherals and unmasks interrupts itself.
#[must_use]
pub fn set_up(syst: SYST) -> (Lm3s, Pins<Out, In>, MemoryFlash) {
    let (pins, at_start) = pins::set_up();
    mpu::forbid_below_ram();
    watchdog::start();
    defmt_out::set_up();
    clock::start(syst);
    (Lm3s { at_start }, pins, left::nor())
}

impl Board for Lm3s {
    fn now_ms(&self) -> u32 {
        clock::now_ms()
    }

    fn wait(&mut self) {
        clock::sleep();
    }

    fn feed_dead_man(&mut self) {
        watchdog::feed();
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

impl Failing for Lm3s {
    fn remains(&mut self) -> Option<Remains> {
        left::found()
    }

    fn levels_at_start(&self) -> Levels {
        self.at_start
    }

    /// Goes round with interrupts masked, until the watchdog resets the chip.
    fn hang(&mut self) -> ! {
        cortex_m::interrupt::disable();
        let mut remains = Remains::at(clock::now_ms());
        loop {
            remains.look(clock::now_ms(), pins::levels());
            left::leave(remains);
        }
    }

    fn reset(&mut self, remains: Remains) -> ! {
        left::leave(remains);
        cortex_m::peripheral::SCB::sys_reset()
    }

    /// With interrupts masked, so that nothing else changes what lies above the stack.
    fn overflow(&mut self) -> ! {
        cortex_m::interrupt::disable();
        let now_ms = clock::now_ms();
        left::leave(Remains::NONE);
        left::leave(Remains::before_overflow(now_ms, stack::sum_above()));
        let depth = stack::overflow(0);
        unreachable!("the stack has no end: {depth}")
    }
}

/// Outputs off first, then words; then nothing feeds the watchdog any more.
#[panic_handler]
fn panic(info: &core::panic::PanicInfo<'_>) -> ! {
    cortex_m::interrupt::disable();
    let before = pins::levels();
    pins::all_off();
    semihosting::println!("{info}");
    semihosting::println!("panic: outputs were {before:?}");
    semihosting::println!("panic: outputs are {:?}", pins::levels());
    defmt::error!("panic");
    // On a board without a debugger: loop here until the watchdog resets the chip.
    semihosting::process::exit(if pins::levels() == Levels::OFF { 3 } else { 1 })
}

/// A fault of the processor: outputs off, and the watchdog does the rest.
extern "C" fn fault() -> ! {
    pins::all_off();
    left::faulted(clock::now_ms);
    loop {
        cortex_m::asm::nop();
    }
}
