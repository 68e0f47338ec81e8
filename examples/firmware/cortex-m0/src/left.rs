//! Memory that a reset leaves alone.

use core::mem::MaybeUninit;

use firmware_common::fault::Remains;

#[unsafe(link_section = ".uninit.remains")]
static mut REMAINS: MaybeUninit<Remains> = MaybeUninit::uninit();

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
