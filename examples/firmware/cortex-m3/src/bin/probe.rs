//! The controller with its pH from the front end of a probe: the driver of a converter on an I2C bus
//! that is simulated, and an electrode whose lead comes off in the middle of a dose.
#![no_std]
#![no_main]
#![allow(non_snake_case, reason = "interrupts have the data sheet's names")]

use firmware_common::board::{Board, run_with};
use firmware_common::front::FrontProbes;
use firmware_common::simulated_adc::Bench;
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
    let bench = Bench::new();
    let probes = match FrontProbes::try_new(&bench) {
        Ok(probes) => probes,
        Err(error) => {
            lm3s.say(format_args!("{error}"));
            semihosting::process::exit(1)
        }
    };
    let ended = run_with(
        &mut lm3s,
        pins,
        flash,
        Script::NewUnit,
        FOR_MS,
        probes,
        |_, _| {},
    );
    lm3s.say(format_args!("{ended:?}"));
    semihosting::process::exit(i32::from(ended != Ok(true)))
}
