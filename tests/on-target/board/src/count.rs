//! Marks between which the emulator's plugin counts instructions.
//!
//! A count runs from [`begin`] to the mark that ends it, and is booked under that mark's name. Each
//! mark is a function of its own at an address of its own, which is how the plugin knows it: so
//! none is inlined, and no two have the same body.

use core::hint::black_box;

/// A count begins.
// SAFETY: no other object of the program holds this name.
#[unsafe(no_mangle)]
#[inline(never)]
pub extern "C" fn count_begin() {
    black_box(0xB0_u32);
}

macro_rules! marks {
    ($($(#[$doc:meta])* $mark:ident = $number:literal;)*) => {
        $(
            $(#[$doc])*
            // SAFETY: no other object of the program holds this name.
            #[unsafe(no_mangle)]
            #[inline(never)]
            pub extern "C" fn $mark() {
                black_box($number as u32);
            }
        )*
    };
}

marks! {
    /// Nothing was done: what the marks themselves take.
    count_nothing = 0xE0;
    /// A tick of the guard alone, well and feeding.
    count_guard_typical = 0xE1;
    /// A tick of the guard alone: all refused, caps used up, buckets end.
    count_guard_refused = 0xE2;
    /// As before, and something has to be saved, so that the limits are checked in full.
    count_guard_changed = 0xE3;
    /// A tick of the whole, well and feeding.
    count_whole_typical = 0xE4;
    /// A tick of the whole: all refused, caps used up, buckets end.
    count_whole_refused = 0xE5;
    /// As before, and something has to be saved.
    count_whole_changed = 0xE6;
    /// A tick of a drawn day.
    count_whole_drawn = 0xE7;
    /// A record sealed by the guard.
    count_seal = 0xE8;
    /// A tick after the counter jumped back: the time that it shows is out of range.
    count_guard_counter_back = 0xE9;
    /// A start from two whole records, their decoding included.
    count_restore = 0xEA;
}
