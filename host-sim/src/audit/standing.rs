//! Rules on a state: not fed while something stands, and not before something has stood for long enough.
//!
//! A state that is the same in two rows is taken to have been so between them: the log cannot say more. What may
//! have happened in the time of one row counts against "held", never for it.

use super::check::{Check, Place, Shown};
use super::fed::{Fed, about};
use super::seen::{Seen, States};
use super::text::seconds;

/// How a rule is told.
pub(super) struct Words<'a> {
    /// Goes on after a feeder's name and before a time.
    pub(super) what: &'a str,
    /// Why the state may not be known in a row.
    pub(super) unknown: &'a str,
}

const SHOWN: Shown = seconds;

/// A place of a feeder of the site.
pub(super) fn place<'a>(seen: &Seen<'a>, row: usize, feeder: usize) -> Place<'a> {
    Place {
        row: &seen.log.rows[row],
        feeder: &seen.bounds.feeders[feeder].name,
    }
}

/// What a log does not say of what was fed.
pub(super) fn empty(check: &mut Check, place: Place<'_>) {
    let feeder = place.feeder;
    check.doubt("empty", Some(place.row.line), || {
        format!("the fields that say what {feeder} was fed are empty in some rows")
    });
}

fn unknown(check: &mut Check, place: Place<'_>, words: &Words<'_>) {
    check.doubt("unknown", Some(place.row.line), || words.unknown.to_owned());
}

/// Nothing is fed while `bad` stands, but for the time that a controller and a drive need to stop.
pub(super) fn not_while(
    check: &mut Check,
    seen: &Seen<'_>,
    feeder: usize,
    bad: &States,
    words: &Words<'_>,
) {
    let late_ms = seen.bounds.late_ms(feeder);
    for (row, fed) in seen.fed[feeder].iter().enumerate() {
        let place = place(seen, row, feeder);
        let span = match fed {
            Fed::Gap | Fed::Not => continue,
            Fed::Empty => {
                empty(check, place);
                continue;
            }
            Fed::Given(span) => span,
        };
        let (begin, _) = about(seen.log, row);
        let range = match (bad.before(row), bad.at[row]) {
            (Some(false), Some(false)) => {
                check.held();
                continue;
            }
            (None, _) | (_, None) => {
                unknown(check, place, words);
                continue;
            }
            (Some(false), Some(true)) => (0.0, span.end.1 - begin),
            (Some(true), Some(true)) => {
                let (earliest, latest) = bad.began(seen.log, row);
                (span.end.0 - latest, span.end.1 - earliest)
            }
            (Some(true), Some(false)) => {
                let (earliest, latest) = bad.began(seen.log, row - 1);
                // Was the drive still on when the state was last seen to stand?
                let least = if span.start.1 <= begin {
                    begin - latest
                } else {
                    0.0
                };
                (least, span.end.1 - earliest)
            }
        };
        check.at_most(place, range, late_ms, SHOWN, words.what);
    }
}

/// Nothing is fed before `good` has stood for so long, ms. What is fed before `others_ms` is another rule's.
pub(super) fn not_before(
    check: &mut Check,
    seen: &Seen<'_>,
    (feeder, good): (usize, &States),
    (need_ms, others_ms): (f64, f64),
    words: &Words<'_>,
) {
    // A controller counts from tick to tick.
    let tick_ms = seen.bounds.tick_gap_max_ms;
    for (row, fed) in seen.fed[feeder].iter().enumerate() {
        let place = place(seen, row, feeder);
        let span = match fed {
            Fed::Gap | Fed::Not => continue,
            Fed::Empty => {
                empty(check, place);
                continue;
            }
            Fed::Given(span) => span,
        };
        // What goes on while it stands was judged when it began.
        let began = row
            .checked_sub(1)
            .is_some_and(|b| matches!(seen.fed[feeder][b], Fed::Given(_)));
        if began && good.before(row) == Some(true) {
            continue;
        }
        let (begin, end) = about(seen.log, row);
        let (range, surely, last) = match (good.before(row), good.at[row]) {
            (Some(true), now) => {
                let (earliest, latest) = good.began(seen.log, row - 1);
                let range = ((span.start.0 - latest).max(0.0), span.start.1 - earliest);
                let surely = now == Some(true) || span.start.1 <= begin;
                (range, surely, end - earliest)
            }
            (Some(false), Some(true)) => {
                let range = (0.0, span.start.1 - begin);
                (range, span.end.0 >= end, end - begin)
            }
            (Some(false), Some(false)) => continue,
            (None, _) | (Some(false), None) => {
                unknown(check, place, words);
                continue;
            }
        };
        // What was perhaps fed while it did not stand at all, or before `others_ms`, is perhaps another rule's.
        let surely = surely && range.0 >= others_ms - tick_ms;
        let most = if surely { range.1 } else { f64::INFINITY };
        let range = (range.0, most);
        // The first feed of the row may be another rule's, and a later one in it this rule's.
        if last >= others_ms - tick_ms {
            check.at_least(
                place,
                range,
                (need_ms - tick_ms).max(0.0),
                SHOWN,
                words.what,
            );
        }
    }
}
