//! A drive does what it is told.

use super::check::{Check, Shown};
use super::fed::is_gap;
use super::seen::{Seen, States};
use super::standing::place;
use super::text::seconds;

const SHOWN: Shown = seconds;

/// Each drive that the log shows beside its command follows it, within the time that it has.
pub(super) fn drive_obeys(check: &mut Check, seen: &Seen<'_>) {
    for (feeder, bound) in seen.bounds.feeders.iter().enumerate() {
        check.applies();
        let columns = seen.log.columns.feeders[feeder];
        if !columns.drive || !columns.command {
            let name = &bound.name;
            check.blind(
                "column",
                format!("the log has no columns for both drive and command of {name}"),
            );
            continue;
        }
        let both = |drive: bool, command: bool| {
            States::of(seen.log, |row| {
                let of = row.feeders[feeder];
                Some(of.drive? == drive && of.command? == command)
            })
        };
        let late_ms = seen.bounds.late_ms(feeder);
        stretches(
            check,
            seen,
            feeder,
            &both(true, false),
            late_ms,
            "driven without a command for",
        );
        if let Some(feedback_ms) = bound.feedback_ms {
            let most_ms = feedback_ms + seen.bounds.tick_gap_max_ms;
            let what = "commanded and not driven for";
            stretches(check, seen, feeder, &both(false, true), most_ms, what);
        }
    }
}

/// Judges each stretch in which `against` stands, at its last row.
fn stretches(
    check: &mut Check,
    seen: &Seen<'_>,
    feeder: usize,
    against: &States,
    most_ms: f64,
    what: &str,
) {
    let rows = &seen.log.rows;
    for row in 0..rows.len() {
        let place = place(seen, row, feeder);
        match against.at[row] {
            None => check.doubt("empty", Some(place.row.line), || {
                format!(
                    "drive or command of {} are empty in some rows",
                    place.feeder
                )
            }),
            Some(false) => check.held(),
            Some(true) => {
                let (earliest, latest) = against.began(seen.log, row);
                let next = rows.get(row + 1).map_or(f64::INFINITY, |row| row.at_ms);
                let goes_on =
                    against.at.get(row + 1) == Some(&Some(true)) && !is_gap(seen.log, row + 1);
                if !goes_on {
                    let range = (rows[row].at_ms - latest, next - earliest);
                    check.at_most(place, range, most_ms, SHOWN, what);
                }
            }
        }
    }
}
