//! A permit cannot be used twice.

use dosewarden_guard::Permit;

fn drive(permit: Permit<'_, 0>) {
    drop(permit);
}

fn twice(permit: Permit<'_, 0>) {
    drive(permit);
    drive(permit);
}

fn main() {
    let _ = twice;
}
