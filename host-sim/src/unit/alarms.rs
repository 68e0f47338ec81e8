//! Which alarms are in which state.

use dosewarden::alarm::AlarmState;

/// The states that are listed, by their names, and the latch, which stands apart from them.
pub const ALARM_STATES: [&str; 7] = [
    AlarmState::Unacknowledged.name(),
    AlarmState::Acknowledged.name(),
    AlarmState::ReturnedUnacknowledged.name(),
    AlarmState::Shelved.name(),
    AlarmState::SuppressedByDesign.name(),
    AlarmState::OutOfService.name(),
    "latched",
];

const LATCHED: usize = ALARM_STATES.len() - 1;

/// For each of [`ALARM_STATES`] the alarms in it: bit n stands for
/// [`ControlUnit::alarm_names`](super::ControlUnit::alarm_names)`[n]`.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct AlarmStates(pub [u64; ALARM_STATES.len()]);

impl AlarmStates {
    /// Puts the alarm with this bit into a state. Normal is none that is listed.
    pub(super) fn put(&mut self, bit: u64, state: AlarmState) {
        let at = match state {
            AlarmState::Normal => return,
            AlarmState::Unacknowledged => 0,
            AlarmState::Acknowledged => 1,
            AlarmState::ReturnedUnacknowledged => 2,
            AlarmState::Shelved => 3,
            AlarmState::SuppressedByDesign => 4,
            AlarmState::OutOfService => 5,
        };
        self.0[at] |= bit;
    }

    /// Says that the alarm with this bit is latched, in whatever state.
    pub(super) fn latch(&mut self, bit: u64) {
        self.0[LATCHED] |= bit;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_state_is_put_under_its_own_name() {
        for state in [
            AlarmState::Unacknowledged,
            AlarmState::Acknowledged,
            AlarmState::ReturnedUnacknowledged,
            AlarmState::Shelved,
            AlarmState::SuppressedByDesign,
            AlarmState::OutOfService,
        ] {
            let mut all = AlarmStates::default();
            all.put(4, state);
            let found = all.0.iter().zip(ALARM_STATES).find(|(bits, _)| **bits != 0);
            assert_eq!(found, Some((&4, state.name())));
        }
        let mut all = AlarmStates::default();
        all.put(4, AlarmState::Normal);
        assert_eq!(all, AlarmStates::default());
        all.latch(2);
        assert_eq!((all.0[6], ALARM_STATES[6]), (2, "latched"));
    }
}
