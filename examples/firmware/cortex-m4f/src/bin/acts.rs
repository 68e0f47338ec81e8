//! What a person did stands after a reset: a unit is paused and then reset, three times. The start after each
//! says what of it stands, and what without the record.
#![no_std]
#![no_main]

use firmware_common::acts::run_with_acts;
use firmware_cortex_m4f as board;

#[cortex_m_rt::entry]
fn main() -> ! {
    let Some((mut mps2, pins, flash)) = board::take() else {
        semihosting::process::exit(1)
    };
    let went = run_with_acts(&mut mps2, pins, flash);
    semihosting::process::exit(i32::from(!went))
}
