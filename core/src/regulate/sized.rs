//! A dose sized by how far the water is from the set point. It never asks for more than closes the
//! deficit by the figure it was given, and never for more than the cycle's cap.

use super::error::{RegulatorError, ranged};
use super::{Direction, Regulator, View};
use crate::guard::units::Dose;

/// Least that a dose is divided by for what was learned: it is at most doubled.
const LEARNED_MIN: u16 = 500;
/// And most: it is at least half.
const LEARNED_MAX: u16 = 2000;

/// Doses in proportion to the deficit: `dose x deficit / moves`, where `dose` is known to move the
/// value by `moves`. For acid that figure is the water's acid demand (the dose for 0.1 pH) or a
/// measured response, and what the answers to earlier doses taught ([`View::learned_milli`]) corrects
/// it between half and double, inside the cycle's cap; for chlorine by ORP it is an estimate, since ORP answers to the logarithm of
/// chlorine.
///
/// ```
/// use dosewarden::guard::units::Dose;
/// use dosewarden::regulate::{Direction, SizedDose};
///
/// // 120 mL of acid lower this pool by 0.1 pH; wanted is pH 7.4, and nothing below pH 7.45.
/// let acid = SizedDose::from_demand_per_tenth_ph(Direction::Lowers, 7400, 50, Dose::from_ml(120));
/// assert!(acid.is_ok());
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct SizedDose {
    direction: Direction,
    set_point: i32,
    dead_band: i32,
    dose: Dose,
    moves: i32,
    /// What the running demand asks for; 0: none.
    wanted: Dose,
}

impl SizedDose {
    /// A regulator for a probe in pH x 1000 or mV. `dose` moves the value by `moves`; nothing is
    /// asked for while the value is nearer to the set point than `dead_band`.
    ///
    /// # Errors
    /// [`RegulatorError::Range`] if the set point is not within 1 to 14,000, the dead band not
    /// within 0 to 2,000, `moves` not within 1 to 2,000, or the dose is 0.
    pub fn try_new(
        direction: Direction,
        set_point: i32,
        dead_band: i32,
        dose: Dose,
        moves: i32,
    ) -> Result<Self, RegulatorError> {
        ranged("set_point", i64::from(set_point), 1, 14_000)?;
        ranged("dead_band", i64::from(dead_band), 0, 2000)?;
        ranged("dose", i64::from(dose.0), 1, i64::from(u32::MAX))?;
        ranged("moves", i64::from(moves), 1, 2000)?;
        Ok(Self {
            direction,
            set_point,
            dead_band,
            dose,
            moves,
            wanted: Dose(0),
        })
    }

    /// For acid or base: the dose that moves this water by 0.1 pH.
    ///
    /// # Errors
    /// As [`SizedDose::try_new`].
    pub fn from_demand_per_tenth_ph(
        direction: Direction,
        set_point_milli_ph: i32,
        dead_band_milli_ph: i32,
        dose_per_tenth: Dose,
    ) -> Result<Self, RegulatorError> {
        Self::try_new(
            direction,
            set_point_milli_ph,
            dead_band_milli_ph,
            dose_per_tenth,
            100,
        )
    }

    /// Takes a measured response in place of the estimate, from the next dose on.
    ///
    /// # Errors
    /// As [`SizedDose::try_new`]; nothing changes then.
    pub fn set_response(&mut self, dose: Dose, moves: i32) -> Result<(), RegulatorError> {
        let wanted = self.wanted;
        *self = Self::try_new(self.direction, self.set_point, self.dead_band, dose, moves)?;
        self.wanted = wanted;
        Ok(())
    }

    /// Moves the set point, from the next dose on. A running dose ends if it is past it.
    ///
    /// # Errors
    /// As [`SizedDose::try_new`]; nothing changes then.
    pub fn set_set_point(&mut self, set_point: i32) -> Result<(), RegulatorError> {
        ranged("set_point", i64::from(set_point), 1, 14_000)?;
        self.set_point = set_point;
        Ok(())
    }

    /// Wanted value, pH x 1000 or mV.
    #[must_use]
    pub const fn set_point(&self) -> i32 {
        self.set_point
    }

    /// The dose that closes a deficit, rounded down, at most `most`. What was learned counts within
    /// its bounds, whoever tells it.
    fn size_floor(&self, deficit: i32, learned_milli: u16, most: Dose) -> Dose {
        let (dose, moves) = (u64::from(self.dose.0), u64::from(self.moves.unsigned_abs()));
        let wanted = dose.saturating_mul(u64::from(deficit.unsigned_abs()));
        let whole = if learned_milli == 1000 {
            wanted.checked_div(moves)
        } else {
            let by = u64::from(learned_milli.clamp(LEARNED_MIN, LEARNED_MAX));
            let by = moves.saturating_mul(by);
            wanted.saturating_mul(1000).checked_div(by)
        };
        Dose(u32::try_from(whole.unwrap_or(0)).unwrap_or(u32::MAX)).min(most)
    }
}

impl Regulator for SizedDose {
    /// Sizes a dose once, and stands by it until it is given, or the set point is reached.
    fn propose(&mut self, view: &View) -> Dose {
        if view.closed.is_some() {
            self.wanted = Dose(0);
        }
        let Some(value) = view.value else {
            // Not known just now: a cycle that runs is for the guard to cut, a new one is not
            // asked for.
            if !view.in_cycle {
                self.wanted = Dose(0);
            }
            return self.wanted;
        };
        let deficit = self.direction.deficit(self.set_point, value);
        if deficit <= 0 {
            self.wanted = Dose(0);
        } else if !view.in_cycle {
            let sized = self.size_floor(deficit, view.learned_milli, view.cycle_cap);
            let worth_it = deficit >= self.dead_band && sized >= view.dose_min;
            self.wanted = if worth_it { sized } else { Dose(0) };
        }
        self.wanted
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::regulate::tests::view;

    fn acid() -> SizedDose {
        SizedDose::from_demand_per_tenth_ph(Direction::Lowers, 7400, 50, Dose::from_ml(120))
            .unwrap()
    }

    #[test]
    fn a_dose_is_the_deficit_times_the_demand() {
        assert_eq!(acid().propose(&view(Some(7500))), Dose::from_ml(120));
        assert_eq!(acid().propose(&view(Some(7460))), Dose::from_ml(72));
    }

    #[test]
    fn nothing_inside_the_dead_band_or_past_the_set_point() {
        assert_eq!(acid().propose(&view(Some(7449))), Dose(0));
        assert_eq!(acid().propose(&view(Some(7450))), Dose::from_ml(60));
        assert_eq!(acid().propose(&view(Some(7000))), Dose(0));
        assert_eq!(acid().propose(&view(None)), Dose(0));
    }

    #[test]
    fn never_more_than_the_cap_and_never_less_than_the_feeder_can_give() {
        assert_eq!(acid().propose(&view(Some(9000))), Dose::from_ml(500));
        assert_eq!(acid().propose(&view(Some(i32::MAX))), Dose::from_ml(500));
        let mut coarse = view(Some(7450));
        coarse.dose_min = Dose::from_ml(61);
        assert_eq!(acid().propose(&coarse), Dose(0));
    }

    #[test]
    fn a_dose_that_runs_is_kept_until_given_or_the_set_point_is_reached() {
        let mut acid = acid();
        let first = acid.propose(&view(Some(7500)));
        let running = |value| View {
            in_cycle: true,
            ..view(value)
        };
        assert_eq!(acid.propose(&running(Some(7420))), first, "noise");
        assert_eq!(acid.propose(&running(None)), first, "a gap");
        let done = View {
            closed: Some(crate::regulate::tests::closed(first)),
            ..view(Some(7420))
        };
        assert_eq!(acid.propose(&done), Dose(0), "given, and in the dead band");
        acid.propose(&view(Some(7500)));
        assert_eq!(acid.propose(&running(Some(7400))), Dose(0), "reached");
    }

    #[test]
    fn what_was_learned_corrects_a_dose_within_half_and_double_and_the_cap() {
        let dose = |learned_milli, value| {
            acid().propose(&View {
                learned_milli,
                ..view(Some(value))
            })
        };
        assert_eq!(dose(2000, 7500), Dose::from_ml(60), "twice the rate");
        assert_eq!(dose(500, 7500), Dose::from_ml(240), "half the rate");
        assert_eq!(dose(800, 7500), Dose::from_ml(150));
        assert_eq!(dose(1, 7500), Dose::from_ml(240), "never more than double");
        assert_eq!(dose(u16::MAX, 7500), Dose::from_ml(60));
        assert_eq!(dose(500, 7700), Dose::from_ml(500), "the cap stands");
    }

    #[test]
    fn figures_without_meaning_are_refused() {
        let new = |set_point, dead_band, dose, moves| {
            SizedDose::try_new(Direction::Lowers, set_point, dead_band, Dose(dose), moves)
        };
        assert!(new(7400, 50, 1, 100).is_ok());
        for wrong in [
            new(0, 50, 1, 100),
            new(7400, -1, 1, 100),
            new(7400, 50, 0, 100),
            new(7400, 50, 1, 0),
        ] {
            assert!(
                matches!(wrong, Err(RegulatorError::Range { .. })),
                "{wrong:?}"
            );
        }
    }

    #[test]
    fn a_measured_response_and_a_new_set_point_count_from_the_next_dose() {
        let mut acid = acid();
        acid.set_response(Dose::from_ml(60), 100).unwrap();
        assert_eq!(acid.propose(&view(Some(7500))), Dose::from_ml(60));
        acid.set_set_point(7450).unwrap();
        assert_eq!(acid.propose(&view(Some(7500))), Dose::from_ml(30));
        assert!(acid.set_set_point(-5).is_err());
        assert_eq!(acid.set_point(), 7450);
    }
}
