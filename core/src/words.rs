//! Words for what stands in the way of a feeder and for what clears it. Nothing is allocated.
//!
//! Invariant: each text here, and those of [`Rule::holds_that`] and
//! [`Look::words`](crate::Look::words), fits a display of four rows of 20 letters when it is broken
//! at its spaces; what clears it fits two of them.
//!
//! ```
//! use dosewarden::guard::units::Millis;
//! use dosewarden::guard::{Clear, Rule};
//! use dosewarden::{ClearWords, Obstacle};
//!
//! let obstacle = Obstacle::Rule(Rule::SpreadHold, Clear::AfterFlow(Millis(580_000)));
//! assert_eq!(obstacle.name(), "spread_hold");
//! assert_eq!(ClearWords(obstacle.clears()).to_string(), "after 9 min 40 s of flow");
//! assert_eq!(
//!     obstacle.to_string(),
//!     "a dose, fed or presumed, has not spread yet; clears after 9 min 40 s of flow"
//! );
//! ```

use core::fmt;

use crate::alarm::{FeederAlarm, SiteAlarm};
use crate::guard::units::Millis;
use crate::guard::{Clear, Lockout, Rule};
use crate::machine::Phase;
use crate::why::Obstacle;

/// A time as people say it, rounded up: `40 s`, `9 min 40 s`, `1 h 5 min`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct TimeWords(pub Millis);

impl fmt::Display for TimeWords {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let seconds = self.0.0.div_ceil(1000);
        if seconds < 60 {
            return write!(f, "{seconds} s");
        }
        if seconds < 3600 {
            let (minutes, rest) = (seconds / 60, seconds % 60);
            write!(f, "{minutes} min")?;
            return match rest {
                0 => Ok(()),
                _ => write!(f, " {rest} s"),
            };
        }
        let minutes = seconds.div_ceil(60);
        let (hours, rest) = (minutes / 60, minutes % 60);
        write!(f, "{hours} h")?;
        match rest {
            0 => Ok(()),
            _ => write!(f, " {rest} min"),
        }
    }
}

/// What clears a refusal, in words that go on after "clears".
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ClearWords(pub Clear);

impl fmt::Display for ClearWords {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let words = match self.0 {
            Clear::After(time) => return write!(f, "in {}", TimeWords(time)),
            Clear::AfterFlow(time) => return write!(f, "after {} of flow", TimeWords(time)),
            Clear::FlowThen(time) if time.0 > 0 => {
                return write!(f, "once flow stays for {}", TimeWords(time));
            }
            Clear::ValvesThen(time) => {
                return write!(f, "once valves stay for {}", TimeWords(time));
            }
            Clear::HoursOpen(time) => {
                return write!(f, "when hours begin, in {}", TimeWords(time));
            }
            Clear::OtherOffThen(time) => {
                return write!(f, "after the other and {} of flow", TimeWords(time));
            }
            Clear::FlowThen(_) => "when flow returns",
            Clear::Nothing => "by nothing: none refuses",
            Clear::ProbeTrusted => "when the probe is trusted again",
            Clear::WaterInside => "when the water is inside its cut-off",
            Clear::CycleEnds => "when this cycle ends",
            Clear::Charge => "when feed is asked for and allowed",
            Clear::Saved => "when the record is saved",
            Clear::Person => "by a person",
            Clear::InhibitEnds => "when the stop is known to be over",
            Clear::ClockKnown => "when the clock is known",
            Clear::Refill => "when product is seen in the drum",
            Clear::TurnPasses => "after the other's turn",
            Clear::FeedbackKnown => "when the drive's feedback is known",
            Clear::Button => "when the button is pressed anew",
            Clear::NextTick => "at the next tick",
        };
        f.write_str(words)
    }
}

/// A lockout, in a few words.
#[must_use]
pub const fn lockout_words(lockout: Lockout) -> &'static str {
    match lockout {
        Lockout::StateSeal => "state changed by itself",
        Lockout::LimitsSeal => "limits changed by themselves",
        Lockout::Witnesses => "flow while the pump is off",
        Lockout::Line => "product in the standing line",
        Lockout::RecordLost => "record lost",
        Lockout::EmergencyStop => "emergency stop",
        Lockout::PowerLoss => "power loss",
        Lockout::Probe => "probe failed",
        Lockout::RunTime => "drive ran too long",
        Lockout::Response => "water answered wrongly",
        Lockout::Drive => "drive did not obey",
    }
}

/// What is wrong where a rule refuses, in a few words: the opposite of [`Rule::holds_that`]. What is not known refuses as
/// well, so the words are true of both.
#[must_use]
pub const fn rule_words(rule: Rule) -> &'static str {
    match rule {
        Rule::ClockSane => "a tick did not come in time",
        Rule::StateSealed => "the state is not what the guard left",
        Rule::LimitsSealed => "the limits are not those that were set",
        Rule::PowerOnDelay => "probes and water need more time since power-on",
        Rule::FlowProven => "no flow proven: a witness says no, nothing, or not for long yet",
        Rule::WitnessesAgree => "flow witnesses and pump contact contradict each other",
        Rule::ProbeSettled => "the probe does not see the pool's water yet",
        Rule::ProbeTrusted => "the governing probe is silent or not to be believed",
        Rule::InsideCutoff => "the water is past the cut-off, or not known",
        Rule::BodyKnown => "it is not known which body gets the product",
        Rule::CycleCap => "the cycle's dose is used up",
        Rule::RunTimeCap => "the cycle's drive-on time is used up",
        Rule::SpreadHold => "a dose, fed or presumed, has not spread yet",
        Rule::HourCap => "the rolling hour is used up, or counts as used",
        Rule::DayCap => "the rolling day is used up, or counts as used",
        Rule::OneAtATime => "a product that must not meet this one is in the way",
        Rule::LineClear => "product stands in the injection line, or may",
        Rule::ResponseSane => "the water does not answer as it should",
        Rule::StockPresent => "no product is seen in the drum, or its switch is silent",
        Rule::DriveObeys => "the drive does not do what it was told, or does not say",
        Rule::LedgerTrusted => "it is not known what was fed",
        Rule::ChargeDurable => "this dose is not on record yet",
        Rule::NoLockout => "something waits for a person",
        Rule::InhibitsClear => "feed is stopped, or nobody says that it may go",
        Rule::WindowOpen => "it is outside the operating hours, or the clock is unset",
        Rule::ManualBounded => "the manual feed is over, or its button was let go",
        Rule::FallbackBounded => "fallback is over, or its own caps are used up",
    }
}

/// The name of the alarm that stands for a lockout.
const fn lockout_name(lockout: Lockout) -> &'static str {
    match lockout {
        Lockout::StateSeal => SiteAlarm::LockedStateSeal.name(),
        Lockout::LimitsSeal => SiteAlarm::LockedLimitsSeal.name(),
        Lockout::Witnesses => SiteAlarm::LockedWitnesses.name(),
        Lockout::Line => SiteAlarm::LockedLine.name(),
        Lockout::RecordLost => SiteAlarm::LockedRecordLost.name(),
        Lockout::EmergencyStop => SiteAlarm::LockedEmergencyStop.name(),
        Lockout::PowerLoss => SiteAlarm::LockedPowerLoss.name(),
        Lockout::Probe => FeederAlarm::LockedProbe.name(),
        Lockout::RunTime => FeederAlarm::LockedRunTime.name(),
        Lockout::Response => FeederAlarm::LockedResponse.name(),
        Lockout::Drive => FeederAlarm::LockedDrive.name(),
    }
}

impl Obstacle {
    /// Its name, at most 21 letters: of the rule, or of the alarm that stands for the lockout.
    #[must_use]
    pub const fn name(&self) -> &'static str {
        match self {
            Self::Disabled => "disabled",
            Self::NotAsked => "not_asked",
            Self::OtherHasTurn => "other_has_turn",
            Self::PumpStops(_) => "pump_stops",
            Self::OutputFault => "output_fault",
            Self::Lockout(lockout) => lockout_name(*lockout),
            Self::Rule(rule, _) => rule.name(),
            Self::HandDose(_) => "hand_dose",
            Self::HandDay(_) => "hand_day",
            Self::GivenAway => "given_away",
            Self::WrongWay => "wrong_way",
            Self::Unanswered => "unanswered",
        }
    }

    /// What is wrong, in a few words.
    #[must_use]
    pub const fn words(&self) -> &'static str {
        match self {
            Self::Disabled => "the site does not use this feeder",
            Self::NotAsked => "nothing is asked for",
            Self::OtherHasTurn => "an incompatible product has the turn",
            Self::PumpStops(_) => "the circulation pump stops too soon for a purge",
            Self::OutputFault => "the output of the drive or of the series contact has failed",
            Self::Lockout(lockout) => lockout_words(*lockout),
            Self::Rule(rule, _) => rule_words(*rule),
            Self::HandDose(_) => "a dose by hand has not spread yet",
            Self::HandDay(_) => "with doses by hand the day's cap is used up",
            Self::GivenAway => "this board has given its pool to another",
            Self::WrongWay => "the water answers this feeder the wrong way",
            Self::Unanswered => "the water has not answered this feeder, and has chlorine enough",
        }
    }
}

impl fmt::Display for Obstacle {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Self::Lockout(_) = self {
            f.write_str("locked out: ")?;
        }
        write!(f, "{}; clears {}", self.words(), ClearWords(self.clears()))
    }
}

impl Phase {
    /// Its name.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Starting => "starting",
            Self::AwaitingFlow => "awaiting_flow",
            Self::Settling => "settling",
            Self::NotAsked => "not_asked",
            Self::Feeding => "feeding",
            Self::Spreading => "spreading",
            Self::Refused(_) => "refused",
            Self::LockedOut(_) => "locked_out",
            Self::Disabled => "disabled",
        }
    }
}

#[cfg(test)]
mod tests;
