//! micro:bit (nRF51822, Cortex-M0) as QEMU's `microbit` shows it: real GPIO registers with pulls, two
//! real timers, and the real flash controller for the records. The emulator has no watchdog of this
//! chip: a second timer, whose interrupt is above all others, is the dead man, and it does not see a
//! program that hangs with interrupts masked. Real hardware has to start the WDT as well.
#![no_std]

#[path = "../../hard_fault.rs"]
mod hard_fault;
#[path = "../../reg.rs"]
mod reg;
#[path = "../../stack.rs"]
mod stack;

pub mod defmt_out;
pub mod flash;
pub mod left;
pub mod pins;
pub mod timers;
mod vectors;

use core::fmt;

use firmware_common::board::{Board, Flash, Pins};
use firmware_common::fault::{Failing, Remains};
use firmware_common::world::Levels;

use flash::Nvmc;
use pins::{In, Out};

defmt::timestamp!("{=u32:ms}", timers::now_ms());

/// The board.
#[derive(Debug)]
pub struct Nrf51 {
    at_start: Levels,
}

/// Everything on the board, once: a second call gives nothing.
#[must_use]
pub fn take() -> Option<(Nrf51, Pins<Out, In>, Flash<Nvmc>)> {
    let core = cortex_m::Peripherals::take()?;
    let (pins, at_start) = pins::set_up();
    defmt_out::set_up();
    timers::start(core.NVIC);
    Some((Nrf51 { at_start }, pins, flash::take()))
}

impl Board for Nrf51 {
    fn now_ms(&self) -> u32 {
        timers::now_ms()
    }

    fn wait(&mut self) {
        timers::sleep();
    }

    fn feed_dead_man(&mut self) {
        timers::feed();
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

impl Failing for Nrf51 {
    fn remains(&mut self) -> Option<Remains> {
        left::found()
    }

    fn levels_at_start(&self) -> Levels {
        self.at_start
    }

    /// Goes round and does nothing but look, until the dead man's interrupt comes.
    fn hang(&mut self) -> ! {
        let mut remains = Remains::at(timers::now_ms());
        loop {
            remains.look(timers::now_ms(), pins::levels());
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
        let now_ms = timers::now_ms();
        left::leave(Remains::NONE);
        left::leave(Remains::before_overflow(now_ms, stack::sum_above()));
        let depth = stack::overflow(0);
        unreachable!("the stack has no end: {depth}")
    }
}

/// Outputs off first, then words.
#[panic_handler]
fn panic(info: &core::panic::PanicInfo<'_>) -> ! {
    cortex_m::interrupt::disable();
    let before = pins::levels();
    pins::all_off();
    semihosting::println!("{info}");
    semihosting::println!("panic: outputs were {before:?}");
    semihosting::println!("panic: outputs are {:?}", pins::levels());
    defmt::error!("panic");
    // On a board without a debugger: reset here, and let the records tell what stood open.
    semihosting::process::exit(if pins::levels() == Levels::OFF { 3 } else { 1 })
}

/// A fault of the processor: outputs off, then a reset.
extern "C" fn fault() -> ! {
    pins::all_off();
    left::faulted(timers::now_ms);
    cortex_m::peripheral::SCB::sys_reset()
}
