//! Lives seeded days on a board and prints the same lines as the host.
//!
//! Command line: COUNT FIRST.
#![no_std]
#![no_main]

board::begins!(main);

fn main() {
    let [count, first] = board::figures([20, 0]);
    board::print!("{}", days::run(first, count));
}
