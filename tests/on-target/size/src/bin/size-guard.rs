//! The guard as a board uses it: two feeders, two bodies, the shipping buckets.
#![no_std]
#![no_main]

use days::site::SPEC;
use dosewarden_guard::{Facts, FeedRequest, Guard, Limits, Record, Rule, TickClock, Ticket};
use size::{from_board, to_board};

/// Checked when it is built.
const LIMITS: Limits<2, 2> = match Limits::try_new(SPEC) {
    Ok(limits) => limits,
    Err(_) => panic!("the limits are broken"),
};

/// Where it begins.
// SAFETY: no other object of the program holds this name.
#[unsafe(no_mangle)]
pub extern "C" fn start() -> ! {
    let mut record = from_board([0; Record::<2, 2, 7, 25>::LEN]);
    let first = Record::decode(&record).ok();
    let (mut guard, found) = Guard::<2, 2, 7, 25>::restore(LIMITS, first.as_ref(), first.as_ref());
    to_board(found);
    let mut clock = TickClock::new();
    loop {
        let mut facts = from_board(Facts::UNKNOWN);
        facts.saved = Ticket::of(&record);
        let requests = from_board([FeedRequest::NONE; 2]);
        let elapsed = clock.step(from_board(0));
        let mut verdict = guard.judge(elapsed, facts, requests, from_board(None));
        to_board((
            verdict.permit::<0>(),
            verdict.permit::<1>(),
            verdict.master(),
        ));
        to_board(verdict.explain(0, from_board(Rule::FlowProven)));
        if verdict.decision().save {
            to_board(guard.seal_record(&mut record));
        }
    }
}
