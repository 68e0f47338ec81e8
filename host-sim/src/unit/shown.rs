//! What our unit shows: names of alarms and reasons, and their bits.

use dosewarden::Obstacle;
use dosewarden::alarm::{AlarmId, Alarms, FeederAlarm, SiteAlarm};
use dosewarden::guard::{Lockout, LockoutSet, Mode, Rule};

use super::ours::Ours;
use super::{AlarmStates, UnitStatus};
use crate::scenario::Scenario;

/// Reasons besides the guard's rules, with bits after theirs.
pub(crate) const OWN_REASONS: [&str; 7] = [
    "other_has_turn",
    "pump_stops",
    "output_fault",
    "hand_dose",
    "given_away",
    "wrong_way",
    "unanswered",
];

/// Alarms of the site, then of each feeder.
pub(super) fn alarm_names(scenario: &Scenario) -> Vec<String> {
    let site = SiteAlarm::ALL.iter().map(|alarm| alarm.name().to_owned());
    let of_feeders = scenario.feeders.iter().flat_map(|plan| {
        FeederAlarm::ALL
            .iter()
            .map(|alarm| format!("{}: {}", plan.name, alarm.name()))
    });
    site.chain(of_feeders).collect()
}

/// The bit of an alarm, in the order of [`alarm_names`].
pub(super) fn alarm_bit(id: AlarmId) -> u64 {
    let at = match id {
        AlarmId::Site(alarm) => usize::from(alarm.number()),
        AlarmId::Feeder(feeder, alarm) => {
            let before = SiteAlarm::COUNT + usize::from(feeder) * FeederAlarm::COUNT;
            before + usize::from(alarm.number())
        }
    };
    1_u64.checked_shl(at as u32).unwrap_or(0)
}

/// The alarms as the unit lists them, made anew when one changes.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct ShownAlarms {
    /// The change that they are as of; `None`: nothing was listed since the unit has power.
    as_of: Option<u32>,
    active: u64,
    calling: u64,
    states: AlarmStates,
}

impl ShownAlarms {
    fn look<const N: usize>(&mut self, alarms: &Alarms<N>) {
        let as_of = Some(alarms.changes());
        if self.as_of == as_of {
            return;
        }
        *self = Self {
            as_of,
            ..Self::default()
        };
        for (id, alarm) in alarms.listed() {
            let bit = alarm_bit(id);
            if alarm.is_active() {
                self.active |= bit;
            }
            if alarm.calls() {
                self.calling |= bit;
            }
            self.states.put(bit, alarm);
            if alarms.is_latched(id) {
                self.states.latch(bit);
            }
        }
    }
}

/// What the controller shows after a tick, but the probes' values.
pub(super) fn show<const N: usize, const B: usize>(
    controller: &Ours<N, B>,
    feeders: usize,
    alarms: &mut ShownAlarms,
    status: &mut UnitStatus,
) {
    alarms.look(controller.alarms());
    status.alarms = alarms.active;
    status.alarms_new = alarms.calling;
    status.alarm_states = alarms.states;
    let state = controller.guard().state();
    status.needs_person = !state.site_lockouts.is_empty();
    for (feeder, shown) in status.feeders.iter_mut().enumerate().take(feeders) {
        let wanted = controller.wanted(feeder);
        shown.asked = wanted.stands();
        shown.asked_dose = wanted.dose.0;
        let own = state.feeder_lockouts.get(feeder);
        status.needs_person |= own.is_some_and(|own| !own.is_empty());
        // A feed by hand and fallback waive the probe's: a person stands there, or has tested the water.
        let waives = wanted.stands() && wanted.mode != Mode::Automatic;
        let binds = |own: &LockoutSet| {
            let own = if waives {
                own.without(Lockout::Probe)
            } else {
                *own
            };
            !own.is_empty() || !state.site_lockouts.is_empty()
        };
        shown.locked = own.is_some_and(binds);
        shown.phase = controller.phase(feeder);
        shown.refusing = controller.why(feeder).map_or(0, |why| {
            // Rules come last, and all of them at once: their bits are their numbers.
            let rules = u64::from(why.rules().bits());
            let others = why.take_while(|obstacle| !matches!(obstacle, Obstacle::Rule(..)));
            others.fold(rules, |bits, obstacle| bits | reason_bit(&obstacle))
        });
    }
}

/// The bit of a reason, in the order of the unit's names. Nothing asked for is no refusal.
pub(super) fn reason_bit(obstacle: &Obstacle) -> u64 {
    let own = |at: usize| 1_u64 << (Rule::COUNT + at);
    match obstacle {
        Obstacle::Rule(rule, _) => 1 << rule.index(),
        Obstacle::Lockout(_) => 1 << Rule::NoLockout.index(),
        Obstacle::OtherHasTurn => own(0),
        Obstacle::PumpStops(_) => own(1),
        Obstacle::OutputFault => own(2),
        Obstacle::HandDose(_) | Obstacle::HandDay(_) => own(3),
        Obstacle::GivenAway => own(4),
        Obstacle::WrongWay => own(5),
        Obstacle::Unanswered => own(6),
        Obstacle::Disabled | Obstacle::NotAsked => 0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plant::MAX_FEEDERS;
    use crate::unit::{ControlUnit, DosewardenUnit};

    #[test]
    fn every_alarm_and_reason_has_a_bit_and_a_name() {
        let unit = DosewardenUnit::for_scenario(&Scenario::first_pool());
        assert_eq!(
            unit.alarm_names().len(),
            SiteAlarm::COUNT + 2 * FeederAlarm::COUNT
        );
        const { assert!(SiteAlarm::COUNT + MAX_FEEDERS * FeederAlarm::COUNT <= 64) };
        assert!(unit.refusal_names().len() <= 64);
        let last = AlarmId::Feeder(1, FeederAlarm::RateWrong);
        let at = alarm_bit(last).trailing_zeros() as usize;
        assert_eq!(unit.alarm_names()[at], "chlorine: rate_wrong");
        let at = reason_bit(&Obstacle::OutputFault).trailing_zeros() as usize;
        assert_eq!(unit.refusal_names()[at], "output_fault");
        let at = reason_bit(&Obstacle::GivenAway).trailing_zeros() as usize;
        assert_eq!(unit.refusal_names()[at], "given_away");
        let at = reason_bit(&Obstacle::WrongWay).trailing_zeros() as usize;
        assert_eq!(unit.refusal_names()[at], "wrong_way");
        let at = reason_bit(&Obstacle::Unanswered).trailing_zeros() as usize;
        assert_eq!(unit.refusal_names()[at], "unanswered");
    }
}
