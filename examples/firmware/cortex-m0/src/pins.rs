//! GPIO of the chip. Each pin has its own register of direction and pull.

use core::convert::Infallible;

use embedded_hal::digital::{ErrorType, InputPin, OutputPin};
use firmware_common::board::Pins;
use firmware_common::unit::OutputPins;
use firmware_common::world::Levels;

use crate::reg::Reg;

const GPIO: usize = 0x5000_0000;
const OUT: usize = 0x504;
const SET: usize = 0x508;
const CLEAR: usize = 0x50C;
const IN: usize = 0x510;
const DIRECTION: usize = 0x514;
const CONFIGURE: usize = 0x700;

const ACID: u32 = 1;
const CHLORINE: u32 = 2;
const MASTER: u32 = 3;
const FLOW: u32 = 17;
const PUMP: u32 = 26;

/// An output that is also read back, with a pull-down for the moment before.
const OUTPUT: u32 = 0b0101;
const PULLED_DOWN: u32 = 0b0100;
const PULLED_UP: u32 = 0b1100;

const OUTPUTS: u32 = (1 << ACID) | (1 << CHLORINE) | (1 << MASTER);

fn gpio(offset: usize) -> Reg {
    // SAFETY: a register of the GPIO block (nRF51 reference manual, chapter GPIO); none touches
    // memory.
    unsafe { Reg::at(GPIO.wrapping_add(offset)) }
}

fn configure(pin: u32, how: u32) {
    let offset = usize::try_from(pin.saturating_mul(4)).unwrap_or(0);
    gpio(CONFIGURE.wrapping_add(offset)).write(how);
}

/// An output: one pin.
#[derive(Debug)]
pub struct Out(u32);

/// A contact: one pin.
#[derive(Debug)]
pub struct In(u32);

/// Takes the pins; and what the outputs showed before anything was written to them.
pub(crate) fn set_up() -> (Pins<Out, In>, Levels) {
    let at_start = shown(gpio(OUT).read() & gpio(DIRECTION).read());
    // Low before they become outputs: not even a spike.
    gpio(CLEAR).write(OUTPUTS);
    for pin in [ACID, CHLORINE, MASTER] {
        configure(pin, OUTPUT);
    }
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
    shown(gpio(OUT).read() & gpio(DIRECTION).read())
}

fn shown(port: u32) -> Levels {
    let on = |pin: u32| port & (1 << pin) != 0;
    Levels {
        acid: on(ACID),
        chlorine: on(CHLORINE),
        master: on(MASTER),
    }
}

/// Everything off, without anybody's leave: for a panic and for the dead man.
pub fn all_off() {
    gpio(CLEAR).write(OUTPUTS);
}

/// Stands for the wires: an open contact leaves the pull-up alone, a closed one pulls the pin down.
pub(crate) fn set_contacts(flow: bool, pump: bool) {
    for (pin, closed) in [(FLOW, flow), (PUMP, pump)] {
        configure(pin, if closed { PULLED_DOWN } else { PULLED_UP });
    }
}

impl ErrorType for Out {
    type Error = Infallible;
}

impl OutputPin for Out {
    fn set_low(&mut self) -> Result<(), Infallible> {
        gpio(CLEAR).write(1 << self.0);
        Ok(())
    }

    fn set_high(&mut self) -> Result<(), Infallible> {
        gpio(SET).write(1 << self.0);
        Ok(())
    }
}

impl ErrorType for In {
    type Error = Infallible;
}

impl InputPin for In {
    fn is_high(&mut self) -> Result<bool, Infallible> {
        Ok(gpio(IN).read() & (1 << self.0) != 0)
    }

    fn is_low(&mut self) -> Result<bool, Infallible> {
        Ok(gpio(IN).read() & (1 << self.0) == 0)
    }
}
