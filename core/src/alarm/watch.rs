//! What the alarms look at in one tick.

use crate::guard::units::Millis;
use crate::guard::{LockoutSet, Notices};
use crate::settings::{RateLimit, ValueAlarms};

use super::life::Condition;

/// One probe.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct WatchedProbe {
    /// Its value, if it is trusted and the water has moved past it for long enough.
    pub(crate) value: Option<i32>,
    /// It is fitted and not healthy, or says nothing.
    pub(crate) failing: bool,
}

/// One feeder.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct WatchedFeeder {
    pub(crate) lockouts: LockoutSet,
    /// Feed is wanted; `None`: not known, since the value is not.
    pub(crate) wants: Option<bool>,
    /// It had a permit.
    pub(crate) fed: bool,
    pub(crate) low: bool,
    pub(crate) empty: bool,
    pub(crate) line_fault: bool,
    pub(crate) rate_wrong: bool,
}

impl WatchedFeeder {
    pub(crate) const NOTHING: Self = Self {
        lockouts: LockoutSet::NONE,
        wants: Some(false),
        fed: false,
        low: false,
        empty: false,
        line_fault: false,
        rate_wrong: false,
    };
}

/// Everything.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Watched<const N: usize> {
    pub(crate) elapsed: Millis,
    pub(crate) ph: WatchedProbe,
    pub(crate) orp: WatchedProbe,
    pub(crate) notices: Notices,
    pub(crate) lockouts: LockoutSet,
    pub(crate) records_differ: bool,
    pub(crate) master_fault: bool,
    /// Water has flowed for as long as proves it.
    pub(crate) flow: bool,
    /// The time between ticks cannot be, for a while.
    pub(crate) clock_stands: bool,
    /// What was kept is lost, and nobody has ended the observing since.
    pub(crate) kept_lost: bool,
    pub(crate) pump_due: Option<bool>,
    /// The pump is known to run too slowly for the flow switch.
    pub(crate) pump_slow: bool,
    /// Laid up for winter: water and demand mean nothing.
    pub(crate) laid_up: bool,
    /// Nothing is fed by design.
    pub(crate) observing: bool,
    /// A test of the water is overdue.
    pub(crate) test_due: bool,
    /// A proof test is due, or failed.
    pub(crate) proof_due: bool,
    pub(crate) feeders: [WatchedFeeder; N],
}

/// Below the low threshold; once it stands, until the value is back by the dead band.
pub(crate) fn low(value: Option<i32>, limits: &ValueAlarms, stands: bool) -> Condition {
    let bound = if stands {
        limits.low.saturating_add(limits.dead_band)
    } else {
        limits.low
    };
    known(value, |value| value < bound)
}

/// Above the high threshold; once it stands, until the value is back by the dead band.
pub(crate) fn high(value: Option<i32>, limits: &ValueAlarms, stands: bool) -> Condition {
    let bound = if stands {
        limits.high.saturating_sub(limits.dead_band)
    } else {
        limits.high
    };
    known(value, |value| value > bound)
}

fn known(value: Option<i32>, stands: impl Fn(i32) -> bool) -> Condition {
    value.map_or(Condition::Unknown, |value| Condition::of(stands(value)))
}

/// A fast change, within consecutive windows. A change that falls on both sides of a window's end
/// is seen once it is too large for either.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct RateWatch {
    from: Option<i32>,
    age: Millis,
}

impl RateWatch {
    pub(crate) const START: Self = Self {
        from: None,
        age: Millis(0),
    };

    pub(crate) fn step(
        &mut self,
        value: Option<i32>,
        limit: Option<RateLimit>,
        elapsed: Millis,
    ) -> Condition {
        let Some(limit) = limit else {
            return Condition::Gone;
        };
        let Some(value) = value else {
            // Stale water from the pipe would look like a jump.
            *self = Self::START;
            return Condition::Unknown;
        };
        let from = *self.from.get_or_insert(value);
        self.age.0 = self.age.0.saturating_add(elapsed.0);
        let moved = value.abs_diff(from);
        if self.age >= limit.within {
            self.from = Some(value);
            self.age = Millis(0);
        }
        Condition::of(moved > limit.change_max.unsigned_abs())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const PH: ValueAlarms = ValueAlarms {
        low: 7000,
        high: 7800,
        dead_band: 50,
        rate: None,
    };

    #[test]
    fn thresholds_have_a_dead_band_on_the_way_back_only() {
        assert_eq!(low(Some(7000), &PH, false), Condition::Gone);
        assert_eq!(low(Some(6999), &PH, false), Condition::Stands);
        assert_eq!(low(Some(7049), &PH, true), Condition::Stands);
        assert_eq!(low(Some(7050), &PH, true), Condition::Gone);
        assert_eq!(high(Some(7800), &PH, false), Condition::Gone);
        assert_eq!(high(Some(7801), &PH, false), Condition::Stands);
        assert_eq!(high(Some(7751), &PH, true), Condition::Stands);
        assert_eq!(high(Some(7750), &PH, true), Condition::Gone);
        assert_eq!(high(None, &PH, true), Condition::Unknown);
    }

    #[test]
    fn a_jump_is_seen_in_its_window_and_a_slow_change_is_not() {
        let limit = Some(RateLimit {
            change_max: 100,
            within: Millis(60_000),
        });
        let mut watch = RateWatch::START;
        for second in 0..120 {
            let slow = 7200 + second; // 60 in a window
            assert_eq!(watch.step(Some(slow), limit, Millis(1000)), Condition::Gone);
        }
        assert_eq!(
            watch.step(Some(7600), limit, Millis(1000)),
            Condition::Stands
        );
        assert_eq!(watch.step(None, limit, Millis(1000)), Condition::Unknown);
        assert_eq!(
            watch.step(Some(7900), limit, Millis(1000)),
            Condition::Gone,
            "after a gap it begins anew"
        );
        assert_eq!(watch.step(Some(0), None, Millis(1000)), Condition::Gone);
    }

    #[test]
    fn a_change_over_many_ticks_of_one_window_is_seen() {
        let limit = Some(RateLimit {
            change_max: 100,
            within: Millis(60_000),
        });
        let mut watch = RateWatch::START;
        let seen = |step: &i32| {
            watch.step(Some(7200 + 5 * step), limit, Millis(1000)) == Condition::Stands
        };
        // 5 a second: past 100 after 21 steps.
        assert_eq!((0..60).find(seen), Some(21));
    }
}
