//! `defmt` frames over the serial port.

use core::convert::Infallible;

use static_cell::StaticCell;

use crate::reg::Reg;

// SAFETY: registers of the UART (nRF51 reference manual, chapter UART); none touches memory.
const START: Reg = unsafe { Reg::at(0x4000_2008) };
// SAFETY: as above.
const SENT: Reg = unsafe { Reg::at(0x4000_211C) };
// SAFETY: as above.
const ENABLE: Reg = unsafe { Reg::at(0x4000_2500) };
// SAFETY: as above.
const DATA: Reg = unsafe { Reg::at(0x4000_251C) };

struct Port;

impl embedded_io::ErrorType for Port {
    type Error = Infallible;
}

impl embedded_io::Write for Port {
    fn write(&mut self, bytes: &[u8]) -> Result<usize, Infallible> {
        for byte in bytes {
            SENT.write(0);
            DATA.write(u32::from(*byte));
            while SENT.read() == 0 {}
        }
        Ok(bytes.len())
    }

    fn flush(&mut self) -> Result<(), Infallible> {
        Ok(())
    }
}

pub(crate) fn set_up() {
    static PORT: StaticCell<Port> = StaticCell::new();
    ENABLE.write(4);
    START.write(1);
    defmt_serial::defmt_serial(PORT.init(Port));
}
