//! What the others break: a permit taken and given to its drive, then the next judgement.

use dosewarden_guard::{Facts, FeedRequest, Guard, Permit, TickClock};

fn drive_1(permit: Option<Permit<'_, 1>>) {
    drop(permit);
}

fn tick(guard: &mut Guard<2, 1, 7, 25>, clock: &mut TickClock) {
    let none = [FeedRequest::NONE; 2];
    let mut verdict = guard.judge(clock.step(0), Facts::UNKNOWN, none, None);
    drive_1(verdict.permit::<1>());
    guard.judge(clock.step(1000), Facts::UNKNOWN, none, None);
}

fn main() {
    let _ = tick;
}
