//! From what the wiring shows to what the controller is told.

use dosewarden::Inputs;
use dosewarden::guard::units::{Body, ClockSeconds, FlowMlPerS, Millis, MinuteOfDay};
use dosewarden::guard::{Facts, Inhibits, Reading, Ticket};

use super::probes::Probes;
use crate::plant::{DayWindow, MAX_FEEDERS, Senses};
use crate::scenario::{Scenario, UnitClock};

/// What a timetable says of one minute.
#[derive(Clone, Copy, Debug)]
struct Due {
    minute: u16,
    now: bool,
    /// The pump is due, too slowly for the flow switch.
    slow: bool,
    stops_in: Option<Millis>,
}

/// When the circulation pump makes flow that the flow switch shows.
#[derive(Clone, Debug)]
pub(super) struct Timetable {
    runs: Vec<DayWindow>,
    /// When it runs too slowly for the switch.
    without_flow: Vec<DayWindow>,
}

impl Timetable {
    fn flows(&self, minute: u16) -> bool {
        within(&self.runs, minute) && !within(&self.without_flow, minute)
    }
}

fn within(windows: &[DayWindow], minute: u16) -> bool {
    windows.iter().any(|window| window.contains(minute))
}

/// What the unit's input side keeps from tick to tick.
#[derive(Clone, Debug)]
pub(super) struct Wiring {
    pub(super) probes: Probes,
    /// The circulation pump's timetable, where the unit knows it.
    timetable: Option<Timetable>,
    clock: UnitClock,
    /// What the timetable says of a minute: kept, since a minute has many ticks.
    due: Option<Due>,
    /// ms for which each hold-to-run button is still held.
    pub(super) held_ms: [u64; MAX_FEEDERS],
    /// ms for which the emergency stop is still pressed.
    pub(super) stopped_ms: u64,
}

fn fitted<T: Copy>(value: Option<T>, unknown: Reading<T>) -> Reading<T> {
    value.map_or(unknown, Reading::now)
}

impl Wiring {
    pub(super) fn of(scenario: &Scenario, probes: Probes) -> Self {
        let timetable = scenario.timetable_known.then(|| Timetable {
            runs: scenario.plant.circulation.timetable.clone(),
            without_flow: scenario.without_flow.clone(),
        });
        Self::new(timetable, scenario.supply.clock, probes)
    }

    fn new(timetable: Option<Timetable>, clock: UnitClock, probes: Probes) -> Self {
        Self {
            probes,
            timetable,
            clock,
            due: None,
            held_ms: [0; MAX_FEEDERS],
            stopped_ms: 0,
        }
    }

    /// Supply has gone: what was held in a button or a filter is gone.
    pub(super) fn forget(&mut self) {
        *self = Self::new(self.timetable.take(), self.clock, self.probes.clone());
    }

    /// What the controller is told of a tick. `is_steady`: water has moved past the probes for a
    /// while.
    pub(super) fn read<const N: usize>(
        &mut self,
        dt_ms: u32,
        senses: &Senses,
        saved: Option<Ticket>,
        is_steady: bool,
    ) -> Inputs<N> {
        let mut facts = Facts::UNKNOWN;
        facts.flow_switch = Reading::now(senses.flow_switch);
        let flow = senses
            .flow_ml_s
            .map(|flow| FlowMlPerS(flow.max(0.0) as u32));
        facts.flow_meter = fitted(flow, facts.flow_meter);
        facts.pump_run = fitted(senses.pump_contact, facts.pump_run);
        let (ph, orp) = self
            .probes
            .tick(dt_ms, [&senses.ph, &senses.orp], is_steady);
        facts.ph = ph.reading;
        facts.orp = orp.reading;
        let body = senses.body.and_then(|body| u8::try_from(body).ok());
        facts.body = fitted(body.map(Body), facts.body);
        if self.clock != UnitClock::NotFitted {
            facts.minute = Reading::now(MinuteOfDay(senses.clock_minute));
        }
        if self.clock == UnitClock::Fitted {
            facts.clock = Reading::now(ClockSeconds(senses.clock_s));
        }
        facts.inhibits = self.inhibits(dt_ms);
        facts.saved = saved;
        for (index, (fact, sense)) in facts.feeders.iter_mut().zip(&senses.feeders).enumerate() {
            fact.feedback = fitted(sense.drive_on_ms.map(Millis), fact.feedback);
            fact.stock = fitted(sense.stock, fact.stock);
            fact.cell_flow = fitted(sense.cell_flow, fact.cell_flow);
            fact.hold_to_run = Reading::now(self.held_ms[index] > 0);
            self.held_ms[index] = self.held_ms[index].saturating_sub(u64::from(dt_ms));
        }
        let mut inputs = Inputs::new(facts);
        if let Some(due) = self.due_at(senses.clock_minute) {
            inputs.pump_due = Some(due.now);
            inputs.pump_slow = due.slow;
            inputs.pump_stops_in = due.stops_in;
        }
        inputs
    }

    fn due_at(&mut self, minute: u16) -> Option<Due> {
        let timetable = self.timetable.as_ref()?;
        if self.due.is_none_or(|due| due.minute != minute) {
            self.due = Some(Due {
                minute,
                now: timetable.flows(minute),
                slow: within(&timetable.without_flow, minute),
                stops_in: stops_in(timetable, minute),
            });
        }
        self.due
    }

    fn inhibits(&mut self, dt_ms: u32) -> Inhibits {
        let mut inhibits = Inhibits::NONE;
        if self.stopped_ms > 0 {
            inhibits = inhibits.with(Inhibits::EMERGENCY_STOP);
        }
        self.stopped_ms = self.stopped_ms.saturating_sub(u64::from(dt_ms));
        inhibits
    }
}

/// Time that is surely left until the pump stops, or slows down too far for the flow switch, by a clock that shows whole minutes. `None`
/// while it does not run by the timetable, or never stops.
fn stops_in(timetable: &Timetable, minute: u16) -> Option<Millis> {
    let runs = |minute: u16| timetable.flows(minute);
    if !runs(minute) {
        return None;
    }
    // Flow ends where a run ends or a slow one begins, and nowhere else.
    let ends = timetable.runs.iter().map(|window| window.to_min);
    let slow = timetable.without_flow.iter().map(|window| window.from_min);
    let left = ends
        .chain(slow)
        .filter(|end| !runs(end % 1440))
        .map(|end| (end % 1440 + 1440 - minute) % 1440)
        .min()?;
    // The clock may show this minute for its last instant.
    Some(Millis(u32::from(left - 1) * 60_000))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_stop_is_known_no_later_than_it_comes() {
        let window = |from_min, to_min| DayWindow { from_min, to_min };
        let stops_in = |runs: &[DayWindow], minute| {
            let (runs, without_flow) = (runs.to_vec(), Vec::new());
            super::stops_in(&Timetable { runs, without_flow }, minute)
        };
        let day = [window(420, 600), window(600, 720)];
        assert_eq!(stops_in(&day, 419), None);
        assert_eq!(stops_in(&day, 420), Some(Millis(299 * 60_000)));
        assert_eq!(stops_in(&day, 719), Some(Millis(0)));
        let slow = Timetable {
            runs: day.to_vec(),
            without_flow: vec![window(600, 660)],
        };
        assert_eq!(super::stops_in(&slow, 599), Some(Millis(0)));
        assert_eq!(super::stops_in(&slow, 600), None);
        assert_eq!(super::stops_in(&slow, 660), Some(Millis(59 * 60_000)));
        assert_eq!(
            stops_in(&[window(1380, 60)], 1439),
            Some(Millis(60 * 60_000))
        );
        assert_eq!(stops_in(&[DayWindow::ALWAYS], 700), None);
    }

    /// Against a look at each minute of the day that follows.
    #[test]
    fn a_stop_is_the_first_minute_without_flow() {
        let mut seed = 7_u32;
        let mut drawn = |below: u32| {
            seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            u16::try_from((seed >> 8) % below).expect("small")
        };
        let mut stops = 0;
        for _ in 0..300 {
            let mut windows = |most: u32| -> Vec<DayWindow> {
                let count = drawn(most + 1);
                let one = |_| DayWindow {
                    from_min: drawn(1440),
                    to_min: drawn(1440),
                };
                (0..count).map(one).collect()
            };
            let (runs, without_flow) = (windows(3), windows(2));
            let table = Timetable { runs, without_flow };
            for minute in (0..1440).step_by(7) {
                let walked = (1..=1440_u16).find(|ahead| !table.flows((minute + ahead) % 1440));
                let walked = walked.filter(|_| table.flows(minute));
                let walked = walked.map(|left| Millis(u32::from(left - 1) * 60_000));
                assert_eq!(
                    super::stops_in(&table, minute),
                    walked,
                    "{table:?} {minute}"
                );
                stops += u32::from(walked.is_some());
            }
        }
        assert!(stops > 10_000, "only {stops} with a stop ahead");
    }
}
