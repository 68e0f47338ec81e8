//! Pins. The emulator has none of this board's GPIO, but it has the register of its eight lamps, which
//! keeps what is written. Lamps 0 to 2 stand for the outputs. Lamps 6 and 7 stand for the wires of the
//! two contacts, lit for a pin that is high: a stand-in, since the board's buttons cannot be pressed.

use core::convert::Infallible;

use cortex_m::interrupt;
use embedded_hal::digital::{ErrorType, InputPin, OutputPin};
use firmware_common::board::Pins;
use firmware_common::unit::OutputPins;
use firmware_common::world::Levels;

use crate::reg::Reg;

// SAFETY: the register of the lamps in the board's system control (AN386, SCC CFG1); it touches no
// memory.
const LAMPS: Reg = unsafe { Reg::at(0x4002_F004) };

const ACID: u32 = 1;
const CHLORINE: u32 = 1 << 1;
const MASTER: u32 = 1 << 2;
const OUTPUTS: u32 = ACID | CHLORINE | MASTER;
const FLOW: u32 = 1 << 6;
const PUMP: u32 = 1 << 7;
const CONTACTS: u32 = FLOW | PUMP;

/// Clears some lamps, then lights some, with nothing in between.
fn change(clear: u32, light: u32) {
    interrupt::free(|_| LAMPS.write((LAMPS.read() & !clear) | light));
}

/// An output: one lamp.
#[derive(Debug)]
pub struct Out(u32);

/// A contact: one lamp, read.
#[derive(Debug)]
pub struct In(u32);

/// Takes the pins; and what the outputs showed before anything was written to them.
pub(crate) fn set_up() -> (Pins<Out, In>, Levels) {
    let at_start = levels();
    // Outputs off, contacts open.
    LAMPS.write(CONTACTS);
    let pins = Pins {
        outputs: OutputPins {
            acid: Out(ACID),
            chlorine: Out(CHLORINE),
            master: Out(MASTER),
        },
        flow: In(FLOW),
        pump: In(PUMP),
    };
    (pins, at_start)
}

/// What the lamps show.
pub fn levels() -> Levels {
    let shown = LAMPS.read();
    Levels {
        acid: shown & ACID != 0,
        chlorine: shown & CHLORINE != 0,
        master: shown & MASTER != 0,
    }
}

/// Everything off, without anybody's leave: for a panic and for the watchdog.
pub fn all_off() {
    LAMPS.write(LAMPS.read() & !OUTPUTS);
}

/// Stands for the wires: a closed contact is low.
pub(crate) fn set_contacts(flow: bool, pump: bool) {
    let flow = if flow { 0 } else { FLOW };
    let pump = if pump { 0 } else { PUMP };
    change(CONTACTS, flow | pump);
}

impl ErrorType for Out {
    type Error = Infallible;
}

impl OutputPin for Out {
    fn set_low(&mut self) -> Result<(), Infallible> {
        change(self.0, 0);
        Ok(())
    }

    fn set_high(&mut self) -> Result<(), Infallible> {
        change(0, self.0);
        Ok(())
    }
}

impl ErrorType for In {
    type Error = Infallible;
}

impl InputPin for In {
    fn is_high(&mut self) -> Result<bool, Infallible> {
        Ok(LAMPS.read() & self.0 != 0)
    }

    fn is_low(&mut self) -> Result<bool, Infallible> {
        Ok(LAMPS.read() & self.0 == 0)
    }
}
