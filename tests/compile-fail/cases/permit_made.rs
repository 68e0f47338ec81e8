//! A permit cannot be made: its fields are private.

use dosewarden_guard::Permit;
use dosewarden_guard::units::Millis;

fn main() {
    let _permit: Permit<'static, 0> = Permit {
        run: Millis(1000),
        guard: core::marker::PhantomData,
    };
}
