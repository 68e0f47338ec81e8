//! Shared by the caps of the rolling hour and day.

use crate::answer::{Answer, Clear};
use crate::units::{Dose, Millis};

/// A rolling total and its cap.
#[derive(Clone, Copy)]
pub(super) struct Rolling {
    /// The feeder has an open or pending cycle, whose charge is part of the total.
    pub(super) in_cycle: bool,
    /// Booked in the ledger.
    pub(super) booked: Dose,
    /// Charged in cycles of the account and not yet booked.
    pub(super) charged: Dose,
    /// The cap.
    pub(super) cap: Dose,
    /// Smallest dose worth a cycle.
    pub(super) dose_min: Dose,
}

/// `clears` tells how long until what is booked is at most a figure.
pub(super) fn within_cap(total: Rolling, clears: impl FnOnce(Dose) -> Option<Millis>) -> Answer {
    let sum = total.booked.0.saturating_add(total.charged.0);
    let left = total.cap.0.saturating_sub(sum);
    let (refuses, keep) = if total.in_cycle {
        (sum > total.cap.0, 0)
    } else {
        (left < total.dose_min.0 || left == 0, total.dose_min.0)
    };
    if !refuses {
        return Answer::ALLOW.dose(Dose(left));
    }
    // What a standing cycle has charged will be booked, or given back, when it ends: until then no
    // time can be stated.
    let target = Dose(total.cap.0.saturating_sub(keep));
    match clears(target).filter(|_| total.charged.0 == 0) {
        Some(wait) => Answer::hold(Clear::After(wait)),
        None => Answer::hold(Clear::CycleEnds),
    }
}
