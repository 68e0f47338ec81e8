//! What a product gives in any hour and any day. What was fed before the log begins is not in it.

use super::bounds::FeederBounds;
use super::check::Check;
use super::fed::{Fed, about};
use super::seen::Seen;
use super::standing::{empty, place};
use super::text::amounts;

/// No product gives more than its cap in any time so long, ms.
pub(super) fn rolling(
    check: &mut Check,
    seen: &Seen<'_>,
    window_ms: f64,
    cap: fn(&FeederBounds) -> f64,
    what: &str,
) {
    let log = seen.log;
    let ends: Vec<f64> = log.rows.iter().map(|row| row.at_ms).collect();
    let begins: Vec<f64> = (0..log.rows.len()).map(|row| about(log, row).0).collect();
    for (feeder, fed) in &seen.products {
        check.applies();
        let bound = &seen.bounds.feeders[*feeder];
        let mut sums = vec![(0.0, 0.0)];
        for fed in fed {
            let before: (f64, f64) = *sums.last().unwrap_or(&(0.0, 0.0));
            sums.push(match fed {
                Fed::Given(span) => (before.0 + span.amount.0, before.1 + span.amount.1),
                _ => before,
            });
        }
        for (row, fed) in fed.iter().enumerate() {
            match fed {
                Fed::Gap | Fed::Not => {}
                Fed::Empty => empty(check, place(seen, row, *feeder)),
                Fed::Given(_) => {
                    // All that surely lies within one window that ends with the row ...
                    let inside = begins.partition_point(|begin| *begin < ends[row] - window_ms);
                    // ... and all that may lie in one that ends in its time.
                    let touched = ends.partition_point(|end| *end <= begins[row] - window_ms);
                    let range = (
                        sums[row + 1].0 - sums[inside.min(row + 1)].0,
                        sums[row + 1].1 - sums[touched].1,
                    );
                    let place = place(seen, row, *feeder);
                    check.at_most(place, range, cap(bound), amounts(bound.product), what);
                }
            }
        }
    }
}
