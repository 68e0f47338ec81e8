//! Measures RAM, stack and, with the emulator's plugin, instructions. Prints a figure a line.
//!
//! Command line: how many drawn days.
#![no_std]
#![no_main]

use board::cases::{self, Measured, RAM, Stack};
use board::println;

board::begins!(main);

fn main() {
    let [days] = board::figures([3]);
    let mut found = Stack::default();
    cases::nothing();
    let guard = cases::guard_typical(900);
    cases::guard_refused(&mut found);
    let whole = cases::whole_typical(900, &mut found);
    cases::whole_refused(&mut found);
    for number in 0..days {
        let watch = &mut Measured {
            found: &mut found,
            top: 0,
        };
        let _ = days::Day::drawn(number).live(watch);
    }
    // A typical tick that never feeds would be none.
    assert!(guard > 50 && whole > 50, "permits: {guard} {whole}");
    let [guard, whole] = RAM;
    println!("guard_ram {guard}");
    println!("whole_ram {whole}");
    println!("guard_stack {}", found.guard);
    println!("whole_stack {}", found.whole);
    println!("seal_stack {}", found.seal);
    println!("restore_stack {}", found.restore);
}
