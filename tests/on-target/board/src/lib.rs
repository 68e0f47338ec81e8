//! What the programs for emulated boards share: where they begin, and how they end.
//!
//! Invariant: a program that panics ends the emulator with a failure, and says where.
#![no_std]

use core::panic::PanicInfo;

pub mod cases;
pub mod count;
pub mod stack;

pub use semihosting::{print, println};

#[panic_handler]
fn panic(info: &PanicInfo<'_>) -> ! {
    semihosting::println!("{info}");
    semihosting::process::exit(1)
}

/// Where a program begins, on each of the boards.
#[macro_export]
macro_rules! begins {
    ($main:path) => {
        #[cfg_attr(target_arch = "arm", cortex_m_rt::entry)]
        #[cfg_attr(target_arch = "riscv32", riscv_rt::entry)]
        fn begin() -> ! {
            $main();
            $crate::end()
        }
    };
}

/// Ends the emulator: all went well.
pub fn end() -> ! {
    semihosting::process::exit(0)
}

/// The figures that the command line names.
///
/// # Panics
/// If it is too long, or one is not a whole number: the script is wrong then.
pub fn figures<const L: usize>(mut usual: [u32; L]) -> [u32; L] {
    let args = semihosting::experimental::env::args::<128>().unwrap();
    // The first is the program's name.
    for (place, word) in usual.iter_mut().zip(args.skip(1)) {
        *place = word.unwrap().parse().unwrap();
    }
    usual
}
