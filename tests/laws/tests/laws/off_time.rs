//! Brown-out loops with a lying clock free no more than the bank, which only time with power fills.

use dosewarden_guard::units::{ClockSeconds, Dose, Millis};
use dosewarden_guard::{
    Action, Authority, FeedRequest, Mode, PersonAction, Reading, Stage, TickClock, Ticket,
};
use proptest::prelude::*;

use crate::check;
use crate::engine::{G, R};
use crate::facts::healthy;
use crate::site::{Plan, a_plan};
use crate::truth::Truth;

/// One stay with power, and what the clock shows after it.
#[derive(Clone, Copy, Debug)]
struct Stay {
    powered_s: u32,
    off_s: u32,
    /// Seconds by which the clock lies ahead after it.
    lie_s: u32,
}

fn stays() -> impl Strategy<Value = Vec<Stay>> {
    let stay = (60..200_u32, 1..30_u32, prop_oneof![Just(0), 0..90_000_u32]);
    let stay = stay.prop_map(|(powered_s, off_s, lie_s)| Stay {
        powered_s,
        off_s,
        lie_s,
    });
    proptest::collection::vec(stay, 1..6)
}

fn plan(cut_timer: bool) -> Plan {
    Plan {
        hour_cycles: 1,
        day_hours: 1,
        cut_timer,
        ..a_plan()
    }
}

fn action(stay: usize, second: u32) -> Option<PersonAction> {
    let action = match (stay, second) {
        (0, 1) => Action::Initialise,
        (0, 2) => Action::SetStage(Stage::Full),
        _ => return None,
    };
    Some(PersonAction {
        by: Authority::Technician,
        action,
    })
}

fn brown_outs(stays: &[Stay], cut_timer: bool) -> Result<(), String> {
    let limits = plan(cut_timer).limits::<2, 1>();
    let mut truth = Truth::new(2);
    let mut record: Option<Vec<u8>> = None;
    let (mut shown, mut powered_ms) = (1_000_000_u32, 0_u64);
    for (number, stay) in stays.iter().enumerate() {
        let read = || {
            record
                .as_deref()
                .map(|bytes| R::<2, 1>::decode(bytes).unwrap())
        };
        let (mut guard, _) = G::<2, 1>::restore(limits.clone(), read().as_ref(), read().as_ref());
        let mut clock = TickClock::new();
        clock.step(0);
        let mut facts = healthy::<2>();
        for second in 1..=stay.powered_s {
            truth.pass(&limits, 1000, &[false; 2]);
            shown += 1;
            facts.clock = Reading::now(ClockSeconds(shown));
            let request = FeedRequest {
                dose: Dose(1_000_000),
                mode: Mode::Automatic,
            };
            let requests = [request, FeedRequest::NONE];
            let elapsed = clock.step(second * 1000);
            let decision = *guard
                .judge(elapsed, facts, requests, action(number, second))
                .decision();
            truth.permit(0, u64::from(decision.feeders[0].run.0), 0, false);
            if decision.save {
                let mut bytes = vec![0; R::<2, 1>::LEN];
                guard.seal_record(&mut bytes).unwrap();
                facts.saved = Ticket::of(&bytes);
                record = Some(bytes);
            }
        }
        powered_ms += u64::from(stay.powered_s) * 1000;
        truth.power_cut(u64::from(stay.off_s) * 1000);
        shown += stay.off_s + stay.lie_s;
    }
    // All that the bank can have freed.
    let ratio = u64::from(limits.spec().off_credit_ratio);
    let freed_ms = (powered_ms * ratio).min(u64::from(limits.spec().off_credit_max.0));
    let body = limits.body(0, 0).unwrap();
    for (what, window_ms, cap) in [
        ("hour", 3_600_000, body.hour_cap),
        ("day", 86_400_000, body.day_cap),
    ] {
        // At 1 uL a millisecond.
        let on = truth.most_in(0, 0, window_ms - freed_ms);
        if on > u64::from(cap.0) {
            return Err(format!("{on} uL in one {what}, of {cap:?}"));
        }
    }
    let bank = Millis(u32::try_from(freed_ms).unwrap());
    if bank > limits.spec().off_credit_max {
        return Err("the bank holds more than it may".into());
    }
    Ok(())
}

#[test]
fn b_brown_outs_with_a_lying_clock_free_no_more_than_the_bank() {
    check((stays(), any::<bool>()), |(stays, cut_timer)| {
        brown_outs(&stays, cut_timer)
    });
}

/// The other way round: an honest clock does free what is over age.
#[test]
fn off_time_is_credited_out_of_the_bank() {
    let limits = plan(false).limits::<2, 1>();
    let (mut guard, _) = G::<2, 1>::restore(limits.clone(), None, None);
    let mut clock = TickClock::new();
    clock.step(0);
    let mut facts = healthy::<2>();
    let mut bytes = vec![0; R::<2, 1>::LEN];
    let none = [FeedRequest::NONE; 2];
    // An hour and a half with power fills the bank by three hours.
    for second in 1..5400_u32 {
        facts.clock = Reading::now(ClockSeconds(second));
        guard.judge(clock.step(second * 1000), facts, none, action(0, second));
    }
    guard.seal_record(&mut bytes).unwrap();
    let bank = guard.state().off_bank;
    assert!(bank >= Millis::from_secs(10_790), "{bank:?}");
    let read = || R::<2, 1>::decode(&bytes).ok();
    let (mut guard, _) = G::<2, 1>::restore(limits, read().as_ref(), read().as_ref());
    let mut clock = TickClock::new();
    clock.step(0);
    for second in 1..200_u32 {
        facts.clock = Reading::now(ClockSeconds(5400 + 3600 + second));
        guard.judge(clock.step(second * 1000), facts, none, None);
    }
    let spent = bank.0 - guard.state().off_bank.0;
    let off_ms = 3_600_000 - 2 * 199_000;
    assert!(spent.abs_diff(off_ms) < 3000, "{spent} of {off_ms}");
}
