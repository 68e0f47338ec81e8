//! The memory protection unit forbids what lies below the RAM, and so below the stack. Most chips have
//! nothing there and report that by themselves, but late: a write may be on its way while the program
//! goes on. Shared as a file by the boards that have the unit.

use crate::reg::Reg;

// SAFETY: registers of the protection unit (ARMv7-M architecture reference manual, B3.5); none touches
// memory, and the region set here holds none.
const CTRL: Reg = unsafe { Reg::at(0xE000_ED94) };
// SAFETY: as above.
const NUMBER: Reg = unsafe { Reg::at(0xE000_ED98) };
// SAFETY: as above.
const BASE: Reg = unsafe { Reg::at(0xE000_ED9C) };
// SAFETY: as above.
const ATTRIBUTES: Reg = unsafe { Reg::at(0xE000_EDA0) };

/// Up to the RAM at 0x2000_0000: no program's frame is as large as this.
const BELOW_RAM: u32 = 0x1000_0000;
/// 2 to (27 + 1) bytes.
const SIZE_256M: u32 = 27 << 1;
const NEVER_EXECUTE: u32 = 1 << 28;
const ENABLE: u32 = 1;
/// What no region holds is as without the unit.
const DEFAULT_MAP: u32 = 1 << 2;

pub(crate) fn forbid_below_ram() {
    NUMBER.write(0);
    BASE.write(BELOW_RAM);
    // No access for anybody: those bits are zero.
    ATTRIBUTES.write(NEVER_EXECUTE | SIZE_256M | ENABLE);
    CTRL.write(DEFAULT_MAP | ENABLE);
    cortex_m::asm::dsb();
    cortex_m::asm::isb();
}
