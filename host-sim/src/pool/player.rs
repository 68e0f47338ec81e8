//! Plays a scenario's events at their time.

use crate::plant::{PlantFault, Truth};
use crate::scenario::{Act, Event, Trigger};
use crate::unit::{Reply, UnitFault};

/// Most lines that a log keeps; after them it counts.
const LOG_LINES_MAX: usize = 20_000;

/// A fault that ends by itself.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Ending {
    /// Of the plant.
    Plant(PlantFault),
    /// Of the unit.
    Unit(UnitFault),
}

/// What a test of the water said.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Tested {
    /// Total alkalinity, mg/L as CaCO3.
    Alkalinity(f64),
    /// pH by a kit.
    Ph(f64),
    /// Free chlorine, mg/L.
    Chlorine(f64),
    /// Cyanuric acid, mg/L.
    Cyanurate(f64),
}

impl Tested {
    /// In words.
    #[must_use]
    pub fn words(&self) -> String {
        match self {
            Self::Alkalinity(mg_l) => format!("test: alkalinity {mg_l:.0} mg/L"),
            Self::Ph(ph) => format!("test: pH {ph:.2}"),
            Self::Chlorine(mg_l) => format!("test: free chlorine {mg_l:.1} mg/L"),
            Self::Cyanurate(mg_l) => format!("test: cyanuric acid {mg_l:.0} mg/L"),
        }
    }
}

/// Something worth telling.
#[derive(Clone, Debug, PartialEq)]
pub enum LogWhat {
    /// An event of the scenario, or an act on the pool.
    Act(Act),
    /// A fault that had a time ended.
    FaultEnded(Ending),
    /// Power that was away is back.
    PowerBack,
    /// What became of a person's act.
    Reply(Reply),
    /// An alarm came.
    AlarmCame(String),
    /// An alarm went.
    AlarmWent(String),
    /// Somebody tested the water.
    Tested(Tested),
    /// The unit waits for a person.
    NeedsPerson,
    /// It no longer does.
    NeedsNobody,
}

/// When what happened.
#[derive(Clone, Debug, PartialEq)]
pub struct LogLine {
    /// ms from midnight before day 1.
    pub clock_ms: u64,
    /// What.
    pub what: LogWhat,
}

/// What happened, in order, bounded.
#[derive(Clone, Debug, Default)]
pub(crate) struct Log {
    pub(crate) lines: Vec<LogLine>,
    pub(crate) dropped: u64,
}

impl Log {
    pub(crate) fn push(&mut self, clock_ms: u64, what: LogWhat) {
        if self.lines.len() < LOG_LINES_MAX {
            self.lines.push(LogLine { clock_ms, what });
        } else {
            self.dropped += 1;
        }
    }
}

/// Events that are still to come, and faults that are to end.
#[derive(Clone, Debug)]
pub(crate) struct Player {
    events: Vec<Event>,
    next: usize,
    /// Events whose time has come and whose trigger has not.
    waiting: Vec<(Trigger, Event)>,
    ends: Vec<(u64, Ending)>,
    /// What ends events that have come, and when.
    to_end: Vec<(u64, Act)>,
    /// How long each feeder's drive has been on without a break, ms.
    on_ms: Vec<u64>,
}

impl Player {
    /// `events` in the order of their time.
    pub(crate) fn new(events: Vec<Event>, feeders: usize) -> Self {
        let on_ms = vec![0; feeders];
        Self {
            events,
            next: 0,
            waiting: Vec::new(),
            ends: Vec::new(),
            to_end: Vec::new(),
            on_ms,
        }
    }

    /// More events, in the order of their time.
    pub(crate) fn add(&mut self, more: Vec<Event>) {
        self.events.drain(..self.next);
        self.next = 0;
        self.events.extend(more);
        self.events.sort_by_key(|event| event.at_ms);
    }

    /// Other events in the place of those that are still to come. What waits for its trigger goes on waiting, and what has come
    /// ends when it was to.
    pub(crate) fn replace(&mut self, events: Vec<Event>) {
        self.events = events;
        self.next = 0;
    }

    /// Whether nothing is still to come but what lies past `until_ms`.
    pub(crate) fn is_done(&self, until_ms: u64) -> bool {
        let later = self.events.get(self.next);
        let nothing_stands = self.ends.is_empty() && self.to_end.is_empty();
        nothing_stands && self.waiting.is_empty() && later.is_none_or(|e| e.at_ms > until_ms)
    }

    /// Looks at what the feeders did in the last step.
    pub(crate) fn see(&mut self, truth: &Truth) {
        for (on_ms, feeder) in self.on_ms.iter_mut().zip(&truth.feeders) {
            let on = u64::from(feeder.drive_on_ms);
            *on_ms = if feeder.drive_on { *on_ms + on } else { 0 };
        }
    }

    /// The next act whose time has come, if any; ask until there is none.
    pub(crate) fn due(&mut self, clock_ms: u64) -> Option<Act> {
        if let Some(at) = self.to_end.iter().position(|(end, _)| *end <= clock_ms) {
            return Some(self.to_end.remove(at).1);
        }
        while let Some(event) = self.events.get(self.next).filter(|e| e.at_ms <= clock_ms) {
            let event = event.clone();
            self.next += 1;
            match event.trigger {
                None => return Some(self.comes(clock_ms, &event)),
                Some(trigger) => self.waiting.push((trigger, event)),
            }
        }
        let ready = self.waiting.iter().position(|(trigger, _)| {
            let on = self.on_ms.get(trigger.feeder).copied().unwrap_or(0);
            on >= u64::from(trigger.for_ms)
        })?;
        let (_, event) = self.waiting.remove(ready);
        Some(self.comes(clock_ms, &event))
    }

    /// What happens, its end kept for when it is due.
    fn comes(&mut self, clock_ms: u64, event: &Event) -> Act {
        if let Some((after_ms, end)) = event.then {
            self.to_end.push((clock_ms.saturating_add(after_ms), end));
        }
        event.act
    }

    /// A fault that has a time begins.
    pub(crate) fn ends_at(&mut self, clock_ms: u64, fault: Ending) {
        self.ends.push((clock_ms, fault));
    }

    /// The next fault whose time is over; ask until there is none.
    pub(crate) fn over(&mut self, clock_ms: u64) -> Option<Ending> {
        let at = self.ends.iter().position(|(end, _)| *end <= clock_ms)?;
        Some(self.ends.remove(at).1)
    }

    /// Events that never came: what they waited for did not happen, or the run ended before.
    pub(crate) fn unplayed(&self) -> impl Iterator<Item = &Act> {
        let waiting = self.waiting.iter().map(|(_, event)| &event.act);
        let later = self.events.get(self.next..).unwrap_or_default();
        let to_end = self.to_end.iter().map(|(_, act)| act);
        waiting
            .chain(to_end)
            .chain(later.iter().map(|event| &event.act))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const ENDS: Act = Act::FaultEnds(PlantFault::CirculationTripped);

    /// The first feeder is on for a second.
    fn feeds(player: &mut Player) {
        player.on_ms[0] += 1_000;
    }

    #[test]
    fn what_waits_for_a_feed_ends_so_long_after_it_came_whatever_else_is_to_come() {
        let trips = Act::Fault {
            fault: PlantFault::CirculationTripped,
            for_ms: None,
        };
        let event = Event {
            trigger: Some(Trigger {
                feeder: 0,
                for_ms: 2_000,
            }),
            then: Some((60_000, ENDS)),
            ..Event::at(1_000, trips)
        };
        let mut player = Player::new(vec![event], 1);
        assert_eq!(player.due(70_000), None);
        assert!(!player.is_done(u64::MAX));
        feeds(&mut player);
        feeds(&mut player);
        assert_eq!(player.due(80_000), Some(trips));
        assert!(!player.is_done(u64::MAX));
        // As a page does after something was done by hand.
        player.replace(Vec::new());
        assert_eq!(player.due(139_999), None);
        assert_eq!(player.unplayed().collect::<Vec<_>>(), [&ENDS]);
        assert_eq!(player.due(140_000), Some(ENDS));
        assert_eq!(player.due(140_000), None);
        assert!(player.is_done(u64::MAX));
    }
}
