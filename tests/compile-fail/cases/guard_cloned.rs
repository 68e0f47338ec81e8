//! There is one guard: it cannot be cloned.

use dosewarden_guard::Guard;

fn second(guard: &Guard<2, 1, 7, 25>) -> Guard<2, 1, 7, 25> {
    guard.clone()
}

fn main() {
    let _ = second;
}
