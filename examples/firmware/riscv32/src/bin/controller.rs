//! The controller in a plain loop, around a small scripted pool.
#![no_std]
#![no_main]

use firmware_common::board::{Board, run};
use firmware_common::world::Script;
use firmware_riscv32 as board;

/// Two hours and a half.
const FOR_MS: u32 = 9_000_000;

#[riscv_rt::entry]
fn main() -> ! {
    let Some((mut fe310, pins, flash)) = board::take() else {
        semihosting::process::exit(1)
    };
    let ended = run(&mut fe310, pins, flash, Script::NewUnit, FOR_MS, |_, _| {});
    fe310.say(format_args!("{ended:?}"));
    semihosting::process::exit(i32::from(ended != Ok(true)))
}
