//! How many alarms stand where.

use super::life::{Alarm, AlarmState};

/// How many alarms stand where.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Summary {
    /// Nobody has acknowledged them; the condition may be gone again.
    pub unacknowledged: u16,
    /// The condition stands; shelved, suppressed and those out of service not counted.
    pub active: u16,
    /// Shelved, suppressed or out of service.
    pub set_aside: u16,
    /// Latched, waiting for a reset.
    pub latched: u16,
}

impl Summary {
    #[inline(never)]
    pub(super) fn add(&mut self, alarm: &Alarm) {
        let more = |count: &mut u16| *count = count.saturating_add(1);
        if alarm.latched {
            more(&mut self.latched);
        }
        match alarm.state {
            AlarmState::Normal => {}
            AlarmState::Shelved | AlarmState::SuppressedByDesign | AlarmState::OutOfService => {
                more(&mut self.set_aside);
            }
            state => {
                if state.calls() {
                    more(&mut self.unacknowledged);
                }
                if state.is_active() {
                    more(&mut self.active);
                }
            }
        }
    }
}
