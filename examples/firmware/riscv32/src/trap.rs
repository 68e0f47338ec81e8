//! The entry of a trap.

// An exception is a fault of the program. It may be that the stack was used up: the runtime's own entry
// would push to it, and fault in the fault for ever, with the outputs on. So an exception takes the stack
// from its top again, and never comes back. Interrupts go the runtime's way.
core::arch::global_asm!(
    ".section .trap.start.first, \"ax\"",
    ".balign 4",
    ".global _start_trap",
    "_start_trap:",
    "csrw mscratch, t0",
    "csrr t0, mcause",
    "bgez t0, 1f",
    "csrr t0, mscratch",
    "j _default_start_trap",
    "1:",
    "la sp, _stack_start",
    "andi sp, sp, -16",
    "j {fault}",
    fault = sym crate::fault,
);
