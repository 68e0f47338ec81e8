//! What was fed between two rows, as far as a log shows it: each figure by its least and its most.

use super::bounds::Bounds;
use super::log::{FeederColumns, FeederRow, Log};

/// A figure of which a log shows the least and the most.
pub(super) type Range = (f64, f64);

/// What was fed between a row and the one before. Times are in ms since the first row.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Span {
    /// Drive-on time, ms.
    pub(super) on: Range,
    /// Amount, uL or mg.
    pub(super) amount: Range,
    /// When it began.
    pub(super) start: Range,
    /// When it ended.
    pub(super) end: Range,
}

/// Whether anything was fed between a row and the one before.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Fed {
    /// There is a gap.
    Gap,
    /// The fields that would say it are empty.
    Empty,
    /// Nothing, as far as the log shows it.
    Not,
    /// Something.
    Given(Span),
}

/// Begin and end of the time that a row is about.
pub(super) fn about(log: &Log, row: usize) -> Range {
    let end = log.rows[row].at_ms;
    let begin = row
        .checked_sub(1)
        .map_or(end - log.usual_ms(), |before| log.rows[before].at_ms);
    (begin, end)
}

/// Whether the time that a row is about is a gap.
pub(super) fn is_gap(log: &Log, row: usize) -> bool {
    row > 0 && log.rows[row].at_ms - log.rows[row - 1].at_ms > log.gap_ms
}

/// What a feeder was fed in the time of each row.
pub(super) fn fed(log: &Log, bounds: &Bounds, feeder: usize) -> Vec<Fed> {
    let columns = log.columns.feeders[feeder];
    let usual_ms = log.usual_ms();
    if !(columns.drive || columns.on_time || columns.amount) {
        // The whole log says nothing of it, which makes every rule one that cannot be told.
        return vec![Fed::Not; log.rows.len()];
    }
    let mut before = None;
    let rows = log.rows.iter().enumerate().map(|(at, row)| {
        let now = row.feeders[feeder];
        let end = row.at_ms;
        let begin = at
            .checked_sub(1)
            .map_or(end - usual_ms, |b| log.rows[b].at_ms);
        let fed = match is_gap(log, at) {
            true => Fed::Gap,
            false => between((begin, end), columns, before, now, log, bounds, feeder),
        };
        before = now.drive;
        fed
    });
    rows.collect()
}

fn between(
    (begin, end): Range,
    columns: FeederColumns,
    drive_before: Option<bool>,
    now: FeederRow,
    log: &Log,
    bounds: &Bounds,
    feeder: usize,
) -> Fed {
    let length = end - begin;
    let bound = &bounds.feeders[feeder];
    // Of the first row nobody knows what stood before.
    let drive = (drive_before.or(now.drive.filter(|on| !on)), now.drive);
    let by_state = match drive {
        _ if !columns.drive => None,
        (Some(true), Some(true)) => Some((length, length)),
        (Some(false), Some(false)) => Some((0.0, 0.0)),
        (Some(_), Some(_)) => Some((0.0, length)),
        _ => None,
    };
    let half = log.columns.half_amount[feeder];
    let amount = now.amount.filter(|_| columns.amount);
    let amount = amount.map(|amount| told(amount, half, f64::INFINITY));
    // No tube gives more than the site says, so an amount took so long at least.
    let of_amount = |least: f64| (least / bound.rate_max_per_ms).min(length);
    let by_state = by_state.filter(|_| drive.0.is_some() && drive.1.is_some());
    let on = match (now.on_ms.filter(|_| columns.on_time), by_state, amount) {
        (Some(on), ..) => told(on, log.columns.half_on_ms[feeder], length),
        (None, Some((least, most)), Some(amount)) if amount.1 > 0.0 => {
            let most = if most > 0.0 { most } else { length };
            (least.max(of_amount(amount.0)), most)
        }
        (None, Some(by_state), _) => by_state,
        (None, None, Some(amount)) if amount.1 > 0.0 => (of_amount(amount.0), length),
        (None, None, Some(_)) => (0.0, 0.0),
        (None, None, None) => return Fed::Empty,
    };
    let given = columns.on_time && now.on_ms.is_none() || columns.amount && now.amount.is_none();
    if given {
        return Fed::Empty;
    }
    let amount = amount.unwrap_or((on.0 * bound.rate_per_ms, on.1 * bound.rate_per_ms));
    let was_on = columns.drive && drive.0 == Some(true);
    let is_on = columns.drive && drive.1 == Some(true);
    if on.1 <= 0.0 && amount.1 <= 0.0 && !is_on {
        return Fed::Not;
    }
    Fed::Given(Span {
        on,
        amount,
        start: match was_on {
            true => (begin, begin),
            // It has just come on.
            false if on.1 <= 0.0 => (end, end),
            false => (begin, end - on.0),
        },
        end: match is_on {
            true => (end, end),
            false => (begin + on.0, end),
        },
    })
}

/// What a figure that was rounded to twice `half` stands for, up to `most`; nothing is nothing.
fn told(figure: f64, half: f64, most: f64) -> Range {
    if figure > 0.0 {
        ((figure - half).clamp(0.0, most), (figure + half).min(most))
    } else {
        (0.0, 0.0)
    }
}

/// The same of all feeders of a product, taken together.
pub(super) fn together(all: &[Fed]) -> Fed {
    let mut sum: Option<Span> = None;
    for fed in all {
        match fed {
            Fed::Gap | Fed::Empty => return *fed,
            Fed::Not => {}
            Fed::Given(span) => {
                sum = Some(sum.map_or(*span, |sum| Span {
                    on: (sum.on.0 + span.on.0, sum.on.1 + span.on.1),
                    amount: (sum.amount.0 + span.amount.0, sum.amount.1 + span.amount.1),
                    start: (sum.start.0.min(span.start.0), sum.start.1.min(span.start.1)),
                    end: (sum.end.0.max(span.end.0), sum.end.1.max(span.end.1)),
                }));
            }
        }
    }
    sum.map_or(Fed::Not, Fed::Given)
}
