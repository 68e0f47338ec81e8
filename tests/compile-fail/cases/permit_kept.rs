//! A permit cannot be kept past the next judgement.

use dosewarden_guard::{Facts, FeedRequest, Guard, TickClock};

fn tick(guard: &mut Guard<2, 1, 7, 25>, clock: &mut TickClock) {
    let none = [FeedRequest::NONE; 2];
    let kept = guard
        .judge(clock.step(0), Facts::UNKNOWN, none, None)
        .permit::<0>();
    guard.judge(clock.step(1000), Facts::UNKNOWN, none, None);
    drop(kept);
}

fn main() {
    let _ = tick;
}
