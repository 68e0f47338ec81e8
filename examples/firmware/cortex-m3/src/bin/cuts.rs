//! The power goes at every place of some saves: a real reset in the middle of a write or an erase, with
//! memory in place of flash that it leaves alone. Ends with what became of the records.
#![no_std]
#![no_main]
#![allow(non_snake_case, reason = "interrupts have the data sheet's names")]

use firmware_common::cuts::run_cuts;
use firmware_cortex_m3 as board;

#[unsafe(no_mangle)]
extern "C" fn TIMER_0A() {
    board::clock::on_wake();
}

#[cortex_m_rt::entry]
fn main() -> ! {
    let Some((mut lm3s, _pins, flash)) = board::take() else {
        semihosting::process::exit(1)
    };
    let kept = board::left::kept(flash.records);
    let went = run_cuts(&mut lm3s, kept, || cortex_m::peripheral::SCB::sys_reset());
    semihosting::process::exit(i32::from(!went))
}
