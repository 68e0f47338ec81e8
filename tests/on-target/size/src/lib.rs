//! What both programs share. They are linked and never run: no start-up code, no board, so that
//! what they take is what the core crates take.
#![no_std]

use core::hint::black_box;
use core::panic::PanicInfo;

/// None is reached; see the check beside this one.
#[panic_handler]
fn panic(_: &PanicInfo<'_>) -> ! {
    loop {}
}

/// Something that nothing is known of, as what comes from a board.
pub fn from_board<T>(value: T) -> T {
    black_box(value)
}

/// Something that goes to a board.
pub fn to_board<T>(value: T) {
    black_box(value);
}
