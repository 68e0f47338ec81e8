//! Rules on what lies between two feeds: incompatible products, the hold after a cycle; and what one cycle gives.
//!
//! The log does not say where a controller ends a cycle. Here a cycle ends when nothing has been fed for longer than
//! the site lets a cycle that was cut wait to go on; what is fed sooner belongs to it.

use super::check::{Check, Shown};
use super::fed::{Fed, Range, Span};
use super::seen::Seen;
use super::standing::{empty, place};
use super::text::{amounts, seconds};

const SHOWN: Shown = seconds;

/// Products that must not meet are not fed together, nor one within the purge after the other.
pub(super) fn one_at_a_time(check: &mut Check, seen: &Seen<'_>) {
    let product = |index: usize| seen.bounds.feeders[seen.products[index].0].product;
    let count = seen.products.len();
    let pairs: Vec<(usize, usize)> = (0..count)
        .flat_map(|a| (a + 1..count).map(move |b| (a, b)))
        .filter(|(a, b)| product(*a).incompatible_with(product(*b)))
        .collect();
    for (a, b) in pairs {
        check.applies();
        let mut last: [Option<Span>; 2] = [None, None];
        for row in 0..seen.log.rows.len() {
            let now = [a, b].map(|of| seen.products[of].1[row]);
            for (of, fed) in [a, b].into_iter().zip(now) {
                if fed == Fed::Empty {
                    empty(check, place(seen, row, seen.products[of].0));
                }
            }
            let now = now.map(|fed| match fed {
                Fed::Given(span) => Some(span),
                _ => None,
            });
            match (now, last) {
                ([Some(one), Some(other)], _) => {
                    let most = f64::max(
                        seen.flowing((one.end.0, other.start.1)).1,
                        seen.flowing((other.end.0, one.start.1)).1,
                    );
                    purged(check, seen, row, (a, b), (0.0, most));
                }
                ([Some(one), None], [_, Some(other)]) => {
                    purged(check, seen, row, (a, b), between(seen, &other, &one));
                }
                ([None, Some(one)], [Some(other), _]) => {
                    purged(check, seen, row, (b, a), between(seen, &other, &one));
                }
                _ => {}
            }
            for (last, now) in last.iter_mut().zip(now) {
                *last = now.or(*last);
            }
        }
    }
}

/// Least and most flowing time from the end of one feed to the start of the next.
fn between(seen: &Seen<'_>, first: &Span, next: &Span) -> Range {
    let least = seen.flowing((first.end.1, next.start.0)).0;
    (least, seen.flowing((first.end.0, next.start.1)).1)
}

fn purged(
    check: &mut Check,
    seen: &Seen<'_>,
    row: usize,
    (one, other): (usize, usize),
    range: Range,
) {
    let (one, other) = (seen.products[one].0, seen.products[other].0);
    let late_ms = seen.bounds.late_ms(one).max(seen.bounds.late_ms(other));
    let need_ms = (seen.bounds.purge_ms - late_ms).max(0.0);
    let what = format!("fed after {} and flow of", seen.bounds.feeders[other].name);
    // With no purge at all they may still not run together: a moment has to lie between.
    check.at_least(place(seen, row, one), range, need_ms.max(1.0), SHOWN, &what);
}

/// One cycle so far: of what is surely in it, and of what may be.
#[derive(Clone, Copy, Default)]
struct Cycle {
    amount: Range,
    on: Range,
}

/// The checks on cycles of one product.
pub(super) struct CycleChecks<'c> {
    pub(super) hold: &'c mut Check,
    pub(super) amount: &'c mut Check,
    pub(super) run: &'c mut Check,
}

/// The hold between two cycles, and what one of them gives, of each product.
pub(super) fn cycles(checks: &mut CycleChecks<'_>, seen: &Seen<'_>) {
    for (feeder, fed) in &seen.products {
        let bound = &seen.bounds.feeders[*feeder];
        checks.run.applies();
        if bound.spread_hold_ms > 0.0 {
            checks.hold.applies();
        }
        if bound.cycle_cap.is_some() {
            checks.amount.applies();
        }
        let mut last: Option<Span> = None;
        let mut cycle = Cycle::default();
        for (row, fed) in fed.iter().enumerate() {
            match fed {
                Fed::Gap | Fed::Not => {}
                Fed::Empty => {
                    let place = place(seen, row, *feeder);
                    for check in [&mut *checks.hold, &mut *checks.amount, &mut *checks.run] {
                        empty(check, place);
                    }
                }
                Fed::Given(span) => {
                    cycle = grown(
                        checks.hold,
                        seen,
                        (row, *feeder),
                        (last.as_ref(), span),
                        cycle,
                    );
                    last = Some(*span);
                    given(checks, seen, row, *feeder, cycle);
                }
            }
        }
    }
}

/// The cycle with one more feed in it, or a new one; judges the hold between.
fn grown(
    check: &mut Check,
    seen: &Seen<'_>,
    (row, feeder): (usize, usize),
    (last, span): (Option<&Span>, &Span),
    cycle: Cycle,
) -> Cycle {
    let new = Cycle {
        amount: span.amount,
        on: span.on,
    };
    let Some(last) = last else {
        return new;
    };
    let late_ms = seen.bounds.late_ms(feeder);
    let pause = (
        (span.start.0 - last.end.1).max(0.0),
        (span.start.1 - last.end.0).max(0.0),
    );
    let resumes_ms = seen.bounds.resume_within_ms + late_ms;
    let sum = |one: Range, other: Range| (one.0 + other.0, one.1 + other.1);
    let joined = Cycle {
        amount: sum(cycle.amount, new.amount),
        on: sum(cycle.on, new.on),
    };
    if pause.1 <= resumes_ms {
        return joined;
    }
    let flowed = between(seen, last, span);
    let need_ms = (seen.bounds.feeders[feeder].spread_hold_ms - late_ms).max(0.0);
    if pause.0 > resumes_ms {
        check.at_least(
            place(seen, row, feeder),
            flowed,
            need_ms,
            SHOWN,
            "began a cycle after flow of",
        );
        return new;
    }
    // It may go on, or be a new one.
    if flowed.0 >= need_ms {
        check.held();
    } else {
        let line = seen.log.rows[row].line;
        let name = &seen.bounds.feeders[feeder].name;
        check.doubt("cycle", Some(line), || {
            format!(
                "rows are too far apart to say whether {name} goes on with a cycle: the pause was {} to {}",
                seconds(pause.0),
                seconds(pause.1)
            )
        });
    }
    Cycle {
        amount: (new.amount.0, joined.amount.1),
        on: (new.on.0, joined.on.1),
    }
}

fn given(checks: &mut CycleChecks<'_>, seen: &Seen<'_>, row: usize, feeder: usize, cycle: Cycle) {
    let bound = &seen.bounds.feeders[feeder];
    let place = place(seen, row, feeder);
    if let Some(cap) = bound.cycle_cap {
        let shown = amounts(bound.product);
        checks
            .amount
            .at_most(place, cycle.amount, cap, shown, "fed in one cycle");
    }
    checks.run.at_most(
        place,
        cycle.on,
        bound.run_max_ms,
        SHOWN,
        "driven in one cycle for",
    );
}
