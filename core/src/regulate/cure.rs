//! New plaster needs much more acid at first (common practice, no source): a daily allowance of the
//! regulator's own that begins large, shrinks day by day, and is the usual one from day 28 at the
//! latest, by itself.
//!
//! Its age goes by time with power. What of it has to survive a restart is a [`CureAge`], which the
//! feature `store` keeps; the settings image holds the age at which the schedule was commissioned.
//!
//! It only takes away: it bounds what a [`SizedDose`] asks for, and the guard's caps bound that. To
//! give new plaster more, the guard's day cap has to have room for it; the usual allowance below
//! the cap is what ends with the cure.

use super::error::{RegulatorError, ranged};
use super::{Regulator, SizedDose, View};
use crate::guard::units::{DAY_MS, Dose, Millis};
use crate::probe::Age;
use crate::under::{Under, settings_crc};

/// Longest cure, days.
pub const CURE_DAYS_MAX: u16 = 28;

/// What may be asked for in a day.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub struct Allowance {
    /// Once the plaster has cured.
    pub usual: Dose,
    /// On its first day.
    pub first_day: Dose,
    /// The guard's day cap: neither may be more.
    pub ceiling: Dose,
    /// Days from the first to the usual, 1 to [`CURE_DAYS_MAX`].
    pub days: u16,
}

/// What of a cure has to survive the power.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct CureAge {
    /// Since the plaster was filled, by time with power.
    pub age: Age,
    /// What is left of this day's allowance: cycling the power gives none of it back.
    pub left: Dose,
}

/// A [`SizedDose`] with a daily allowance that falls in a straight line from the first day's to the
/// usual one.
///
/// Days count by ticks from the age that is given at start, so they stand still without power; what
/// was kept ([`Regulator::cure`]) is given back at each start, and days by a calendar by
/// [`CureSchedule::set_age_days`]. It never goes back: new plaster is a schedule with another
/// `age_days` or another allowance, which takes nothing of what was kept under the last. A day's allowance is new with each day of age, so a rolling day can have parts
/// of two; the guard's rolling cap bounds that.
///
/// ```
/// use dosewarden::guard::units::Dose;
/// use dosewarden::regulate::{Allowance, CureSchedule, Direction, SizedDose};
///
/// let acid = SizedDose::from_demand_per_tenth_ph(Direction::Lowers, 7400, 50, Dose::from_ml(120))?;
/// let allowance = Allowance {
///     usual: Dose::from_ml(600),
///     first_day: Dose::from_ml(1800),
///     ceiling: Dose::from_ml(2000),
///     days: 28,
/// };
/// let cure = CureSchedule::try_new(acid, allowance, 7)?; // filled a week ago
/// assert_eq!(cure.today(), Dose::from_ml(1500)); // a quarter of the way
/// # Ok::<(), dosewarden::regulate::RegulatorError>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct CureSchedule {
    sized: SizedDose,
    usual: Dose,
    /// What the first day has more than the usual ones.
    more: Dose,
    days: u16,
    /// Age at which it was commissioned.
    from: u16,
    age: u16,
    /// Time into this day.
    into: Millis,
    /// Allowance of this day, and what of it is left.
    today: Dose,
    left: Dose,
    /// A dose was asked for, or runs: it is bounded by what was left when it was sized.
    bound: Dose,
}

impl CureSchedule {
    /// A schedule for plaster that was filled `age_days` ago.
    ///
    /// # Errors
    /// [`RegulatorError::Range`] if `days` is not within 1 to [`CURE_DAYS_MAX`], the first day's
    /// allowance is not within the usual one to the ceiling, or the usual one is 0.
    pub fn try_new(
        sized: SizedDose,
        allowance: Allowance,
        age_days: u16,
    ) -> Result<Self, RegulatorError> {
        let Allowance {
            usual,
            first_day,
            ceiling,
            days,
        } = allowance;
        let most = i64::from(CURE_DAYS_MAX);
        ranged("days", i64::from(days), 1, most)?;
        let (least, most) = (i64::from(usual.0), i64::from(ceiling.0));
        ranged("usual", least, 1, most)?;
        ranged("first_day", i64::from(first_day.0), least, most)?;
        let mut cure = Self {
            sized,
            usual,
            more: Dose(first_day.0.saturating_sub(usual.0)),
            days,
            from: age_days,
            age: age_days,
            into: Millis(0),
            today: usual,
            left: Dose(0),
            bound: Dose(0),
        };
        cure.begin_day();
        Ok(cure)
    }

    /// Whole days since the plaster was filled.
    #[must_use]
    pub const fn age_days(&self) -> u16 {
        self.age
    }

    /// Days by a calendar. An age below what is known changes nothing.
    pub fn set_age_days(&mut self, age_days: u16) {
        if age_days > self.age {
            self.age = age_days;
            self.into = Millis(0);
            self.begin_day();
        }
    }

    /// Whether the cure is over and the usual allowance holds.
    #[must_use]
    pub const fn is_over(&self) -> bool {
        self.age >= self.days
    }

    /// Allowance of this day.
    #[must_use]
    pub const fn today(&self) -> Dose {
        self.today
    }

    /// What of it is left.
    #[must_use]
    pub const fn left(&self) -> Dose {
        self.left
    }

    /// The regulator that it bounds.
    #[must_use]
    pub const fn sized(&self) -> &SizedDose {
        &self.sized
    }

    /// The regulator that it bounds, as to move its set point.
    pub const fn sized_mut(&mut self) -> &mut SizedDose {
        &mut self.sized
    }

    /// Of what it was commissioned with.
    fn settings(&self) -> u32 {
        settings_crc((self.usual, self.more, self.days, self.from))
    }

    /// Divides: once a day.
    fn begin_day(&mut self) {
        let days_left = u64::from(self.days.saturating_sub(self.age));
        let more = u64::from(self.more.0)
            .saturating_mul(days_left)
            .checked_div(u64::from(self.days));
        let more = u32::try_from(more.unwrap_or(0)).unwrap_or(0);
        self.today = Dose(self.usual.0.saturating_add(more));
        self.left = self.today;
    }
}

impl Regulator for CureSchedule {
    fn propose(&mut self, view: &View) -> Dose {
        self.into.0 = self.into.0.saturating_add(view.elapsed.0);
        if self.into.0 >= DAY_MS {
            self.into.0 = self.into.0.saturating_sub(DAY_MS);
            self.age = self.age.saturating_add(1);
            self.begin_day();
        }
        if let Some(closed) = view.closed {
            self.left.0 = self.left.0.saturating_sub(closed.fed.0);
        }
        if !view.in_cycle {
            self.bound = self.left;
        }
        let bounded = View {
            cycle_cap: view.cycle_cap.min(self.bound),
            ..*view
        };
        self.sized.propose(&bounded)
    }

    fn cure(&self) -> Option<Under<CureAge>> {
        let mut age = Age::from_days(self.age);
        age.pass(self.into);
        Some(Under {
            found: CureAge {
                age,
                left: self.left,
            },
            settings: self.settings(),
        })
    }

    fn set_cure(&mut self, kept: Under<CureAge>) {
        let Some(CureAge { age, left }) = kept.still(self.settings()) else {
            return;
        };
        let then = (age.days(), age.part_of_day());
        if then < (self.age, self.into) {
            return;
        }
        (self.age, self.into) = then;
        self.begin_day();
        self.left = self.left.min(left);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::regulate::Direction;
    use crate::regulate::tests::{closed, view};

    const ALLOWANCE: Allowance = Allowance {
        usual: Dose::from_ml(100),
        first_day: Dose::from_ml(380),
        ceiling: Dose::from_ml(400),
        days: 28,
    };

    fn sized() -> SizedDose {
        SizedDose::try_new(Direction::Lowers, 7400, 50, Dose::from_ml(60), 100).unwrap()
    }

    fn aged(age_days: u16) -> CureSchedule {
        CureSchedule::try_new(sized(), ALLOWANCE, age_days).unwrap()
    }

    /// What is fed on each of some days with pH high all the time, each dose given at once.
    fn fed(cure: &mut CureSchedule, days: u32) -> std::vec::Vec<u32> {
        let mut each = std::vec::Vec::new();
        for day in 0..days {
            let mut sum = 0;
            for minute in 0..24 * 60 {
                let mut seen = view(Some(7500));
                seen.elapsed = Millis(if day + minute == 0 { 0 } else { 60_000 });
                let dose = cure.propose(&seen);
                if dose.0 > 0 {
                    sum += dose.0;
                    seen.elapsed = Millis(0);
                    seen.closed = Some(closed(dose));
                    seen.value = Some(7400);
                    cure.propose(&seen);
                }
            }
            each.push(sum);
        }
        each
    }

    #[test]
    fn the_allowance_falls_in_a_straight_line_and_ends_by_itself() {
        for age in 0..60 {
            let expected = 100_000 + 10_000 * u32::from(28_u16.saturating_sub(age));
            assert_eq!(aged(age).today(), Dose(expected), "day {age}");
            assert_eq!(aged(age).is_over(), age >= 28);
        }
        let mut cure = aged(0);
        let days = fed(&mut cure, 31);
        for (day, fed) in days.iter().enumerate() {
            let expected = 100_000 + 10_000 * 28_usize.saturating_sub(day);
            assert_eq!(*fed as usize, expected, "day {day}");
        }
        assert_eq!(cure.age_days(), 30);
    }

    #[test]
    fn the_cycle_s_cap_stands_and_so_does_the_rest_of_the_day() {
        let mut cure = aged(28);
        let mut seen = view(Some(9000));
        seen.cycle_cap = Dose::from_ml(70);
        assert_eq!(cure.propose(&seen), Dose::from_ml(70));
        seen.closed = Some(closed(Dose::from_ml(70)));
        assert_eq!(cure.propose(&seen), Dose::from_ml(30), "what is left");
        seen.closed = Some(closed(Dose::from_ml(30)));
        assert_eq!(cure.propose(&seen), Dose(0));
        assert_eq!(cure.left(), Dose(0));
    }

    #[test]
    fn a_running_dose_is_not_cut_by_its_own_feed() {
        let mut cure = aged(28);
        let dose = cure.propose(&view(Some(7550)));
        assert_eq!(dose, Dose::from_ml(90));
        let running = View {
            in_cycle: true,
            ..view(Some(7500))
        };
        assert_eq!(cure.propose(&running), dose);
    }

    #[test]
    fn an_age_never_goes_back() {
        let mut cure = aged(20);
        cure.set_age_days(3);
        assert_eq!(cure.age_days(), 20);
        cure.set_age_days(27);
        assert_eq!(cure.today(), Dose::from_ml(110));
        // Told each day anew, it gives no second allowance for the day.
        let mut seen = view(Some(7400));
        seen.closed = Some(closed(Dose::from_ml(30)));
        cure.propose(&seen);
        cure.set_age_days(27);
        assert_eq!(cure.left(), Dose::from_ml(80));
    }

    #[test]
    fn an_allowance_over_the_ceiling_or_for_too_long_is_refused() {
        let new = |change: fn(&mut Allowance)| {
            let mut allowance = ALLOWANCE;
            change(&mut allowance);
            CureSchedule::try_new(sized(), allowance, 0)
        };
        assert!(new(|_| ()).is_ok());
        assert!(new(|one| one.days = 29).is_err());
        assert!(new(|one| one.days = 0).is_err());
        assert!(new(|one| one.first_day = Dose::from_ml(401)).is_err());
        assert!(new(|one| one.first_day = Dose::from_ml(99)).is_err());
        assert!(new(|one| one.usual = Dose(0)).is_err());
    }

    #[test]
    fn what_was_kept_is_taken_up_by_the_same_cure_and_never_goes_back() {
        let mut old = aged(5);
        let mut seen = view(Some(7500));
        seen.elapsed = Millis(DAY_MS / 2);
        seen.closed = Some(closed(Dose::from_ml(40)));
        old.propose(&seen);
        let kept = old.cure().expect("it has one");
        let mut new = aged(5);
        // As a controller holds it that was given it for a while.
        let mut lent = &mut new;
        <&mut CureSchedule as Regulator>::set_cure(&mut lent, kept);
        assert_eq!(<&mut CureSchedule as Regulator>::cure(&lent), Some(kept));
        assert_eq!((new.age_days(), new.left()), (5, old.left()));
        // What was fed of a day that has only begun is not forgotten.
        let mut begun = aged(5);
        seen.elapsed = Millis(0);
        begun.propose(&seen);
        let mut standard = super::super::Standard::from(aged(5));
        standard.set_cure(begun.cure().expect("it has one"));
        assert_eq!(standard.cure(), begun.cure());
        assert!(begun.left() < begun.today());
        let mut older = aged(5);
        older.set_age_days(9);
        older.set_cure(kept);
        assert_eq!((older.age_days(), older.left()), (9, older.today()));
        let fewer = Allowance {
            days: 20,
            ..ALLOWANCE
        };
        let mut other = CureSchedule::try_new(sized(), fewer, 5).unwrap();
        other.set_cure(kept);
        assert_eq!(other.left(), other.today(), "of another cure");
    }

    #[test]
    fn what_has_no_cure_keeps_none_and_its_set_point_can_be_moved() {
        let mut plain = sized();
        let kept = aged(5).cure().expect("it has one");
        plain.set_cure(kept);
        assert_eq!(plain.cure(), None);
        let mut cure = aged(28);
        cure.sized_mut().set_set_point(7300).unwrap();
        assert_eq!(cure.sized().set_point(), 7300);
    }
}
