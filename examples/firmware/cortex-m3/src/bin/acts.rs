//! What a person did stands after a reset: a unit is paused and then reset, three times. The start after each
//! says what of it stands, and what without the record.
#![no_std]
#![no_main]
#![allow(non_snake_case, reason = "interrupts have the data sheet's names")]

use firmware_common::acts::run_with_acts;
use firmware_cortex_m3 as board;

#[unsafe(no_mangle)]
extern "C" fn TIMER_0A() {
    board::clock::on_wake();
}

#[cortex_m_rt::entry]
fn main() -> ! {
    let Some((mut lm3s, pins, flash)) = board::take() else {
        semihosting::process::exit(1)
    };
    let went = run_with_acts(&mut lm3s, pins, flash);
    semihosting::process::exit(i32::from(!went))
}
