//! There is no feeder 2 of two.

use dosewarden_guard::{Facts, FeedRequest, Guard, Limits, TickClock};

fn tick(limits: Limits<2, 1>) {
    let (mut guard, _) = Guard::<2, 1, 7, 25>::restore(limits, None, None);
    let mut clock = TickClock::new();
    let mut verdict = guard.judge(
        clock.step(0),
        Facts::UNKNOWN,
        [FeedRequest::NONE; 2],
        None,
    );
    drop(verdict.permit::<2>());
}

fn main() {
    let run: fn(Limits<2, 1>) = tick;
    let _ = run;
}
