//! Time without power, by a real-time clock that has to earn its trust: fresh, later than the
//! record, its rate checked against ticks. What it shows is credited once, out of a bank that only
//! time with power fills; so brown-outs with a lying clock free no more than the bank.

use crate::units::{ClockSeconds, Millis};

/// How long clock and ticks are compared before the clock is believed.
const CHECK: Millis = Millis(120_000);
/// Largest difference over that time: the clock's whole seconds, and 1 %.
const SLACK_MS: u32 = 3_200;

/// What the clock shows in one tick.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Off {
    /// Time without power that may be credited; once.
    pub(crate) credit: Millis,
    /// Time without power that counts where it hurts, unchecked; once.
    pub(crate) passed: Millis,
}

#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct OffTime {
    /// Stamp of the record that was restored, until it has been used.
    stamp: Option<ClockSeconds>,
    /// First reading since power-on, and the ticks since.
    first: Option<(ClockSeconds, Millis)>,
    /// Time with power before the first reading: it has aged the ledger already.
    before: Millis,
    /// What has passed has been told.
    told: bool,
    /// Nothing may be credited any more.
    forgotten: bool,
    now: Option<ClockSeconds>,
}

impl OffTime {
    pub(crate) fn since(stamp: Option<ClockSeconds>) -> Self {
        Self {
            stamp,
            ..Self::default()
        }
    }

    /// Something was charged or fed since power-on: crediting time now would age that as well. What
    /// has passed is still told, once.
    pub(crate) fn forget(&mut self) {
        self.forgotten = true;
        if self.told {
            self.stamp = None;
        }
    }

    /// The clock as last trusted.
    pub(crate) const fn now(&self) -> Option<ClockSeconds> {
        self.now
    }

    pub(crate) fn tick(
        &mut self,
        clock: Option<ClockSeconds>,
        elapsed: Millis,
        tick_gap_max: Millis,
    ) -> Off {
        let mut off = Off {
            credit: Millis(0),
            passed: Millis(0),
        };
        self.now = clock;
        let Some(stamp) = self.stamp else {
            return off;
        };
        let Some(now) = clock.filter(|_| elapsed <= tick_gap_max) else {
            // Compared without a gap, or not at all.
            self.before.0 = self.before.0.saturating_add(elapsed.0);
            if let Some((_, ticks)) = self.first.take() {
                self.before.0 = self.before.0.saturating_add(ticks.0);
            }
            return off;
        };
        let Some((first, ticks)) = &mut self.first else {
            self.before.0 = self.before.0.saturating_add(elapsed.0);
            self.first = Some((now, Millis(0)));
            if !self.told {
                off.passed = Millis(between(stamp, now).0.saturating_sub(self.before.0));
                self.told = true;
            }
            if self.forgotten {
                self.stamp = None;
            }
            return off;
        };
        ticks.0 = ticks.0.saturating_add(elapsed.0);
        if *ticks < CHECK {
            return off;
        }
        let shown = between(*first, now);
        if shown.0.abs_diff(ticks.0) <= SLACK_MS {
            off.credit = Millis(between(stamp, *first).0.saturating_sub(self.before.0));
        }
        self.stamp = None;
        off
    }
}

/// Milliseconds from one stamp to a later one; 0 if it is not later.
fn between(from: ClockSeconds, to: ClockSeconds) -> Millis {
    Millis(to.0.saturating_sub(from.0).saturating_mul(1000))
}

#[cfg(test)]
mod tests {
    use super::*;

    const GAP: Millis = Millis(2000);

    fn run(off: &mut OffTime, from: u32, rate_percent: u32, secs: u32) -> u32 {
        let mut credit = 0;
        for tick in 0..secs {
            let now = ClockSeconds(from + tick * rate_percent / 100);
            credit += off.tick(Some(now), Millis(1000), GAP).credit.0;
        }
        credit
    }

    #[test]
    fn off_time_is_credited_once_after_the_clock_has_kept_pace() {
        let mut off = OffTime::since(Some(ClockSeconds(1000)));
        assert_eq!(run(&mut off, 5000, 100, 120), 0);
        assert_eq!(
            run(&mut off, 5120, 100, 1),
            3_999_000,
            "4000 s off, 1 s of it with power"
        );
        assert_eq!(run(&mut off, 5121, 100, 500), 0);
    }

    #[test]
    fn a_clock_that_runs_fast_or_back_earns_nothing() {
        let mut fast = OffTime::since(Some(ClockSeconds(1000)));
        assert_eq!(run(&mut fast, 5000, 104, 600), 0);
        let mut back = OffTime::since(Some(ClockSeconds(9000)));
        assert_eq!(run(&mut back, 5000, 100, 600), 0);
        let mut none = OffTime::since(None);
        assert_eq!(run(&mut none, 5000, 100, 600), 0);
    }

    #[test]
    fn a_gap_starts_the_comparison_anew() {
        let mut off = OffTime::since(Some(ClockSeconds(1000)));
        run(&mut off, 5000, 100, 100);
        assert_eq!(off.tick(None, Millis(1000), GAP).credit, Millis(0));
        assert_eq!(run(&mut off, 5101, 100, 120), 0);
        assert_eq!(run(&mut off, 5221, 100, 2), 3_999_000);
    }
}
