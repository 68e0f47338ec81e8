//! The same controller, which fails on purpose ten seconds into a dose of acid. What fails is the
//! first argument: `panic`, `hang` or `reset`. The start after a reset says what became of the
//! outputs, and what the ledger counts.
#![no_std]
#![no_main]
#![allow(non_snake_case, reason = "interrupts have the data sheet's names")]

use firmware_common::fault::{Fault, run_with_fault};
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
    let fault = semihosting::experimental::env::args::<64>()
        .ok()
        .and_then(|words| words.filter_map(Result::ok).find_map(Fault::named));
    let went = run_with_fault(&mut lm3s, pins, flash, fault);
    semihosting::process::exit(i32::from(!went))
}
