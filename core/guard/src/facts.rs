//! What the guard is told each tick. It starts from [`Facts::UNKNOWN`], so a fact that nobody set
//! is a fact that nobody knows.
//!
//! | fact | who makes it | what happens if it lies |
//! |---|---|---|
//! | `flow_switch`, `flow_meter` | flow switch or meter, worst since the last tick | "flow" without flow: the pump contact still refuses, and the disagreement locks out; with one witness nothing sees it |
//! | `pump_run` | auxiliary contact of the pump's contactor | the flow switch still refuses |
//! | `cell_flow` | flow switch at the generator's cell | the site's witnesses still refuse |
//! | `ph`, `orp` | probe layer, with its NE 107 status | caps and holds bound what a false value can feed |
//! | `body` | end switches of the valves | a pool's dose in a spa, bounded by the caps of the body named |
//! | `feedback` | current sensor or auxiliary contact of the drive | the longer of command and feedback is charged |
//! | `stock` | level switch in the drum | air is fed; the estimate in the controller alarms |
//! | `hold_to_run` | push button for a manual feed | `manual_max` and the caps bound it |
//! | `inhibits` | service switches, timetable, controller | a feed that somebody meant to stop goes on within its limits |
//! | `minute`, `clock` | real-time clock | operating hours shift; off time is credited out of a bounded bank only |
//! | `saved` | record store, from what it read back | a dose is fed that a power cut would forget |

use crate::reading::Reading;
use crate::record::Ticket;
use crate::units::{Body, ClockSeconds, FlowMlPerS, MilliPh, Millis, Millivolts, MinuteOfDay};

/// Reasons for which somebody wants no feed. A set; one standing reason holds every feeder.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Inhibits(u16);

impl Inhibits {
    /// No reason stands.
    pub const NONE: Self = Self(0);
    /// Emergency stop: locks out until a person releases it.
    pub const EMERGENCY_STOP: Self = Self(1);
    /// The filter is being backwashed.
    pub const BACKWASH: Self = Self(1 << 1);
    /// Somebody works on the plant.
    pub const SERVICE: Self = Self(1 << 2);
    /// A probe is being calibrated.
    pub const CALIBRATION: Self = Self(1 << 3);
    /// Paused by a person.
    pub const PAUSED: Self = Self(1 << 4);
    /// Laid up for winter.
    pub const LAID_UP: Self = Self(1 << 5);
    /// Water too cold for feeding.
    pub const TOO_COLD: Self = Self(1 << 6);
    /// The controller decides and logs, and drives nothing.
    pub const OBSERVE_ONLY: Self = Self(1 << 7);
    /// Nobody has said whether a reason stands: what [`Facts::UNKNOWN`] holds. A hold, not a
    /// lockout, so that a start does not need a person.
    pub const NOT_KNOWN: Self = Self(1 << 8);
    /// Every reason.
    pub const ALL: Self = Self(0x01FF);

    /// Both sets together.
    #[must_use]
    pub const fn with(self, other: Self) -> Self {
        Self(self.0 | other.0)
    }

    /// Whether any reason of `other` stands.
    #[must_use]
    pub const fn any_of(self, other: Self) -> bool {
        self.0 & other.0 != 0
    }

    /// Whether none stands.
    #[must_use]
    pub const fn is_empty(self) -> bool {
        self.0 == 0
    }

    /// The set as bits, in the order of the constants above.
    #[must_use]
    pub const fn bits(self) -> u16 {
        self.0
    }

    /// A set from bits; bits without a meaning are dropped.
    #[must_use]
    pub const fn from_bits(bits: u16) -> Self {
        Self(bits & Self::ALL.0)
    }
}

/// What is known about one feeder.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct FeederFacts {
    /// Milliseconds that the drive was seen on since the last tick.
    pub feedback: Reading<Millis>,
    /// Whether the level switch sees product.
    pub stock: Reading<bool>,
    /// Whether the generator's own flow switch sees flow; worst since the last tick.
    pub cell_flow: Reading<bool>,
    /// Whether the push button for a manual feed is held.
    pub hold_to_run: Reading<bool>,
}

impl FeederFacts {
    /// Nothing is known.
    pub const UNKNOWN: Self = Self {
        feedback: Reading::unknown(Millis(0)),
        stock: Reading::unknown(false),
        cell_flow: Reading::unknown(false),
        hold_to_run: Reading::unknown(false),
    };
}

/// Everything the guard is told in one tick. Passed by value.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Facts<const N: usize> {
    /// Whether the flow switch sees flow; worst since the last tick.
    pub flow_switch: Reading<bool>,
    /// Flow by the meter; lowest since the last tick.
    pub flow_meter: Reading<FlowMlPerS>,
    /// Whether the circulation pump's contact says that it runs; worst since the last tick.
    pub pump_run: Reading<bool>,
    /// pH of the water at the probe.
    pub ph: Reading<MilliPh>,
    /// ORP of the water at the probe.
    pub orp: Reading<Millivolts>,
    /// Body of water that the valves select.
    pub body: Reading<Body>,
    /// Standing reasons not to feed.
    pub inhibits: Inhibits,
    /// Local minute of the day.
    pub minute: Reading<MinuteOfDay>,
    /// Real-time clock.
    pub clock: Reading<ClockSeconds>,
    /// The record that the store last read back whole and equal from both places.
    pub saved: Option<Ticket>,
    /// Facts of each feeder.
    pub feeders: [FeederFacts; N],
}

impl<const N: usize> Facts<N> {
    /// Nothing is known: no feeder may run.
    pub const UNKNOWN: Self = Self {
        flow_switch: Reading::unknown(false),
        flow_meter: Reading::unknown(FlowMlPerS(0)),
        pump_run: Reading::unknown(false),
        ph: Reading::unknown(MilliPh(0)),
        orp: Reading::unknown(Millivolts(0)),
        body: Reading::unknown(Body(0)),
        inhibits: Inhibits::NOT_KNOWN,
        minute: Reading::unknown(MinuteOfDay(0)),
        clock: Reading::unknown(ClockSeconds(0)),
        saved: None,
        feeders: [FeederFacts::UNKNOWN; N],
    };
}

#[cfg(test)]
mod tests {
    use super::Inhibits;

    #[test]
    fn each_reason_has_a_bit_of_its_own() {
        let reasons = [
            Inhibits::EMERGENCY_STOP,
            Inhibits::BACKWASH,
            Inhibits::SERVICE,
            Inhibits::CALIBRATION,
            Inhibits::PAUSED,
            Inhibits::LAID_UP,
            Inhibits::TOO_COLD,
            Inhibits::OBSERVE_ONLY,
            Inhibits::NOT_KNOWN,
        ];
        for (bit, reason) in reasons.into_iter().enumerate() {
            assert_eq!(reason.bits(), 1 << bit);
        }
        let all = reasons.into_iter().fold(Inhibits::NONE, Inhibits::with);
        assert_eq!(all, Inhibits::ALL);
    }
}
