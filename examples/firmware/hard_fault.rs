//! The entry of a hard fault. Shared as a file by the boards with a Cortex-M.

unsafe extern "C" {
    static _stack_start: u32;
}

/// Takes the stack from its top again before anything is called: the fault may be that it was used up,
/// and a handler that pushes to it would fault in the fault, which stops the core with its outputs on.
///
/// # Safety
/// For the table of vectors only.
// Nothing comes back from here, so whatever lay on the stack is needed no more.
#[unsafe(naked)]
#[unsafe(no_mangle)]
#[allow(non_snake_case, reason = "the name that the runtime looks for")]
unsafe extern "C" fn HardFault() -> ! {
    core::arch::naked_asm!(
        "ldr r0, ={top}",
        "msr MSP, r0",
        "bl {then}",
        ".pool",
        top = sym _stack_start,
        then = sym crate::fault,
    )
}
