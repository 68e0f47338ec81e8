//! The controller in a plain loop, around a small scripted pool.
#![no_std]
#![no_main]
#![allow(non_snake_case, reason = "interrupts have the data sheet's names")]

use firmware_common::board::{Board, run};
use firmware_common::world::Script;
use firmware_cortex_m3 as board;

/// Two hours and a half.
const FOR_MS: u32 = 9_000_000;

#[unsafe(no_mangle)]
extern "C" fn TIMER_0A() {
    board::clock::on_wake();
}

#[cortex_m_rt::entry]
fn main() -> ! {
    let Some((mut lm3s, pins, flash)) = board::take() else {
        semihosting::process::exit(1)
    };
    let ended = run(&mut lm3s, pins, flash, Script::NewUnit, FOR_MS, |_, _| {});
    lm3s.say(format_args!("{ended:?}"));
    semihosting::process::exit(i32::from(ended != Ok(true)))
}
