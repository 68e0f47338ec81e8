//! The same controller, which fails on purpose ten seconds into a dose of acid. What fails is the
//! first argument: `panic`, `hang` or `reset`. The start after a reset says what became of the
//! outputs, and what the ledger counts.
#![no_std]
#![no_main]

use firmware_common::fault::{Fault, run_with_fault};
use firmware_cortex_m0 as board;

#[cortex_m_rt::entry]
fn main() -> ! {
    let Some((mut nrf51, pins, flash)) = board::take() else {
        semihosting::process::exit(1)
    };
    let fault = semihosting::experimental::env::args::<64>()
        .ok()
        .and_then(|words| words.filter_map(Result::ok).find_map(Fault::named));
    let went = run_with_fault(&mut nrf51, pins, flash, fault);
    semihosting::process::exit(i32::from(!went))
}
