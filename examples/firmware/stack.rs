//! The stack lies at the bottom of the RAM, below everything else: `memory.x` says how much of it. One
//! that overflows leaves the RAM, and the processor faults, where it would have run into the statics.
//! Shared as a file by the board crates.

unsafe extern "C" {
    static __sdata: u32;
    static __euninit: u32;
}

/// A sum over what lies above the stack: the statics, and what a reset leaves alone.
pub(crate) fn sum_above() -> u32 {
    let end = &raw const __euninit;
    let mut word = &raw const __sdata;
    let mut sum = 0_u32;
    while word < end {
        // SAFETY: whole words of RAM, by the linker's script; volatile, since what the compiler takes them for
        // does not matter here, and the main program does not go on meanwhile.
        sum = sum.rotate_left(1) ^ unsafe { word.read_volatile() };
        word = word.wrapping_add(1);
    }
    sum
}

/// Calls itself until the stack is used up.
#[inline(never)]
#[allow(
    unconditional_recursion,
    reason = "what ends it is the processor's fault"
)]
pub(crate) fn overflow(depth: u32) -> u32 {
    let frame = core::hint::black_box([depth; 16]);
    let below = overflow(core::hint::black_box(depth.wrapping_add(1)));
    // Used after the call, so that it is one and no jump.
    core::hint::black_box(frame)
        .iter()
        .fold(below, |sum, word| sum ^ word)
}
