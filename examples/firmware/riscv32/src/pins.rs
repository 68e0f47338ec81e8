//! GPIO of the chip: one register for each property, one bit for each pin.

use core::convert::Infallible;

use embedded_hal::digital::{ErrorType, InputPin, OutputPin};
use firmware_common::board::Pins;
use firmware_common::unit::OutputPins;
use firmware_common::world::Levels;

use crate::reg::Reg;

// SAFETY: registers of GPIO (FE310 manual, chapter GPIO); none touches memory.
const VALUE: Reg = unsafe { Reg::at(0x1001_2000) };
// SAFETY: as above.
const INPUTS: Reg = unsafe { Reg::at(0x1001_2004) };
// SAFETY: as above.
const DRIVEN: Reg = unsafe { Reg::at(0x1001_2008) };
// SAFETY: as above.
const OUT: Reg = unsafe { Reg::at(0x1001_200C) };
// SAFETY: as above.
const PULL_UP: Reg = unsafe { Reg::at(0x1001_2010) };

const ACID: u32 = 1;
const CHLORINE: u32 = 1 << 1;
const MASTER: u32 = 1 << 2;
const OUTPUTS: u32 = ACID | CHLORINE | MASTER;
const FLOW: u32 = 1 << 9;
const PUMP: u32 = 1 << 10;
const CONTACTS: u32 = FLOW | PUMP;

/// Clears some bits, then sets some, with nothing in between.
fn change(register: Reg, clear: u32, set: u32) {
    critical_section::with(|_| register.write((register.read() & !clear) | set));
}

/// An output: one bit.
#[derive(Debug)]
pub struct Out(u32);

/// A contact: one bit.
#[derive(Debug)]
pub struct In(u32);

/// Takes the pins; and what the outputs showed before anything was written to them.
pub(crate) fn set_up() -> (Pins<Out, In>, Levels) {
    let at_start = levels();
    // Low before they become outputs: not even a spike.
    change(OUT, OUTPUTS, 0);
    change(DRIVEN, CONTACTS, OUTPUTS);
    change(INPUTS, 0, CONTACTS);
    set_contacts(false, false);
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

/// What the outputs show.
pub fn levels() -> Levels {
    let port = OUT.read() & DRIVEN.read();
    Levels {
        acid: port & ACID != 0,
        chlorine: port & CHLORINE != 0,
        master: port & MASTER != 0,
    }
}

/// Everything off, without anybody's leave: for a panic and for the dead man.
pub fn all_off() {
    change(OUT, OUTPUTS, 0);
}

/// Stands for the wires: an open contact leaves the pull-up alone. A closed one takes the pin low; the
/// emulator shows a pin without a pull as low.
pub(crate) fn set_contacts(flow: bool, pump: bool) {
    let flow = if flow { 0 } else { FLOW };
    let pump = if pump { 0 } else { PUMP };
    change(PULL_UP, CONTACTS, flow | pump);
}

impl ErrorType for Out {
    type Error = Infallible;
}

impl OutputPin for Out {
    fn set_low(&mut self) -> Result<(), Infallible> {
        change(OUT, self.0, 0);
        Ok(())
    }

    fn set_high(&mut self) -> Result<(), Infallible> {
        change(OUT, 0, self.0);
        Ok(())
    }
}

impl ErrorType for In {
    type Error = Infallible;
}

impl InputPin for In {
    fn is_high(&mut self) -> Result<bool, Infallible> {
        Ok(VALUE.read() & self.0 != 0)
    }

    fn is_low(&mut self) -> Result<bool, Infallible> {
        Ok(VALUE.read() & self.0 == 0)
    }
}
