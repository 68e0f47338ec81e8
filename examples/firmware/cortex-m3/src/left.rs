//! Memory that a reset leaves alone.

use core::mem::MaybeUninit;

use firmware_common::cuts::{Book, Kept};
use firmware_common::fault::Remains;
use firmware_common::nor::{self, BYTES, MemoryFlash, MemoryNor, PAGE};

/// Of the guard's record alone.
const COPY_BYTES: usize = 4 * PAGE;

#[unsafe(link_section = ".uninit.nor")]
static mut NOR: MaybeUninit<[u8; BYTES]> = MaybeUninit::uninit();

#[unsafe(link_section = ".uninit.remains")]
static mut REMAINS: MaybeUninit<Remains> = MaybeUninit::uninit();

#[unsafe(link_section = ".uninit.copy")]
static mut COPY: MaybeUninit<[u8; COPY_BYTES]> = MaybeUninit::uninit();

#[unsafe(link_section = ".uninit.book")]
static mut BOOK: MaybeUninit<Book> = MaybeUninit::uninit();

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

/// What a run of power cuts keeps from one start to the next, beside the flash. Taken once: the
/// flash comes from the board's set-up, and only one of those is made.
#[must_use]
pub fn kept(nor: MemoryNor) -> Kept {
    let copy: *mut u8 = core::hint::black_box(&raw mut COPY).cast();
    let book: *mut Book = core::hint::black_box(&raw mut BOOK).cast();
    // SAFETY: the whole of each, at any content a `u8` or whole numbers; and once, since the flash that
    // is given in is there once.
    let (copy, book) = unsafe {
        (
            core::slice::from_raw_parts_mut(copy, COPY_BYTES),
            &mut *book,
        )
    };
    Kept { nor, copy, book }
}

/// What the fault of a processor leaves for the start after it. `now_ms` is asked last: the counter's
/// own memory changes with it.
pub(crate) fn faulted(now_ms: fn() -> u32) {
    if let Some(remains) = found().filter(Remains::awaits_overflow) {
        let sum = crate::stack::sum_above();
        leave(remains.after_overflow(now_ms(), sum));
    }
}
