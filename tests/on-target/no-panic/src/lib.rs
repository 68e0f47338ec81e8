//! What both programs share: a panic handler that cannot be linked.
//!
//! Invariant: nothing here returns from a panic or hides one. The handler calls a function that no
//! object holds, so the linker fails, and names it, as long as one path to a panic is left.
//!
//! An entry point is kept by its address and not called: then nothing is known of its arguments,
//! and the compiler cannot prove a panic away by looking at one caller.
//!
//! Not covered: `Debug` and `Display`, which write text for people through `core::fmt`. Firmware
//! that formats with them takes the panic paths of `core::fmt` with it.
#![no_std]

use core::panic::PanicInfo;

unsafe extern "C" {
    /// Held by no object. The linker names it when a panic path is left.
    fn a_panic_path_is_left() -> !;
}

#[panic_handler]
fn panic(_: &PanicInfo<'_>) -> ! {
    // SAFETY: a program that could call it does not link.
    unsafe { a_panic_path_is_left() }
}

/// Keeps functions in the program as if they could be called with anything.
#[macro_export]
macro_rules! keep {
    ($($function:expr),* $(,)?) => {
        $(core::hint::black_box($function as *const ());)*
    };
}

/// Indexes by a value of run time, so that the check is seen to fail.
#[cfg(feature = "with-panic")]
#[must_use]
pub fn indexed(values: &[u32], index: usize) -> u32 {
    values[index]
}

/// Keeps [`indexed`], if it is there.
pub fn keep_what_panics() {
    #[cfg(feature = "with-panic")]
    keep!(indexed);
}
