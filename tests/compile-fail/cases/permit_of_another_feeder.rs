//! A permit of feeder 0 cannot be given to the drive of feeder 1.

use dosewarden_guard::{Permit, Verdict};

fn drive_1(permit: Option<Permit<'_, 1>>) {
    drop(permit);
}

fn apply(verdict: &mut Verdict<'_, 2>) {
    drive_1(verdict.permit::<0>());
}

fn main() {
    let _ = apply;
}
