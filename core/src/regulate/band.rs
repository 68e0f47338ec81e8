//! On at one value, off at another: for a generator, which is asked for large doses that the guard
//! charges in slices.

use super::error::{RegulatorError, ranged};
use super::{Direction, Regulator, View};
use crate::guard::units::Dose;

/// On/off with hysteresis. While it is on it asks for `dose` in every cycle, at most the cycle's
/// cap.
///
/// ```
/// use dosewarden::guard::units::Dose;
/// use dosewarden::regulate::{Band, Direction};
///
/// // A generator: on below 680 mV, off at 720 mV, 20 g of chlorine a cycle.
/// assert!(Band::try_new(Direction::Raises, 680, 720, Dose(20_000)).is_ok());
/// assert!(Band::try_new(Direction::Raises, 720, 680, Dose(20_000)).is_err());
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Band {
    direction: Direction,
    start: i32,
    stop: i32,
    dose: Dose,
    on: bool,
}

impl Band {
    /// Feed starts once the value is past `start` and ends once it reaches `stop`; pH x 1000 or mV.
    ///
    /// # Errors
    /// [`RegulatorError::BandReversed`] if `stop` is not on the far side of `start`;
    /// [`RegulatorError::Range`] if a value is not within 1 to 14,000 or the dose is 0.
    pub fn try_new(
        direction: Direction,
        start: i32,
        stop: i32,
        dose: Dose,
    ) -> Result<Self, RegulatorError> {
        ranged("start", i64::from(start), 1, 14_000)?;
        ranged("stop", i64::from(stop), 1, 14_000)?;
        ranged("dose", i64::from(dose.0), 1, i64::from(u32::MAX))?;
        if direction.deficit(stop, start) <= 0 {
            return Err(RegulatorError::BandReversed { start, stop });
        }
        Ok(Self {
            direction,
            start,
            stop,
            dose,
            on: false,
        })
    }

    /// Whether it asks at present.
    #[must_use]
    pub const fn is_on(&self) -> bool {
        self.on
    }
}

impl Regulator for Band {
    fn propose(&mut self, view: &View) -> Dose {
        match view.value {
            Some(value) if self.direction.deficit(self.start, value) > 0 => self.on = true,
            Some(value) if self.direction.deficit(self.stop, value) <= 0 => self.on = false,
            Some(_) => {}
            // A cycle that runs is for the guard to cut; a new one is not asked for.
            None => self.on &= view.in_cycle,
        }
        if self.on {
            self.dose.min(view.cycle_cap)
        } else {
            Dose(0)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::regulate::tests::view;

    #[test]
    fn it_keeps_its_state_between_start_and_stop() {
        let mut band = Band::try_new(Direction::Raises, 680, 720, Dose(20_000)).unwrap();
        assert!(!band.is_on());
        let mut at = |value| band.propose(&view(Some(value))).0 > 0;
        assert!(!at(700) && !at(680));
        assert!(at(679) && at(680) && at(719));
        assert!(!at(720) && !at(700));
    }

    #[test]
    fn it_asks_for_its_dose_and_at_most_the_cap() {
        let mut band = Band::try_new(Direction::Lowers, 7600, 7400, Dose::from_ml(900)).unwrap();
        assert_eq!(band.propose(&view(Some(7601))), Dose::from_ml(500));
        let mut small = Band::try_new(Direction::Lowers, 7600, 7400, Dose::from_ml(9)).unwrap();
        assert_eq!(small.propose(&view(Some(7601))), Dose::from_ml(9));
        assert!(small.is_on());
    }

    #[test]
    fn an_unknown_value_asks_for_nothing_new() {
        let mut band = Band::try_new(Direction::Raises, 680, 720, Dose(1)).unwrap();
        band.propose(&view(Some(600)));
        let running = View {
            in_cycle: true,
            ..view(None)
        };
        assert_eq!(band.propose(&running), Dose(1), "the guard cuts it");
        assert_eq!(band.propose(&view(None)), Dose(0));
        assert_eq!(band.propose(&view(Some(700))), Dose(0), "begins anew");
    }
}
