//! A share of a fixed period. What it owes for a period is asked for until it is given or the
//! period ends, so a turn that comes late does not lose the dose.

use super::error::{RegulatorError, ranged};
use super::{Direction, Regulator, View};
use crate::guard::units::{Dose, Millis, Percent};

/// How large the on-share is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
pub enum Share {
    /// The same in every period. Needs no probe.
    Fixed(Percent),
    /// In proportion to how far the water is from the set point.
    Deficit {
        /// Whether the product raises or lowers the value.
        direction: Direction,
        /// Wanted value, pH x 1000 or mV.
        set_point: i32,
        /// Distance from the set point at which the share is at its largest.
        full_at: i32,
        /// Largest share.
        share_max: Percent,
    },
}

/// On-share of a fixed period, with minimum on and off times.
///
/// A share shorter than `on_min` is kept and added to the next period's, so that a small demand is
/// met late rather than never. What is kept is at most one `on_min`.
///
/// ```
/// use dosewarden::guard::units::{Millis, Percent};
/// use dosewarden::regulate::{Share, TimedShare};
///
/// let tenth = TimedShare::try_new(
///     Share::Fixed(Percent(10)),
///     Millis::from_mins(30),
///     Millis::from_secs(30),
///     Millis::from_mins(5),
/// );
/// assert!(tenth.is_ok());
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct TimedShare {
    share: Share,
    period: Millis,
    on_min: Millis,
    off_min: Millis,
    /// Time into the period.
    into: Millis,
    /// A share too short to be given, kept for the next period.
    kept: Millis,
    /// On time owed in this period; 0: given, or none.
    owed: Millis,
    begun: bool,
}

impl TimedShare {
    /// A share of each `period`, no run shorter than `on_min`, no pause shorter than `off_min`.
    ///
    /// # Errors
    /// [`RegulatorError::Range`] if the period is not within 1 min to 24 h, `on_min` or `off_min`
    /// is 0, a share is not within 1 to 100 %, the set point not within 1 to 14,000 or `full_at`
    /// not within 1 to 2,000; [`RegulatorError::PeriodTooShort`] if `on_min` and `off_min` do not
    /// fit into the period.
    pub fn try_new(
        share: Share,
        period: Millis,
        on_min: Millis,
        off_min: Millis,
    ) -> Result<Self, RegulatorError> {
        ranged("period", i64::from(period.0), 60_000, 86_400_000)?;
        ranged("on_min", i64::from(on_min.0), 1, i64::from(period.0))?;
        ranged("off_min", i64::from(off_min.0), 1, i64::from(period.0))?;
        match share {
            Share::Fixed(share) => ranged("share", i64::from(share.0), 1, 100)?,
            Share::Deficit {
                set_point,
                full_at,
                share_max,
                ..
            } => {
                ranged("set_point", i64::from(set_point), 1, 14_000)?;
                ranged("full_at", i64::from(full_at), 1, 2000)?;
                ranged("share_max", i64::from(share_max.0), 1, 100)?;
            }
        }
        let at_least_ms = on_min.0.saturating_add(off_min.0);
        if period.0 < at_least_ms {
            return Err(RegulatorError::PeriodTooShort {
                period_ms: period.0,
                at_least_ms,
            });
        }
        Ok(Self {
            share,
            period,
            on_min,
            off_min,
            into: Millis(0),
            kept: Millis(0),
            owed: Millis(0),
            begun: false,
        })
    }

    /// On time of a period that begins now, rounded down, before minimum times.
    fn on_floor(&self, value: Option<i32>) -> Millis {
        let period = u64::from(self.period.0);
        let share = match self.share {
            Share::Fixed(share) => Some(period.saturating_mul(u64::from(share.0)) / 100),
            Share::Deficit {
                direction,
                set_point,
                full_at,
                share_max,
            } => value.and_then(|value| {
                let deficit = direction.deficit(set_point, value).max(0).min(full_at);
                let most = period.saturating_mul(u64::from(share_max.0)) / 100;
                most.saturating_mul(u64::from(deficit.unsigned_abs()))
                    .checked_div(u64::from(full_at.unsigned_abs()))
            }),
        };
        Millis(u32::try_from(share.unwrap_or(0)).unwrap_or(0))
    }

    fn begin(&mut self, value: Option<i32>) {
        let on = Millis(self.on_floor(value).0.saturating_add(self.kept.0));
        let most = Millis(self.period.0.saturating_sub(self.off_min.0));
        if on < self.on_min {
            self.kept = on;
            self.owed = Millis(0);
        } else {
            self.kept = Millis(0);
            self.owed = on.min(most);
        }
    }

    /// The water has come past the set point: nothing is owed any more.
    fn reached(&self, value: Option<i32>) -> bool {
        match (self.share, value) {
            (
                Share::Deficit {
                    direction,
                    set_point,
                    ..
                },
                Some(value),
            ) => direction.deficit(set_point, value) <= 0,
            _ => false,
        }
    }
}

impl Regulator for TimedShare {
    fn propose(&mut self, view: &View) -> Dose {
        self.into.0 = self.into.0.saturating_add(view.elapsed.0);
        if view.closed.is_some() || self.reached(view.value) {
            self.owed = Millis(0);
        }
        // A period is not begun in the middle of a cycle: the dose that runs belongs to the last.
        if (!self.begun || self.into >= self.period) && !view.in_cycle {
            self.begun = true;
            self.into = Millis(0);
            self.begin(view.value);
        }
        if self.owed.0 == 0 {
            return Dose(0);
        }
        let dose = view.rate.dose_ceil(self.owed).min(view.cycle_cap);
        if dose < view.dose_min { Dose(0) } else { dose }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::regulate::tests::{closed, view};

    fn fixed(percent: u32) -> TimedShare {
        TimedShare::try_new(
            Share::Fixed(Percent(percent)),
            Millis::from_mins(10),
            Millis::from_secs(30),
            Millis::from_mins(2),
        )
        .unwrap()
    }

    /// Half of 10 min at 100 under a set point of 700.
    fn by_deficit() -> TimedShare {
        TimedShare::try_new(
            Share::Deficit {
                direction: Direction::Raises,
                set_point: 700,
                full_at: 100,
                share_max: Percent(50),
            },
            Millis::from_mins(10),
            Millis::from_secs(1),
            Millis::from_secs(1),
        )
        .unwrap()
    }

    /// How many of a period's dose are asked for in some periods, each given at once.
    fn given(share: &mut TimedShare, periods: u32, value: Option<i32>) -> std::vec::Vec<u32> {
        let mut doses = std::vec::Vec::new();
        let mut seen = view(value);
        for _ in 0..periods * 600 {
            let dose = share.propose(&seen);
            seen.closed = None;
            if dose.0 > 0 {
                doses.push(dose.0);
                seen.closed = Some(closed(dose));
            }
        }
        doses
    }

    #[test]
    fn a_share_of_the_period_is_asked_for_once_a_period() {
        // 10 % of 10 min at 30 mL/min.
        assert_eq!(given(&mut fixed(10), 3, None), [30_000; 3]);
    }

    #[test]
    fn a_share_below_the_least_on_time_is_kept_until_it_is_worth_it() {
        // 2 % of 10 min are 12 s; 30 s are reached in every third period, as 36 s.
        assert_eq!(given(&mut fixed(2), 6, None), [18_000; 2]);
    }

    #[test]
    fn a_large_share_leaves_the_least_off_time() {
        assert_eq!(given(&mut fixed(100), 1, None), [8 * 30_000]);
    }

    #[test]
    fn what_is_not_given_is_asked_for_until_the_period_ends() {
        let mut share = fixed(10);
        for _ in 0..600 {
            assert_eq!(share.propose(&view(None)), Dose(30_000));
        }
        assert_eq!(
            share.propose(&view(None)),
            Dose(30_000),
            "not twice as much"
        );
    }

    #[test]
    fn by_deficit_the_share_follows_the_water() {
        let share = |value| by_deficit().propose(&view(value));
        assert_eq!(share(Some(650)), Dose(75_000)); // a quarter of 10 min at 30 mL/min
        assert_eq!(share(Some(500)), Dose(150_000));
        assert_eq!(share(Some(700)), Dose(0));
        assert_eq!(share(None), Dose(0));
    }

    #[test]
    fn times_that_do_not_fit_are_refused() {
        let new = |on, off| {
            TimedShare::try_new(
                Share::Fixed(Percent(10)),
                Millis(60_000),
                Millis(on),
                Millis(off),
            )
        };
        assert!(new(30_000, 30_000).is_ok());
        assert_eq!(
            new(30_001, 30_000),
            Err(RegulatorError::PeriodTooShort {
                period_ms: 60_000,
                at_least_ms: 60_001
            })
        );
        assert!(new(0, 1).is_err() && new(1, 0).is_err());
    }

    #[test]
    fn a_share_that_is_just_the_least_on_time_is_given_in_each_period() {
        // 5 % of 10 min are 30 s: 15 mL at 30 mL/min.
        assert_eq!(given(&mut fixed(5), 3, None), [15_000; 3]);
    }

    #[test]
    fn what_is_owed_is_dropped_once_the_water_reaches_the_set_point() {
        let mut share = by_deficit();
        let mut at = |value| share.propose(&view(value));
        assert_eq!(at(Some(650)), Dose(75_000));
        assert_eq!(at(Some(699)), Dose(75_000), "not there yet");
        assert_eq!(at(None), Dose(75_000), "not known to be there");
        assert_eq!(at(Some(700)), Dose(0));
        assert_eq!(at(Some(650)), Dose(0), "nothing more in this period");
    }

    #[test]
    fn a_dose_under_the_smallest_is_not_asked_for() {
        let asked = |dose_min| {
            let mut seen = view(None);
            seen.dose_min = Dose(dose_min);
            fixed(5).propose(&seen)
        };
        assert_eq!(asked(15_000), Dose(15_000));
        assert_eq!(asked(15_001), Dose(0));
    }
}
