//! A log made ready to be judged: what was fed, when water flowed, and since when a state stands.

use super::bounds::Bounds;
use super::fed::{Fed, Range, about, fed, is_gap, together};
use super::log::{Log, Row};

/// A log, what it is judged by, and what follows from both.
pub(super) struct Seen<'a> {
    pub(super) log: &'a Log,
    pub(super) bounds: &'a Bounds,
    /// For each feeder, what was fed in the time of each row.
    pub(super) fed: Vec<Vec<Fed>>,
    /// For each product, the same of its feeders together, with the index of the first of them.
    pub(super) products: Vec<(usize, Vec<Fed>)>,
    pub(super) flow: States,
    /// Least and most flowing time up to each row, ms.
    flowing: Vec<Range>,
}

/// A state at each row, and since which row it has been as it is.
pub(super) struct States {
    pub(super) at: Vec<Option<bool>>,
    first: Vec<usize>,
}

impl States {
    pub(super) fn of(log: &Log, state: impl Fn(&Row) -> Option<bool>) -> Self {
        Self::from(log, log.rows.iter().map(state).collect())
    }

    pub(super) fn from(log: &Log, at: Vec<Option<bool>>) -> Self {
        let mut first: Vec<usize> = Vec::with_capacity(at.len());
        for row in 0..at.len() {
            let goes_on = row > 0 && at[row] == at[row - 1] && !is_gap(log, row);
            first.push(if goes_on { first[row - 1] } else { row });
        }
        Self { at, first }
    }

    /// The state before the time that a row is about.
    pub(super) fn before(&self, row: usize) -> Option<bool> {
        row.checked_sub(1).and_then(|before| self.at[before])
    }

    /// When the state that stands at `row` began: the last row without it, and the first with it. The former is the
    /// beginning of time where the log does not show it.
    pub(super) fn began(&self, log: &Log, row: usize) -> Range {
        let first = self.first[row];
        let shown = first > 0 && !is_gap(log, first) && self.at[first - 1].is_some();
        let earliest = if shown {
            log.rows[first - 1].at_ms
        } else {
            f64::NEG_INFINITY
        };
        (earliest, log.rows[first].at_ms)
    }
}

impl<'a> Seen<'a> {
    pub(super) fn of(log: &'a Log, bounds: &'a Bounds) -> Self {
        let all: Vec<Vec<Fed>> = (0..bounds.feeders.len())
            .map(|f| fed(log, bounds, f))
            .collect();
        let products = bounds.products().into_iter().map(|group| {
            let row = |at: usize| {
                let of: Vec<Fed> = group.iter().map(|feeder| all[*feeder][at]).collect();
                together(&of)
            };
            (group[0], (0..log.rows.len()).map(row).collect())
        });
        let products = products.collect();
        let flow = States::of(log, |row| row.flow);
        Self {
            log,
            bounds,
            flowing: flowing(log, &flow),
            fed: all,
            products,
            flow,
        }
    }

    /// Least and most flowing time between two moments, ms; none if the second comes first.
    pub(super) fn flowing(&self, (from, to): (f64, f64)) -> Range {
        if to <= from {
            return (0.0, 0.0);
        }
        let (a, b) = (self.flowing_until(from), self.flowing_until(to));
        (b.0 - a.0, b.1 - a.1)
    }

    fn flowing_until(&self, moment: f64) -> Range {
        let rows = &self.log.rows;
        let row = rows
            .partition_point(|row| row.at_ms < moment)
            .min(rows.len() - 1);
        let (begin, end) = about(self.log, row);
        let before = row.checked_sub(1).map_or((0.0, 0.0), |at| self.flowing[at]);
        let part = ((moment - begin) / (end - begin)).clamp(0.0, 1.0);
        let whole = (
            self.flowing[row].0 - before.0,
            self.flowing[row].1 - before.1,
        );
        (before.0 + part * whole.0, before.1 + part * whole.1)
    }
}

/// Least and most flowing time up to each row.
fn flowing(log: &Log, flow: &States) -> Vec<Range> {
    let mut sum = (0.0, 0.0);
    let rows = (0..log.rows.len()).map(|row| {
        let (begin, end) = about(log, row);
        let (before, now, gap) = (flow.before(row), flow.at[row], is_gap(log, row));
        if before == Some(true) && now == Some(true) && !gap {
            sum.0 += end - begin;
        }
        if before != Some(false) || now != Some(false) || gap {
            sum.1 += end - begin;
        }
        sum
    });
    rows.collect()
}
