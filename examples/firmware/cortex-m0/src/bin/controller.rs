//! The controller in a plain loop, around a small scripted pool.
#![no_std]
#![no_main]

use firmware_common::board::{Board, run};
use firmware_common::world::Script;
use firmware_cortex_m0 as board;

/// Two hours and a half.
const FOR_MS: u32 = 9_000_000;

#[cortex_m_rt::entry]
fn main() -> ! {
    let Some((mut nrf51, pins, flash)) = board::take() else {
        semihosting::process::exit(1)
    };
    let ended = run(&mut nrf51, pins, flash, Script::NewUnit, FOR_MS, |_, _| {});
    nrf51.say(format_args!("{ended:?}"));
    semihosting::process::exit(i32::from(ended != Ok(true)))
}
