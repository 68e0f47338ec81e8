//! GPIO. Outputs on port E, contacts on port D.

use core::convert::Infallible;

use embedded_hal::digital::{ErrorType, InputPin, OutputPin};
use firmware_common::board::Pins;
use firmware_common::unit::OutputPins;
use firmware_common::world::Levels;

use crate::reg::Reg;

const PORT_D: usize = 0x4000_7000;
const PORT_E: usize = 0x4002_4000;
const DIR: usize = 0x400;
const PULL_UP: usize = 0x510;
const PULL_DOWN: usize = 0x514;
const DIGITAL: usize = 0x51C;
/// Clock gates of the ports.
const RCGC2: usize = 0x400F_E108;

const ACID: u32 = 1;
const CHLORINE: u32 = 1 << 1;
const MASTER: u32 = 1 << 2;
const OUTPUTS: u32 = ACID | CHLORINE | MASTER;
const FLOW: u32 = 1;
const PUMP: u32 = 1 << 1;
const CONTACTS: u32 = FLOW | PUMP;

/// A register of a port.
fn port(base: usize, offset: usize) -> Reg {
    // SAFETY: both ports lie at these addresses and have these registers (data sheet, chapter GPIO);
    // none touches memory.
    unsafe { Reg::at(base.wrapping_add(offset)) }
}

/// The data register through the mask of some pins: a write touches these alone, in one store, so
/// that no interrupt can come between.
fn data(base: usize, pins: u32) -> Reg {
    port(base, usize::try_from(pins << 2).unwrap_or(0))
}

/// An output: one bit of port E.
#[derive(Debug)]
pub struct Out(u32);

/// A contact: one bit of port D.
#[derive(Debug)]
pub struct In(u32);

/// Takes the pins; and what the outputs showed before anything was written to them.
pub(crate) fn set_up() -> (Pins<Out, In>, Levels) {
    // SAFETY: the system control block's clock gate; a second write of the same value does nothing.
    let gates = unsafe { Reg::at(RCGC2) };
    gates.write(gates.read() | (1 << 3) | (1 << 4));
    // The ports answer three cycles later.
    let _settled = gates.read();
    let driven = port(PORT_E, DIR).read();
    let at_start = shown(data(PORT_E, OUTPUTS).read() & driven);
    // Low before they become outputs: not even a spike.
    data(PORT_E, OUTPUTS).write(0);
    port(PORT_E, PULL_DOWN).write(OUTPUTS);
    port(PORT_E, DIR).write(OUTPUTS);
    port(PORT_E, DIGITAL).write(OUTPUTS);
    port(PORT_D, PULL_UP).write(CONTACTS);
    port(PORT_D, DIGITAL).write(CONTACTS);
    // The emulator has no pull-ups: contacts that are open.
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

/// What port E shows.
pub fn levels() -> Levels {
    shown(data(PORT_E, OUTPUTS).read())
}

fn shown(port: u32) -> Levels {
    Levels {
        acid: port & ACID != 0,
        chlorine: port & CHLORINE != 0,
        master: port & MASTER != 0,
    }
}

/// Everything off, without anybody's leave: for a panic.
pub fn all_off() {
    data(PORT_E, OUTPUTS).write(0);
}

/// Stands for the wires: drives the contacts' pins for a moment, then lets go. The emulator keeps
/// the level, and a closed contact is low.
pub fn set_contacts(flow: bool, pump: bool) {
    let mut level = CONTACTS;
    if flow {
        level &= !FLOW;
    }
    if pump {
        level &= !PUMP;
    }
    port(PORT_D, DIR).write(CONTACTS);
    data(PORT_D, CONTACTS).write(level);
    port(PORT_D, DIR).write(0);
}

impl ErrorType for Out {
    type Error = Infallible;
}

impl OutputPin for Out {
    fn set_low(&mut self) -> Result<(), Infallible> {
        data(PORT_E, self.0).write(0);
        Ok(())
    }

    fn set_high(&mut self) -> Result<(), Infallible> {
        data(PORT_E, self.0).write(self.0);
        Ok(())
    }
}

impl ErrorType for In {
    type Error = Infallible;
}

impl InputPin for In {
    fn is_high(&mut self) -> Result<bool, Infallible> {
        Ok(data(PORT_D, self.0).read() != 0)
    }

    fn is_low(&mut self) -> Result<bool, Infallible> {
        Ok(data(PORT_D, self.0).read() == 0)
    }
}
