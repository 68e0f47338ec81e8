//! Memory that a reset leaves alone.

use core::mem::MaybeUninit;

use firmware_common::fault::Remains;
use firmware_common::nor::{self, BYTES, MemoryFlash};

#[unsafe(link_section = ".uninit.nor")]
static mut NOR: MaybeUninit<[u8; BYTES]> = MaybeUninit::uninit();

#[unsafe(link_section = ".uninit.remains")]
static mut REMAINS: MaybeUninit<Remains> = MaybeUninit::uninit();

#[unsafe(link_section = ".uninit.mark")]
static mut MARK: MaybeUninit<u32> = MaybeUninit::uninit();

/// Four pages for each record in place of flash. Called once, by the board's set-up.
pub(crate) fn nor() -> MemoryFlash {
    // What is there was written before the reset, which the compiler cannot know: it has to take it
    // as written by the black box.
    let bytes: *mut [u8; BYTES] = core::hint::black_box(&raw mut NOR).cast();
    let mark: *mut u32 = core::hint::black_box(&raw mut MARK).cast();
    // SAFETY: the whole of each, at any content a `u8` or a whole number; only the set-up calls this, and
    // it runs once.
    let (bytes, mark) = unsafe { (&mut *bytes, &mut *mark) };
    nor::flash(bytes, mark)
}

/// Leaves word for the start after the reset.
pub fn leave(remains: Remains) {
    let place: *mut Remains = (&raw mut REMAINS).cast();
    // SAFETY: used here and in `found` only, by the main program only, one after the other.
    unsafe { place.write_volatile(remains) }
}

/// The word that was left, once.
#[must_use]
pub fn found() -> Option<Remains> {
    let place: *mut Remains = core::hint::black_box(&raw mut REMAINS).cast();
    // SAFETY: as in `leave`; whole numbers, for which any content has a meaning.
    let remains = unsafe { place.read_volatile() };
    leave(Remains::NONE);
    remains.is_some().then_some(remains)
}

/// What the fault of a processor leaves for the start after it. `now_ms` is asked last: the counter's
/// own memory changes with it.
pub(crate) fn faulted(now_ms: fn() -> u32) {
    if let Some(remains) = found().filter(Remains::awaits_overflow) {
        let sum = crate::stack::sum_above();
        leave(remains.after_overflow(now_ms(), sum));
    }
}
