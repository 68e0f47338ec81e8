//! A permit cannot be cloned.

use dosewarden_guard::Permit;

fn another<'g>(permit: &Permit<'g, 0>) -> Permit<'g, 0> {
    permit.clone()
}

fn main() {
    let _ = another;
}
