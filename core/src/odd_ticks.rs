//! Ticks whose time cannot be.

use crate::guard::units::Millis;

/// So many of them, one after the other, are told: they are counted, since no time goes by that could be measured.
/// Our choice.
const MOST: u8 = 60;

/// How many came one after the other.
#[derive(Clone, Copy, Debug)]
pub(crate) struct OddTicks(pub(crate) u8);

impl OddTicks {
    /// A tick came, `elapsed` after the last one. Whether somebody is to be told.
    pub(crate) const fn step(&mut self, elapsed: Millis, longest: Millis) -> bool {
        let sound = elapsed.0 > 0 && elapsed.0 <= longest.0;
        self.0 = if sound { 0 } else { self.0.saturating_add(1) };
        self.0 >= MOST
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::alarm::{AlarmId, AlarmState, SiteAlarm};
    use crate::bench::Bench;

    const LONGEST: Millis = Millis(2000);

    #[test]
    fn sixty_in_a_row_are_told_and_one_that_is_sound_begins_anew() {
        let mut odd = OddTicks(0);
        for _ in 0..59 {
            assert!(!odd.step(Millis(0), LONGEST));
        }
        assert!(odd.step(Millis(2001), LONGEST));
        assert!(!odd.step(Millis(2000), LONGEST));
        assert!(!odd.step(Millis(0), LONGEST));
    }

    #[test]
    fn a_clock_that_stands_is_told_and_one_that_goes_again_is_well() {
        let mut bench = Bench::usual();
        bench.run(10);
        let alarm = AlarmId::Site(SiteAlarm::ClockFault);
        // The bench's clock goes by a second a tick: it is turned back before each.
        for _ in 0..60 {
            assert_eq!(bench.alarm(alarm), AlarmState::Normal);
            bench.now_ms = bench.now_ms.wrapping_sub(1000);
            bench.tick();
        }
        assert_eq!(bench.alarm(alarm), AlarmState::Unacknowledged);
        bench.run(1);
        assert_eq!(bench.alarm(alarm), AlarmState::ReturnedUnacknowledged);
    }

    #[test]
    fn flow_that_comes_and_goes_is_told_as_none() {
        let mut bench = Bench::usual();
        bench.inputs.pump_due = Some(true);
        let alarm = AlarmId::Site(SiteAlarm::FlowAbsent);
        for second in 0..11 * 60 {
            bench.inputs.facts.flow_switch.value = second % 3 > 0;
            bench.tick();
        }
        assert_eq!(bench.alarm(alarm), AlarmState::Unacknowledged);
        bench.inputs.facts.flow_switch.value = true;
        bench.run(120);
        assert_eq!(bench.alarm(alarm), AlarmState::ReturnedUnacknowledged);
    }
}
