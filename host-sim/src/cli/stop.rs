//! Ctrl-C: noted once a command has begun what it can end cleanly, and looked at where it can.
//!
//! Invariant: nothing waits for others (a pipe's reader) without looking here too.

use std::sync::atomic::{AtomicBool, Ordering};

static IS_ASKED: AtomicBool = AtomicBool::new(false);

/// From here on Ctrl-C does not end the program by itself: it is noted. At the first, `said` is told where there is
/// something to say.
pub(super) fn catch(said: &'static str) -> &'static AtomicBool {
    let told = move || {
        if !IS_ASKED.swap(true, Ordering::Relaxed) && !said.is_empty() {
            eprintln!("{said}");
        }
    };
    // Without a handler Ctrl-C still ends the program; only the part files would stay.
    if ctrlc::set_handler(told).is_err() {
        eprintln!("note: Ctrl-C cannot be caught here");
    }
    &IS_ASKED
}

/// Whether the person wants an end.
pub(super) fn is_asked() -> bool {
    IS_ASKED.load(Ordering::Relaxed)
}
