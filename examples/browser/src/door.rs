//! The functions that the page calls, as plain exports of the wasm module.
//!
//! A generator of bindings would give the page a second file and a build tool of its own version; five functions and
//! a text in linear memory do the same. `unsafe` stands only in the attributes that give a function its outside name:
//! no pointer is ever read here, since the page writes into a buffer that this side owns.
//!
//! How the page calls: `input(n)` gives the place for n bytes of a request in UTF-8; it writes them there and calls
//! `call()`, which gives the length of the answer at `output()`. `ticks(n)` lets so many ticks pass. Places move with
//! each call, and so does the memory when it grows. After a trap `panicked()` gives the length of what went wrong, at
//! `output()`.
#![allow(unsafe_code)]

use std::cell::{Cell, RefCell};

use crate::play::Play;
use crate::request::answer;

thread_local! {
    static INPUT: RefCell<Vec<u8>> = const { RefCell::new(Vec::new()) };
    static OUTPUT: Cell<String> = const { Cell::new(String::new()) };
    static OUTPUT_AT: Cell<*const u8> = const { Cell::new(std::ptr::null()) };
    static PANIC: RefCell<String> = const { RefCell::new(String::new()) };
    static PLAY: RefCell<Option<Play>> = const { RefCell::new(None) };
}

fn put(text: String) -> usize {
    let length = text.len();
    OUTPUT_AT.set(text.as_ptr());
    // The bytes stay where they are when the text that owns them is moved.
    OUTPUT.set(text);
    length
}

/// Room for a request of `length` bytes.
#[unsafe(no_mangle)]
extern "C" fn input(length: usize) -> *mut u8 {
    INPUT.with_borrow_mut(|input| {
        input.clear();
        input.resize(length, 0);
        input.as_mut_ptr()
    })
}

/// Where the last answer stands.
#[unsafe(no_mangle)]
extern "C" fn output() -> *const u8 {
    OUTPUT_AT.get()
}

/// Answers the request that stands in the input; gives the length of the answer.
#[unsafe(no_mangle)]
extern "C" fn call() -> usize {
    std::panic::set_hook(Box::new(|what| {
        PANIC.with_borrow_mut(|words| *words = what.to_string());
    }));
    let request = INPUT.with_borrow(|input| String::from_utf8_lossy(input).into_owned());
    put(PLAY.with_borrow_mut(|play| answer(play, &request)))
}

/// Lets so many ticks pass, or as many as there are to the end; gives how many it were.
#[unsafe(no_mangle)]
extern "C" fn ticks(count: u32) -> u32 {
    PLAY.with_borrow_mut(|play| play.as_mut().map_or(0, |play| play.ticks(count)))
}

/// What went wrong, after a trap; gives the length of it.
#[unsafe(no_mangle)]
extern "C" fn panicked() -> usize {
    put(PANIC.with_borrow(Clone::clone))
}
