//! Events: what happened, in a fixed ring. Numbers are stable; a number is never given to another
//! event. When the ring is full the oldest goes, and is counted.

use heapless::Deque;

use crate::act::ActKind;
use crate::alarm::{AlarmId, AlarmState};
use crate::guard::units::Dose;
use crate::guard::{Authority, Lockout, Restored};
use crate::machine::Phase;
use crate::proof::{Interlock, ProofEnd};
use crate::response::Verdict;
use crate::stock::DrumVerdict;
use crate::upkeep::UpkeepKind;

/// How many events are kept.
pub const EVENTS_KEPT: usize = 24;

/// What was found at start.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
pub enum Found {
    /// Two whole, equal records.
    Equal,
    /// One whole record, or two that differ.
    Differing,
    /// None.
    Lost,
}

/// What happened.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
pub enum EventKind {
    /// The controller started.
    Started {
        /// What was found.
        found: Found,
        /// Cycles that stood open: each counts as fed in full.
        open_cycles: u8,
        /// The limits are not those under which the record was made.
        limits_changed: bool,
    },
    /// A feeder's phase changed.
    Phase {
        /// Feeder.
        feeder: u8,
        /// The phase now.
        now: Phase,
    },
    /// A cycle was charged.
    Charged {
        /// Feeder.
        feeder: u8,
        /// What was charged.
        dose: Dose,
    },
    /// A cycle was booked.
    Booked {
        /// Feeder.
        feeder: u8,
        /// What counts as fed.
        fed: Dose,
        /// What had been charged.
        charged: Dose,
    },
    /// A lockout was entered.
    LockedOut {
        /// Feeder; `None`: the site.
        feeder: Option<u8>,
        /// Which.
        #[cfg_attr(feature = "serde", serde(with = "crate::serial::lockout"))]
        lockout: Lockout,
    },
    /// A lockout was released.
    Released {
        /// Feeder; `None`: the site.
        feeder: Option<u8>,
        /// Which.
        #[cfg_attr(feature = "serde", serde(with = "crate::serial::lockout"))]
        lockout: Lockout,
    },
    /// An alarm changed its state.
    Alarm {
        /// Which.
        id: AlarmId,
        /// The state now.
        now: AlarmState,
    },
    /// A person did something, or was refused.
    Person {
        /// Who.
        #[cfg_attr(feature = "serde", serde(with = "crate::serial::authority"))]
        by: Authority,
        /// What.
        act: ActKind,
        /// Whether it was done.
        done: bool,
    },
    /// A drum's level was read and compared with the ledger.
    Reconciled {
        /// Feeder.
        feeder: u8,
        /// What left the drum.
        real: Dose,
        /// What was booked.
        booked: Dose,
    },
    /// A record was not confirmed in time, and is sealed anew.
    SaveBegunAnew,
    /// New limits apply.
    LimitsSet,
    /// A person did something to a probe or tested the water, or was refused.
    Upkeep {
        /// Who.
        #[cfg_attr(feature = "serde", serde(with = "crate::serial::authority"))]
        by: Authority,
        /// What.
        act: UpkeepKind,
        /// Whether it was done.
        done: bool,
        /// What [`UpkeepKind`] says.
        figure: i32,
    },
    /// A dose by hand was recorded.
    HandDose {
        /// Feeder of the product.
        feeder: u8,
        /// How much.
        dose: Dose,
    },
    /// A pause ended by itself.
    PauseEnded,
    /// What the water's answers say of a feeder's rate changed.
    Answers {
        /// Feeder.
        feeder: u8,
        /// What they say now.
        verdict: Verdict,
        /// Real over configured feed, thousandths.
        ratio_milli: i32,
    },
    /// Observing only began, or ended.
    Observing {
        /// Whether nothing is driven now.
        now: bool,
    },
    /// While observing: this would have been fed.
    WouldFeed {
        /// Feeder.
        feeder: u8,
        /// How much.
        dose: Dose,
    },
    /// A person began a proof test, went on with it, or was refused.
    Proof {
        /// Who.
        #[cfg_attr(feature = "serde", serde(with = "crate::serial::authority"))]
        by: Authority,
        /// Of which interlock; `None`: none was under way.
        interlock: Option<Interlock>,
        /// Whether it was done.
        done: bool,
    },
    /// A proof test ended.
    ProofEnded {
        /// Of which interlock.
        interlock: Interlock,
        /// How.
        end: ProofEnd,
    },
    /// A person changed limits, or was refused.
    LimitsChange {
        /// Who.
        #[cfg_attr(feature = "serde", serde(with = "crate::serial::authority"))]
        by: Authority,
        /// Whether something is loosened.
        loosens: bool,
        /// Whether it was done.
        done: bool,
    },
    /// Water became too cold for feeding, or warm enough again.
    TooCold {
        /// Whether it is too cold now.
        now: bool,
    },
    /// What was kept is lost: the unit only observes. At each start until a technician ends that.
    KeptLost,
    /// What a drum's level says of a feeder's rate changed, or holds no more.
    DrumSays {
        /// Feeder.
        feeder: u8,
        /// What it says now.
        verdict: DrumVerdict,
    },
    /// No fresh temperature of the water, where cold water holds feed; or there is one again.
    TemperatureLost {
        /// Whether there is none now.
        now: bool,
    },
    /// A person brought a pool from another board, or was refused.
    BoardImport {
        /// Who.
        #[cfg_attr(feature = "serde", serde(with = "crate::serial::authority"))]
        by: Authority,
        /// Number of the change ([`Handover`](crate::Handover)); 0 if it was refused.
        number: u16,
        /// Whether the day counts as used here.
        day_used: bool,
        /// Whether it was done.
        done: bool,
    },
}

impl EventKind {
    /// The start, by what was found.
    pub(crate) fn started(found: Restored) -> Self {
        let (found, open, limits_changed) = match found {
            Restored::Equal {
                open_cycles,
                limits_changed,
            } => (Found::Equal, open_cycles, limits_changed),
            Restored::Differing {
                open_cycles,
                limits_changed,
            } => (Found::Differing, open_cycles, limits_changed),
            Restored::Lost => (Found::Lost, 0, false),
        };
        Self::Started {
            found,
            open_cycles: u8::try_from(open).unwrap_or(u8::MAX),
            limits_changed,
        }
    }

    /// Its number. Stable.
    #[must_use]
    pub const fn number(&self) -> u16 {
        match self {
            Self::Started { .. } => 1,
            Self::Phase { .. } => 2,
            Self::Charged { .. } => 3,
            Self::Booked { .. } => 4,
            Self::LockedOut { .. } => 5,
            Self::Released { .. } => 6,
            Self::Alarm { .. } => 7,
            Self::Person { .. } => 8,
            Self::Reconciled { .. } => 9,
            Self::SaveBegunAnew => 10,
            Self::LimitsSet => 11,
            Self::Upkeep { .. } => 12,
            Self::HandDose { .. } => 13,
            Self::PauseEnded => 14,
            Self::Answers { .. } => 15,
            Self::Observing { .. } => 16,
            Self::WouldFeed { .. } => 17,
            Self::Proof { .. } => 18,
            Self::ProofEnded { .. } => 19,
            Self::LimitsChange { .. } => 20,
            Self::TooCold { .. } => 21,
            Self::KeptLost => 22,
            Self::DrumSays { .. } => 23,
            Self::TemperatureLost { .. } => 24,
            Self::BoardImport { .. } => 25,
        }
    }
}

/// One event.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Event {
    /// Counts up by one for each event since power-on, from 0; wraps.
    pub sequence: u32,
    /// Whole seconds of ticks since power-on.
    pub at_secs: u32,
    /// What happened.
    pub kind: EventKind,
}

/// The ring.
#[derive(Clone, Debug)]
pub struct Events {
    ring: Deque<Event, EVENTS_KEPT>,
    next: u32,
    dropped: u32,
    secs: u32,
    millis: u32,
}

impl Events {
    pub(crate) const fn new() -> Self {
        Self {
            ring: Deque::new(),
            next: 0,
            dropped: 0,
            secs: 0,
            millis: 0,
        }
    }

    /// Lets time pass.
    pub(crate) fn pass(&mut self, elapsed_ms: u32) {
        self.millis = self.millis.saturating_add(elapsed_ms);
        while self.millis >= 1000 {
            // A long gap at once; a tick's worth by subtraction, without a division.
            if self.millis >= 60_000 {
                self.secs = self.secs.saturating_add(self.millis / 1000);
                self.millis %= 1000;
            } else {
                self.secs = self.secs.saturating_add(1);
                self.millis = self.millis.saturating_sub(1000);
            }
        }
    }

    pub(crate) fn push(&mut self, kind: EventKind) {
        let event = Event {
            sequence: self.next,
            at_secs: self.secs,
            kind,
        };
        self.next = self.next.wrapping_add(1);
        if self.ring.is_full() {
            self.ring.pop_front();
            self.dropped = self.dropped.saturating_add(1);
        }
        if self.ring.push_back(event).is_err() {
            self.dropped = self.dropped.saturating_add(1);
        }
    }

    /// The events that are kept, oldest first.
    pub fn iter(&self) -> impl DoubleEndedIterator<Item = &Event> {
        self.ring.iter()
    }

    /// Takes the oldest out, as to store it elsewhere. It does not count as dropped.
    pub fn take_oldest(&mut self) -> Option<Event> {
        self.ring.pop_front()
    }

    /// Sequence that the next event gets: the number of events since power-on, modulo 2^32.
    #[must_use]
    pub const fn next_sequence(&self) -> u32 {
        self.next
    }

    /// Events that went because the ring was full, since power-on. Saturates.
    #[must_use]
    pub const fn dropped(&self) -> u32 {
        self.dropped
    }

    /// Whole seconds of ticks since power-on.
    #[must_use]
    pub const fn secs(&self) -> u32 {
        self.secs
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_oldest_goes_and_is_counted() {
        let mut events = Events::new();
        for _ in 0..EVENTS_KEPT + 3 {
            events.push(EventKind::LimitsSet);
        }
        assert_eq!(events.iter().count(), EVENTS_KEPT);
        assert_eq!(events.dropped(), 3);
        assert_eq!(events.iter().next().map(|event| event.sequence), Some(3));
        assert_eq!(events.take_oldest().map(|event| event.sequence), Some(3));
        events.push(EventKind::SaveBegunAnew);
        assert_eq!(events.dropped(), 3, "taken out is not dropped");
        let last = events.iter().next_back().unwrap();
        assert_eq!((last.sequence, events.next_sequence()), (27, 28));
    }

    #[test]
    fn seconds_add_up_from_ticks_of_any_length() {
        let mut events = Events::new();
        for _ in 0..10 {
            events.pass(333);
        }
        assert_eq!(events.secs(), 3);
        events.pass(5_000_000);
        assert_eq!(events.secs(), 5003);
        events.push(EventKind::LimitsSet);
        assert_eq!(events.iter().next().map(|event| event.at_secs), Some(5003));
    }
}
