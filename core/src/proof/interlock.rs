//! The interlocks that a site can have, and which of them it has.

use crate::guard::{Authority, Fitted, Limits};

/// Interlocks of the whole site.
pub(super) const OF_SITE: usize = 5;
/// Interlocks of each feeder.
pub(super) const OF_FEEDER: usize = 3;

/// Something that has to stop feed. Numbers are stable: of the site 0 to 4, of feeder `f` from
/// `5 + 3 f` on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
pub enum Interlock {
    /// Flow switch.
    FlowSwitch,
    /// Flow meter, by its threshold.
    FlowMeter,
    /// Run contact of the circulation pump.
    PumpContact,
    /// Emergency stop.
    EmergencyStop,
    /// Contact in series with all feeders.
    MasterContact,
    /// Level switch of a feeder's drum.
    LevelSwitch(u8),
    /// Feedback of a feeder's drive.
    Feedback(u8),
    /// Flow switch at a generator's cell.
    CellFlow(u8),
}

impl Interlock {
    /// Its number.
    #[must_use]
    pub fn number(self) -> usize {
        let of = |feeder: u8, kind: usize| {
            let before = usize::from(feeder).saturating_mul(OF_FEEDER);
            before.saturating_add(OF_SITE).saturating_add(kind)
        };
        match self {
            Self::FlowSwitch => 0,
            Self::FlowMeter => 1,
            Self::PumpContact => 2,
            Self::EmergencyStop => 3,
            Self::MasterContact => 4,
            Self::LevelSwitch(feeder) => of(feeder, 0),
            Self::Feedback(feeder) => of(feeder, 1),
            Self::CellFlow(feeder) => of(feeder, 2),
        }
    }

    /// That of a number under 32: those of the site, then those of feeders 0 to 8.
    fn numbered(number: u32) -> Option<Self> {
        let number = usize::try_from(number).ok()?;
        let Some(at) = number.checked_sub(OF_SITE) else {
            let site = [
                Self::FlowSwitch,
                Self::FlowMeter,
                Self::PumpContact,
                Self::EmergencyStop,
                Self::MasterContact,
            ];
            return site.get(number).copied();
        };
        let feeder = u8::try_from(at / OF_FEEDER).ok()?;
        Some(match at % OF_FEEDER {
            0 => Self::LevelSwitch(feeder),
            1 => Self::Feedback(feeder),
            _ => Self::CellFlow(feeder),
        })
    }

    /// What it is.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::FlowSwitch => "flow switch",
            Self::FlowMeter => "flow meter",
            Self::PumpContact => "run contact of the circulation pump",
            Self::EmergencyStop => "emergency stop",
            Self::MasterContact => "contact in series with all feeders",
            Self::LevelSwitch(_) => "level switch",
            Self::Feedback(_) => "drive feedback",
            Self::CellFlow(_) => "flow switch at the cell",
        }
    }

    /// What has to be so before the test can begin.
    #[must_use]
    pub const fn prepare(self) -> &'static str {
        match self {
            Self::FlowSwitch | Self::FlowMeter | Self::PumpContact | Self::CellFlow(_) => {
                "let the circulation pump run with full flow; best while a feeder feeds"
            }
            Self::EmergencyStop => "have the emergency stop released; best while a feeder feeds",
            Self::MasterContact => "wait until no feeder feeds",
            Self::LevelSwitch(_) => "have product in the drum; best while its feeder feeds",
            Self::Feedback(_) => "let its feeder feed, by hand if need be, and be seen to",
        }
    }

    /// What the person then does.
    #[must_use]
    pub const fn step(self) -> &'static str {
        match self {
            Self::FlowSwitch => "close the valve at the flow switch, or stop the pump",
            Self::FlowMeter => "throttle the flow until the meter reads under its threshold",
            Self::PumpContact => "stop the circulation pump at its contactor",
            Self::EmergencyStop => "press the emergency stop; release the lockout afterwards",
            Self::MasterContact => "push in a feeder's contactor by hand: the feeder must not run",
            Self::LevelSwitch(_) => "lift the level switch out of the product",
            Self::Feedback(_) => {
                "take its wire off; put it back and release the lockout afterwards"
            }
            Self::CellFlow(_) => "close the valve at the cell",
        }
    }

    /// Whether it can be tested only while its feeder feeds: not before the reduced stage.
    #[must_use]
    pub const fn needs_feed(self) -> bool {
        matches!(self, Self::Feedback(_))
    }

    /// Feed has to have stopped within this, ms, from when the person says that it is done; for
    /// feedback, the time that the limits give it comes on top. Our choice: water runs on for some
    /// seconds when a pump stops; a contact does not.
    #[must_use]
    pub const fn stops_within_ms(self) -> u16 {
        match self {
            Self::FlowSwitch | Self::FlowMeter | Self::CellFlow(_) => 10_000,
            _ => 3_000,
        }
    }

    /// The feeder that it stops; `None`: all.
    pub(crate) const fn feeder(self) -> Option<u8> {
        match self {
            Self::LevelSwitch(feeder) | Self::Feedback(feeder) | Self::CellFlow(feeder) => {
                Some(feeder)
            }
            _ => None,
        }
    }
}

/// A set of interlocks; 4 bytes.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(transparent))]
pub struct InterlockSet(u32);

impl InterlockSet {
    /// None.
    pub const NONE: Self = Self(0);

    fn bit(one: Interlock) -> u32 {
        let number = u32::try_from(one.number()).unwrap_or(u32::MAX);
        1_u32.checked_shl(number).unwrap_or(0)
    }

    /// With one more.
    #[must_use]
    pub fn with(self, one: Interlock) -> Self {
        Self(self.0 | Self::bit(one))
    }

    /// Whether it is among them.
    #[must_use]
    pub fn has(self, one: Interlock) -> bool {
        self.0 & Self::bit(one) != 0
    }

    /// Whether there is none.
    #[must_use]
    pub const fn is_empty(self) -> bool {
        self.0 == 0
    }

    /// Without those that need feed ([`Interlock::needs_feed`]).
    #[must_use]
    pub fn without_feed(self) -> Self {
        self.iter()
            .filter(|one| !one.needs_feed())
            .fold(Self::NONE, Self::with)
    }

    /// Each of them, in the order of their numbers.
    pub fn iter(self) -> impl Iterator<Item = Interlock> {
        let mut left = self.0;
        core::iter::from_fn(move || {
            let lowest = left.trailing_zeros();
            left &= left.checked_sub(1)?;
            Interlock::numbered(lowest)
        })
    }
}

/// What proof tests are told about a site, besides its limits.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub struct ProofSettings {
    /// Days from one test to the next, 1 to 366.
    pub every_days: u16,
    /// An emergency stop is wired.
    pub emergency_stop: bool,
    /// A contact in series with all feeders is fitted.
    pub master_contact: bool,
}

/// `every_days` is not 1 to 366.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct ProofDays(pub u16);

impl core::fmt::Display for ProofDays {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        write!(f, "every_days is {}; right is 1 to 366", self.0)
    }
}

impl core::error::Error for ProofDays {}

impl ProofSettings {
    /// Least authority for a proof test.
    pub const AUTHORITY: Authority = Authority::Operator;

    /// Settings that were looked at.
    ///
    /// # Errors
    /// If `every_days` is out of range.
    pub const fn try_new(self) -> Result<Self, ProofDays> {
        if self.every_days == 0 || self.every_days > 366 {
            return Err(ProofDays(self.every_days));
        }
        Ok(self)
    }

    /// The interlocks that the site has, by its limits and by these settings.
    #[must_use]
    pub fn of_site<const N: usize, const B: usize>(&self, limits: &Limits<N, B>) -> InterlockSet {
        let fitted_at_most = N.saturating_mul(OF_FEEDER).saturating_add(OF_SITE);
        (0..u32::BITS)
            .take(fitted_at_most)
            .filter_map(Interlock::numbered)
            .filter(|one| self.has(limits, *one))
            .fold(InterlockSet::NONE, InterlockSet::with)
    }

    fn has<const N: usize, const B: usize>(&self, limits: &Limits<N, B>, one: Interlock) -> bool {
        let site = limits.spec();
        let feeder = |number: u8| limits.feeder(usize::from(number));
        match one {
            Interlock::FlowSwitch => site.flow_switch.is_fitted(),
            Interlock::FlowMeter => site.flow_meter.is_fitted(),
            Interlock::PumpContact => site.pump_contact.is_fitted(),
            Interlock::EmergencyStop => self.emergency_stop,
            Interlock::MasterContact => self.master_contact,
            Interlock::LevelSwitch(at) => {
                feeder(at).is_some_and(|one| one.level_switch.is_fitted())
            }
            Interlock::Feedback(at) => {
                feeder(at).is_some_and(|one| matches!(one.feedback, Fitted::Fitted(_)))
            }
            Interlock::CellFlow(at) => {
                feeder(at).is_some_and(|one| one.cell_flow_switch.is_fitted())
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_number_of_a_set_is_that_of_its_interlock() {
        let all = InterlockSet(u32::MAX);
        let numbers: std::vec::Vec<usize> = all.iter().map(Interlock::number).collect();
        assert_eq!(numbers, (0..32).collect::<std::vec::Vec<_>>());
        assert!(all.iter().all(|one| all.has(one)));
        let again = all.iter().fold(InterlockSet::NONE, InterlockSet::with);
        assert_eq!(again, all);
        assert_eq!(InterlockSet::NONE.iter().count(), 0);
        let of_feeder = |one: Interlock| one.feeder().map(usize::from);
        let number = |one: Interlock| of_feeder(one).map(|feeder| OF_SITE + OF_FEEDER * feeder);
        for one in all.iter() {
            let from = number(one).unwrap_or(0);
            assert!(one.number() >= from && one.number() < from + OF_SITE.max(OF_FEEDER));
        }
    }

    #[test]
    fn one_that_is_in_a_set_stays_in_it_if_it_comes_again() {
        let once = InterlockSet::NONE.with(Interlock::FlowSwitch);
        assert_eq!(once.with(Interlock::FlowSwitch), once);
    }

    #[test]
    fn water_runs_on_for_some_seconds_and_a_contact_does_not() {
        let water = [
            Interlock::FlowSwitch,
            Interlock::FlowMeter,
            Interlock::CellFlow(1),
        ];
        assert_eq!(water.map(Interlock::stops_within_ms), [10_000; 3]);
        let contacts = [
            Interlock::PumpContact,
            Interlock::EmergencyStop,
            Interlock::LevelSwitch(0),
        ];
        assert_eq!(contacts.map(Interlock::stops_within_ms), [3000; 3]);
    }

    #[test]
    fn from_a_day_to_a_year_lies_between_tests() {
        let days = |every_days| {
            let settings = ProofSettings {
                every_days,
                emergency_stop: true,
                master_contact: true,
            };
            settings.try_new().is_ok()
        };
        assert_eq!([0, 1, 366, 367].map(days), [false, true, true, false]);
    }
}
