//! The greatest stack of a call: what lies below the stack is painted before, and looked over after.

use core::arch::asm;
use core::ptr::{read_volatile, write_volatile};

const PAINT: u32 = 0xA5C3_3C5A;
/// How far down it is painted at most, in bytes. The smallest board has less; [`used`] fails if all
/// that was painted was used.
const DEPTH_MAX: usize = 24 * 1024;

#[inline(always)]
fn pointer() -> usize {
    let sp: usize;
    #[cfg(target_arch = "arm")]
    // SAFETY: reads a register.
    unsafe {
        asm!("mov {}, sp", out(reg) sp, options(nomem, nostack, preserves_flags));
    }
    #[cfg(target_arch = "riscv32")]
    // SAFETY: reads a register.
    unsafe {
        asm!("mv {}, sp", out(reg) sp, options(nomem, nostack, preserves_flags));
    }
    sp
}

unsafe extern "C" {
    /// Where the memory behind the statics begins.
    #[link_name = "__sheap"]
    static FREE: u8;
}

fn lowest(top: usize) -> usize {
    (top - DEPTH_MAX)
        .max((&raw const FREE).addr())
        .next_multiple_of(4)
}

/// Paints below the caller's frame. Where that ends, for [`used`].
#[inline(always)]
pub fn paint() -> usize {
    let top = pointer();
    paint_from(lowest(top));
    top
}

#[inline(never)]
fn paint_from(low: usize) {
    let own = pointer();
    let mut at = low;
    while at < own {
        // SAFETY: between the statics and the stack there is nothing, and this function, whose frame
        // ends at `own`, calls nothing meanwhile. The board has no interrupts.
        unsafe { write_volatile(core::ptr::with_exposed_provenance_mut(at), PAINT) };
        at += 4;
    }
}

/// Bytes of stack that were used below `top` since it was painted.
#[inline(never)]
pub fn used(top: usize) -> usize {
    let low = lowest(top);
    let mut at = low;
    while at < top {
        // SAFETY: as above; only read.
        let word = unsafe { read_volatile(core::ptr::with_exposed_provenance::<u32>(at)) };
        if word != PAINT {
            break;
        }
        at += 4;
    }
    assert!(at > low, "more stack was used than is painted");
    top - at
}

/// Greatest stack of a call.
#[inline(never)]
pub fn of<T>(call: impl FnOnce() -> T) -> (T, usize) {
    let top = paint();
    let result = call();
    (result, used(top))
}
