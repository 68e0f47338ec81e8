//! When the next test of a figure is due.

/// Minutes between entries of the log: Ohio OAC 3701-31-06, every 4 h.
pub const EVERY_MIN: u32 = 4 * 60;
/// The same with an automatic controller: Ohio OAC 3701-31-06, every 12 h. Counted here only while
/// what it shows is recorded (our choice).
pub const EVERY_WITH_CONTROLLER_MIN: u32 = 12 * 60;

/// What became of a test that was due.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum TestEvent {
    /// Made when it was due, or before; then what was due.
    InTime(u32),
    /// Made after it was due; then what was due.
    Late(u32),
    /// Not made before the one after it was due; then what was due.
    Missed(u32),
}

/// When a figure has to be tested. Times are minutes from any midnight.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct TestsDue {
    due_min: u32,
    last_min: Option<u32>,
    /// What the last test found counts until then.
    counts_until_min: Option<u32>,
}

const fn every(is_recorded: bool) -> u32 {
    if is_recorded {
        EVERY_WITH_CONTROLLER_MIN
    } else {
        EVERY_MIN
    }
}

impl TestsDue {
    /// At the opening; `before`: the last test, and whether what the controller shows was recorded
    /// since then. A test is due at the opening, unless that one still counts.
    #[must_use]
    pub fn opening(at_min: u32, before: Option<(u32, bool)>) -> Self {
        let counts = before.map(|(last, is_recorded)| last.saturating_add(every(is_recorded)));
        Self {
            due_min: counts.map_or(at_min, |until| until.max(at_min)),
            last_min: before.map(|(last, _)| last),
            counts_until_min: counts,
        }
    }

    /// When the next is due.
    #[must_use]
    pub const fn due_min(&self) -> u32 {
        self.due_min
    }

    /// Whether one is overdue.
    #[must_use]
    pub const fn is_late(&self, at_min: u32) -> bool {
        at_min > self.due_min
    }

    /// Whether what the last test found still counts.
    #[must_use]
    pub fn counts(&self, at_min: u32) -> bool {
        self.counts_until_min.is_some_and(|until| at_min <= until)
    }

    /// Takes a minute. At least once each [`EVERY_MIN`], in the order of time. `is_recorded`: what the
    /// controller shows; `is_tested`: the figure was just tested.
    pub fn step(&mut self, at_min: u32, is_recorded: bool, is_tested: bool) -> Option<TestEvent> {
        if !is_recorded {
            let sooner = self
                .last_min
                .map_or(at_min, |last| last.saturating_add(EVERY_MIN));
            let sooner = sooner.max(at_min);
            self.due_min = self.due_min.min(sooner);
            self.counts_until_min = self.counts_until_min.map(|until| until.min(sooner));
        }
        let due = self.due_min;
        if is_tested {
            self.last_min = Some(at_min);
            self.due_min = at_min.saturating_add(every(is_recorded));
            self.counts_until_min = Some(self.due_min);
            return Some(if at_min <= due {
                TestEvent::InTime(due)
            } else {
                TestEvent::Late(due)
            });
        }
        let next = due.saturating_add(every(is_recorded));
        if at_min < next {
            return None;
        }
        self.due_min = next;
        Some(TestEvent::Missed(due))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_four_hours_and_every_twelve_with_a_controller_that_is_recorded() {
        // Ohio OAC 3701-31-06.
        assert_eq!((EVERY_MIN, EVERY_WITH_CONTROLLER_MIN), (240, 720));
        for (is_recorded, every) in [(false, 240), (true, 720)] {
            let mut due = TestsDue::opening(420, None);
            assert!(!due.counts(420));
            assert_eq!(
                due.step(420, is_recorded, true),
                Some(TestEvent::InTime(420))
            );
            let next = 420 + every;
            assert_eq!(due.due_min(), next);
            assert!(due.counts(next) && !due.counts(next + 1));
            assert!(!due.is_late(next) && due.is_late(next + 1));
            let mut late = due;
            assert_eq!(
                late.step(next + 1, is_recorded, true),
                Some(TestEvent::Late(next))
            );
            assert_eq!(late.due_min(), next + 1 + every);
            assert_eq!(due.step(next + every - 1, is_recorded, false), None);
            let missed = Some(TestEvent::Missed(next));
            assert_eq!(due.step(next + every, is_recorded, false), missed);
            assert!(!due.counts(next + every), "nothing was found anew");
        }
    }

    #[test]
    fn what_the_evening_before_found_counts_until_it_is_due_and_no_longer() {
        let opening = |last, is_recorded| TestsDue::opening(1440 + 420, Some((last, is_recorded)));
        let due = opening(1440 + 400, false);
        assert_eq!(due.due_min(), 1440 + 640, "tested before the first bather");
        let due = opening(1200, true);
        assert_eq!(due.due_min(), 1920, "twelve hours after 20:00");
        let due = opening(1200, false);
        assert_eq!(due.due_min(), 1860, "at the opening");
        assert!(!due.counts(1860), "four hours after 20:00 are over");
    }

    #[test]
    fn a_recording_that_fails_brings_the_test_forward() {
        let begun = || {
            let mut due = TestsDue::opening(420, None);
            due.step(420, true, true);
            due
        };
        let mut soon = begun();
        soon.step(480, false, false);
        assert_eq!(soon.due_min(), 660, "four hours after the last one");
        soon.step(490, true, false);
        assert_eq!(soon.due_min(), 660, "a test ends it, not the recording");
        let mut at_once = begun();
        at_once.step(900, false, false);
        assert_eq!(at_once.due_min(), 900);
        assert!(at_once.counts(900) && !at_once.counts(901));
        assert_eq!(at_once.step(910, false, true), Some(TestEvent::Late(900)));
        assert_eq!(at_once.due_min(), 1150);
    }
}
