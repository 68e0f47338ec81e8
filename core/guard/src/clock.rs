//! Time enters as an amount that has passed, and only [`TickClock`] makes one: nobody can pass a
//! time of day, a negative step or a made-up figure.

use crate::units::Millis;

/// Time since the last tick, from a free-running counter. Made by [`TickClock::step`] only.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Elapsed(Millis);

impl Elapsed {
    /// The time that passed.
    #[must_use]
    pub const fn millis(self) -> Millis {
        self.0
    }
}

/// Turns a free-running millisecond counter into [`Elapsed`].
///
/// The counter may wrap (every 49.7 days at 32 bits). A gap longer than one turn of the counter
/// cannot be told from a shorter one: the board's watchdog has to rule it out.
///
/// ```
/// use dosewarden_guard::{TickClock, units::Millis};
/// let mut clock = TickClock::new();
/// assert_eq!(clock.step(u32::MAX - 99).millis(), Millis(0)); // the first step knows no gap
/// assert_eq!(clock.step(900).millis(), Millis(1000));        // across the wrap
/// ```
#[derive(Clone, Debug, Default)]
pub struct TickClock {
    last_ms: Option<u32>,
}

impl TickClock {
    /// A clock that has not ticked.
    #[must_use]
    pub const fn new() -> Self {
        Self { last_ms: None }
    }

    /// Time since the previous step. 0 the first time, which the guard holds as not sane.
    pub fn step(&mut self, raw_ms: u32) -> Elapsed {
        let elapsed = self.last_ms.map_or(0, |last| raw_ms.wrapping_sub(last));
        self.last_ms = Some(raw_ms);
        Elapsed(Millis(elapsed))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_wrap_and_a_counter_that_goes_back_is_a_huge_gap() {
        let mut clock = TickClock::new();
        assert_eq!(clock.step(5).millis(), Millis(0));
        assert_eq!(clock.step(5).millis(), Millis(0));
        assert_eq!(clock.step(1005).millis(), Millis(1000));
        assert_eq!(clock.step(1004).millis(), Millis(u32::MAX));
    }
}
