//! `defmt` frames over the first serial port.

use core::convert::Infallible;

use static_cell::StaticCell;

use crate::reg::Reg;

// SAFETY: registers of UART0 (FE310 manual, chapter UART); none touches memory.
const DATA: Reg = unsafe { Reg::at(0x1001_3000) };
// SAFETY: as above.
const CONTROL: Reg = unsafe { Reg::at(0x1001_3008) };

const FULL: u32 = 1 << 31;
const SEND: u32 = 1;

struct Port;

impl embedded_io::ErrorType for Port {
    type Error = Infallible;
}

impl embedded_io::Write for Port {
    fn write(&mut self, bytes: &[u8]) -> Result<usize, Infallible> {
        for byte in bytes {
            while DATA.read() & FULL != 0 {}
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
    CONTROL.write(SEND);
    defmt_serial::defmt_serial(PORT.init(Port));
}
