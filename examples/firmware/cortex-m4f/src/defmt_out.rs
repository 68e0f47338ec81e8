//! `defmt` frames over the first serial port.

use core::convert::Infallible;

use static_cell::StaticCell;

use crate::reg::Reg;

// SAFETY: registers of UART0 (CMSDK reference manual, APB UART); none touches memory.
const DATA: Reg = unsafe { Reg::at(0x4000_4000) };
// SAFETY: as above.
const STATE: Reg = unsafe { Reg::at(0x4000_4004) };
// SAFETY: as above.
const CONTROL: Reg = unsafe { Reg::at(0x4000_4008) };
// SAFETY: as above.
const DIVIDER: Reg = unsafe { Reg::at(0x4000_4010) };

const FULL: u32 = 1;
const SEND: u32 = 1;

struct Port;

impl embedded_io::ErrorType for Port {
    type Error = Infallible;
}

impl embedded_io::Write for Port {
    fn write(&mut self, bytes: &[u8]) -> Result<usize, Infallible> {
        for byte in bytes {
            while STATE.read() & FULL != 0 {}
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
    // The shortest divider that the port knows: nobody waits for the log.
    DIVIDER.write(16);
    CONTROL.write(SEND);
    defmt_serial::defmt_serial(PORT.init(Port));
}
