//! Time comes from a clock: it cannot be made by hand.

use dosewarden_guard::Elapsed;
use dosewarden_guard::units::Millis;

fn main() {
    let _made = Elapsed(Millis(1000));
    let _given: Elapsed = Millis(1000).into();
}
