//! What persons do at the controller. Every act carries the authority of who does it. None feeds past a cap; caps grow
//! by a stage, and by `Controller::change_limits`, each with its authority.

use crate::alarm::{AlarmId, Shelving};
use crate::guard::units::{Body, Dose, MilliPh, Millis};
use crate::guard::{Action, ActionResult, Authority, authority_for};
#[cfg(doc)]
use crate::restraint::PAUSE_MAX;
use crate::season::OpeningNeeds;
use crate::stages::StageNeeds;

/// How long after [`Act::FeedByHand`] the button has to be pressed. Our choice.
pub const HAND_WAITS: Millis = Millis::from_secs(60);

/// What a person does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Act {
    /// An action of the guard: release, initialise, stage, new probe, fallback.
    Guard(Action),
    /// Has seen one alarm. Cures nothing.
    Acknowledge(AlarmId),
    /// Has seen all alarms.
    AcknowledgeAll,
    /// Sets an alarm aside for a while, at most [`Shelving::LONGEST`]. Never a safety trip.
    Shelve(AlarmId, Shelving),
    /// Ends shelving.
    Unshelve(AlarmId),
    /// Takes an alarm out of service. Never a safety trip.
    TakeOutOfService(AlarmId),
    /// Puts it back.
    PutInService(AlarmId),
    /// Ends the latch of an alarm whose condition is gone and that is acknowledged.
    ResetLatch(AlarmId),
    /// Has filled a drum by this much.
    Refill {
        /// Which feeder's.
        feeder: usize,
        /// How much was added.
        amount: Dose,
    },
    /// Has read the level of a drum.
    ReadLevel {
        /// Which feeder's.
        feeder: usize,
        /// What is in it.
        level: Dose,
    },
    /// Will feed by hand: within [`HAND_WAITS`] the button has to be pressed, and feed runs while
    /// it is held (`hold_to_run` of the feeder's facts), up to this dose and the guard's limits.
    FeedByHand {
        /// Which feeder.
        feeder: usize,
        /// Largest dose.
        dose: Dose,
    },
    /// Pauses all feed for so long, at most [`PAUSE_MAX`]. It ends by itself; another pause takes
    /// the place of the last only if it ends later.
    Pause(Millis),
    /// Ends a pause before its time.
    Resume,
    /// Lays the site up for winter: nothing is fed until somebody opens it up.
    LayUp,
    /// Opens it up again; in two steps where stages ask for evidence ([`season`](crate::season)).
    OpenUp,
    /// Has poured so much of a feeder's product into the water by hand, or as much of another
    /// strength as comes to that. It counts towards the day's cap, and its product and what ORP
    /// governs wait until it has spread: in the body of water that is said, or in all.
    HandDose {
        /// The feeder of the product.
        feeder: usize,
        /// How much.
        dose: Dose,
        /// Into which body; `None`: nobody says, so it counts against each, and spreads while water flows through any.
        body: Option<Body>,
    },
    /// Steps down to observing only: the unit decides and logs, and drives nothing.
    Observe,
    /// Has tested pH with a kit, to compare it with the probe: evidence for the full stage.
    KitPh(MilliPh),
    /// Will fill a feeder's tube: as [`Act::FeedByHand`], with the largest dose that the guard lets
    /// a hand give. Counts as fed, and holds as any dose.
    Prime {
        /// Which feeder.
        feeder: usize,
    },
    /// Gives the pool to another board: nothing is fed from this tick on, also after a restart. What
    /// goes to the other board is made then (`store::BoardImage`).
    GiveAway,
    /// Takes it back: the other board is gone. The last day counts as used.
    TakeBack,
    /// Has tested, or filled with fresh product, what is in a drum of hypochlorite: so many percent of
    /// the strength that its caps were made for. Refused outside of
    /// [`STRENGTH_MIN`](crate::season::STRENGTH_MIN) to [`STRENGTH_MAX`](crate::season::STRENGTH_MAX).
    Strength {
        /// Which feeder's.
        feeder: usize,
        /// Percent.
        percent: u8,
    },
}

/// An [`Act`] without its figures, for events.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
pub enum ActKind {
    /// Release of a lockout.
    Release,
    /// Start of a new unit.
    Initialise,
    /// A probe is new.
    NewProbe,
    /// Fallback entered.
    EnterFallback,
    /// Fallback left.
    LeaveFallback,
    /// Stage set.
    SetStage,
    /// An alarm acknowledged.
    Acknowledge,
    /// All alarms acknowledged.
    AcknowledgeAll,
    /// An alarm shelved.
    Shelve,
    /// Shelving ended.
    Unshelve,
    /// An alarm taken out of service.
    TakeOutOfService,
    /// An alarm put in service.
    PutInService,
    /// A latch reset.
    ResetLatch,
    /// A drum filled.
    Refill,
    /// A level read.
    ReadLevel,
    /// Feed by hand.
    FeedByHand,
    /// Feed paused.
    Pause,
    /// A pause ended.
    Resume,
    /// Laid up.
    LayUp,
    /// Opened up.
    OpenUp,
    /// A dose by hand recorded.
    HandDose,
    /// Observing only.
    Observe,
    /// pH compared with a kit's.
    KitPh,
    /// A tube filled.
    Prime,
    /// The pool given to another board.
    GiveAway,
    /// The pool taken back.
    TakeBack,
    /// The strength of a drum entered.
    Strength,
}

impl Act {
    /// Its kind.
    #[must_use]
    pub const fn kind(&self) -> ActKind {
        match self {
            Self::Guard(Action::Release { .. }) => ActKind::Release,
            Self::Guard(Action::Initialise) => ActKind::Initialise,
            Self::Guard(Action::NewProbe) => ActKind::NewProbe,
            Self::Guard(Action::EnterFallback { .. }) => ActKind::EnterFallback,
            Self::Guard(Action::LeaveFallback) => ActKind::LeaveFallback,
            Self::Guard(Action::SetStage(_)) => ActKind::SetStage,
            Self::Acknowledge(_) => ActKind::Acknowledge,
            Self::AcknowledgeAll => ActKind::AcknowledgeAll,
            Self::Shelve(..) => ActKind::Shelve,
            Self::Unshelve(_) => ActKind::Unshelve,
            Self::TakeOutOfService(_) => ActKind::TakeOutOfService,
            Self::PutInService(_) => ActKind::PutInService,
            Self::ResetLatch(_) => ActKind::ResetLatch,
            Self::Refill { .. } => ActKind::Refill,
            Self::ReadLevel { .. } => ActKind::ReadLevel,
            Self::FeedByHand { .. } => ActKind::FeedByHand,
            Self::Pause(_) => ActKind::Pause,
            Self::Resume => ActKind::Resume,
            Self::LayUp => ActKind::LayUp,
            Self::OpenUp => ActKind::OpenUp,
            Self::HandDose { .. } => ActKind::HandDose,
            Self::Observe => ActKind::Observe,
            Self::KitPh(_) => ActKind::KitPh,
            Self::Prime { .. } => ActKind::Prime,
            Self::GiveAway => ActKind::GiveAway,
            Self::TakeBack => ActKind::TakeBack,
            Self::Strength { .. } => ActKind::Strength,
        }
    }

    /// Least authority for it.
    #[must_use]
    pub const fn authority(&self) -> Authority {
        match self {
            Self::Guard(action) => authority_for(action),
            // What takes feed away, anybody at the site may do; what gives it back is more.
            Self::Acknowledge(_)
            | Self::AcknowledgeAll
            | Self::Refill { .. }
            | Self::Pause(_)
            | Self::HandDose { .. } => Authority::Owner,
            Self::Shelve(..)
            | Self::Unshelve(_)
            | Self::ResetLatch(_)
            | Self::ReadLevel { .. }
            | Self::Resume
            | Self::LayUp
            | Self::Observe
            | Self::KitPh(_)
            | Self::Prime { .. }
            | Self::Strength { .. }
            | Self::FeedByHand { .. } => Authority::Operator,
            Self::TakeOutOfService(_)
            | Self::PutInService(_)
            | Self::OpenUp
            | Self::GiveAway
            | Self::TakeBack => Authority::Technician,
        }
    }
}

/// Who does what.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Person {
    /// Who.
    pub by: Authority,
    /// What.
    pub act: Act,
}

/// What became of it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum ActResult {
    /// Done.
    Done,
    /// Refused: needs at least this authority.
    NeedsAuthority(Authority),
    /// Refused by the guard.
    Guard(ActionResult),
    /// Refused: there is no such alarm.
    NoSuchAlarm,
    /// Refused: the alarm's state does not allow it.
    NotInThisState,
    /// Refused: a safety trip is never set aside.
    SafetyTrip,
    /// Refused: shelving needs an end, at most this long.
    ShelveAtMost(Millis),
    /// Refused: there is no such feeder, or it is not in use.
    NoSuchFeeder,
    /// Refused: the site has no such body of water.
    NoSuchBody,
    /// Refused: the settings name no drum for this feeder.
    NoDrum,
    /// Refused: more than the drum holds.
    MoreThanDrum(Dose),
    /// Refused: a dose of nothing.
    NoDose,
    /// Refused: a pause needs an end, at most this long.
    PauseAtMost(Millis),
    /// Refused: there is nothing to change, as it is so already.
    AlreadySo,
    /// Refused: this is missing for the stage.
    StageNeeds(StageNeeds),
    /// Refused: the probe is not trusted, or water has not moved past it for long enough.
    ProbeNotTrusted,
    /// Noted: the kit does not agree with the probe, which shows this. No evidence for a stage.
    KitDisagrees(MilliPh),
    /// Refused: this is missing before the site opens.
    OpeningNeeds(OpeningNeeds),
    /// Refused: what is in the drum is too weak, and has to be replaced; or stronger than the caps were
    /// made for.
    StrengthOut {
        /// Least, percent.
        min: u8,
        /// Most, percent.
        max: u8,
    },
}
