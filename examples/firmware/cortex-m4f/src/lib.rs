//! MPS2 board with AN386 (Cortex-M4F) as QEMU's `mps2-an386` shows it: lamps as outputs, a real
//! watchdog that turns outputs off by the non-maskable interrupt and then resets the chip, SysTick as
//! the counter, and memory that a reset leaves alone in place of flash.
#![no_std]

#[path = "../../reg.rs"]
mod reg;

pub mod defmt_out;
pub mod left;
pub mod pins;
pub mod watchdog;

use core::fmt;
use core::sync::atomic::{AtomicU32, Ordering};

use cortex_m::peripheral::SYST;
use cortex_m::peripheral::syst::SystClkSource;
use firmware_common::board::{Board, Pins};
use firmware_common::fault::{Failing, Remains};
use firmware_common::nor::MemoryNor;
use firmware_common::site::SLICE_MS;
use firmware_common::world::Levels;

use pins::{In, Out};

/// The core's clock.
const CLOCK_HZ: u32 = 25_000_000;
const CYCLES_A_MS: u32 = CLOCK_HZ / 1000;
const CYCLES_A_SLICE: u32 = CYCLES_A_MS * SLICE_MS;

/// Slices since the start. One writer: the interrupt of SysTick.
static SLICES: AtomicU32 = AtomicU32::new(0);

/// The counter: what the interrupt of SysTick calls.
pub fn on_systick() {
    let slices = SLICES.load(Ordering::Relaxed);
    SLICES.store(slices.wrapping_add(1), Ordering::Relaxed);
}

/// Time since the start in whole slices, ms; wraps after 49 days.
#[must_use]
pub fn now_ms() -> u32 {
    SLICES.load(Ordering::Relaxed).wrapping_mul(SLICE_MS)
}

defmt::timestamp!("{=u32:ms}", now_ms());

/// The board.
pub struct Mps2 {
    seen_ms: u32,
    at_start: Levels,
    syst: SYST,
}

/// Everything on the board, once: a second call gives nothing.
#[must_use]
pub fn take() -> Option<(Mps2, Pins<Out, In>, MemoryNor)> {
    let core = cortex_m::Peripherals::take()?;
    Some(set_up(core.SYST))
}

/// As [`take`], for a program that owns the core's peripherals already.
#[must_use]
pub fn set_up(mut syst: SYST) -> (Mps2, Pins<Out, In>, MemoryNor) {
    let (pins, at_start) = pins::set_up();
    watchdog::start(CYCLES_A_MS);
    defmt_out::set_up();
    syst.set_clock_source(SystClkSource::Core);
    syst.set_reload(CYCLES_A_SLICE - 1);
    syst.clear_current();
    syst.enable_counter();
    syst.enable_interrupt();
    let board = Mps2 {
        seen_ms: now_ms(),
        at_start,
        syst,
    };
    (board, pins, left::nor())
}

impl Board for Mps2 {
    fn wait_slice(&mut self) -> u32 {
        while now_ms() == self.seen_ms {
            cortex_m::asm::wfi();
        }
        self.seen_ms = now_ms();
        self.seen_ms
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

impl Failing for Mps2 {
    fn remains(&mut self) -> Option<Remains> {
        left::found()
    }

    fn levels_at_start(&self) -> Levels {
        self.at_start
    }

    /// Goes round with interrupts masked, until the watchdog resets the chip. SysTick counts on, so
    /// that the start after it can tell for how long an output was on.
    fn hang(&mut self) -> ! {
        cortex_m::interrupt::disable();
        let mut remains = Remains::at(0);
        let mut whole_ms: u32 = 0;
        // Reading the flag clears it; what came before does not count.
        let _before = self.syst.has_wrapped();
        loop {
            if self.syst.has_wrapped() {
                whole_ms = whole_ms.saturating_add(SLICE_MS);
            }
            let part = CYCLES_A_SLICE.saturating_sub(SYST::get_current()) / CYCLES_A_MS;
            remains.look(whole_ms.saturating_add(part), pins::levels());
            left::leave(remains);
        }
    }

    fn reset(&mut self) -> ! {
        left::leave(Remains::at(0));
        cortex_m::peripheral::SCB::sys_reset()
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
#[cortex_m_rt::exception]
unsafe fn HardFault(_frame: &cortex_m_rt::ExceptionFrame) -> ! {
    pins::all_off();
    loop {
        cortex_m::asm::nop();
    }
}
