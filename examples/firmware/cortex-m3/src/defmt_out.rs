//! `defmt` frames over the second serial port: the first is left to the link.

use core::convert::Infallible;

use static_cell::StaticCell;

use crate::reg::Reg;

// SAFETY: registers of UART1 and its clock gate (data sheet, chapters UARTs and System Control); none
// touches memory.
const RCGC1: Reg = unsafe { Reg::at(0x400F_E104) };
// SAFETY: as above.
const DATA: Reg = unsafe { Reg::at(0x4000_D000) };
// SAFETY: as above.
const FLAGS: Reg = unsafe { Reg::at(0x4000_D018) };
// SAFETY: as above.
const LINE: Reg = unsafe { Reg::at(0x4000_D02C) };
// SAFETY: as above.
const CONTROL: Reg = unsafe { Reg::at(0x4000_D030) };

const FULL: u32 = 1 << 5;
/// Eight bits and the queue.
const EIGHT_BITS: u32 = 0x70;
const SEND: u32 = 0x101;

struct Port;

impl embedded_io::ErrorType for Port {
    type Error = Infallible;
}

impl embedded_io::Write for Port {
    fn write(&mut self, bytes: &[u8]) -> Result<usize, Infallible> {
        for byte in bytes {
            while FLAGS.read() & FULL != 0 {}
            DATA.write(u32::from(*byte));
        }
        Ok(bytes.len())
    }

    fn flush(&mut self) -> Result<(), Infallible> {
        Ok(())
    }
}

pub(crate) fn set_up() {
    static PORT: StaticCell<Port> = StaticCell::new();
    RCGC1.write(RCGC1.read() | (1 << 1));
    LINE.write(EIGHT_BITS);
    CONTROL.write(SEND);
    defmt_serial::defmt_serial(PORT.init(Port));
}
