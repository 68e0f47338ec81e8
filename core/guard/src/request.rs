//! What is asked of the guard: feed by the regulator, actions by persons.

use crate::lockout::Lockout;
use crate::units::{Dose, Millis};

/// Why a feed is asked for. The mode decides which rules apply, never whether caps do.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Mode {
    /// By the regulator.
    Automatic,
    /// By a person who holds a button: waives the probe rules only, and is bounded in time.
    Manual,
    /// A small fixed share of oxidiser while its probe is not trusted, entered by a person.
    Fallback,
}

/// A demand on one feeder. It stands while it is repeated; a tick without it withdraws it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct FeedRequest {
    /// Dose wanted in this cycle, whole; 0 asks for nothing. Lowering it does not shorten an open
    /// cycle: withdraw the request for that.
    pub dose: Dose,
    /// Why.
    pub mode: Mode,
}

impl FeedRequest {
    /// Asks for nothing.
    pub const NONE: Self = Self {
        dose: Dose(0),
        mode: Mode::Automatic,
    };

    /// Whether it asks for anything.
    #[must_use]
    pub const fn stands(&self) -> bool {
        self.dose.0 > 0
    }
}

/// Demands on all feeders in one tick.
pub type Requests<const N: usize> = [FeedRequest; N];

/// Who acts. Ordered: each may do what the ones before may.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Authority {
    /// Owner of the pool.
    Owner,
    /// Operator in charge of it.
    Operator,
    /// Technician.
    Technician,
    /// Maker of the equipment.
    Maker,
}

/// What a person says was done about water that did not answer as expected.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Remedy {
    /// Probe cleaned, replaced or calibrated.
    Probe,
    /// Product in the drum checked or changed.
    Product,
    /// Rate measured by a catch test.
    Rate,
    /// Injection line, valve or prime put right.
    Line,
    /// Water tested, nothing else found.
    WaterTested,
}

/// A stage of trust: smaller caps until a person raises it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Stage {
    /// Caps at the reduced share.
    Reduced,
    /// Caps in full.
    Full,
}

/// What a person does. Every action needs an [`Authority`]; none can raise a cap.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Action {
    /// Ends a lockout whose cause is gone. `feeder` is ignored for lockouts of the whole site.
    Release {
        /// Which lockout.
        lockout: Lockout,
        /// Of which feeder.
        feeder: usize,
        /// The person has seen that nobody is in the pool. Needed for [`Lockout::Line`].
        pool_empty: bool,
        /// What was done. Needed for [`Lockout::Response`].
        remedy: Option<Remedy>,
    },
    /// Starts a new unit, or one whose record is lost, with an empty ledger in the reduced stage.
    /// Until a day after, the stated bound on the day's total is twice the cap.
    Initialise,
    /// A probe is new: the longer delay applies from now.
    NewProbe,
    /// Enters fallback with a chlorine test of this visit.
    EnterFallback {
        /// Age of the chlorine test.
        test_age: Millis,
    },
    /// Leaves fallback.
    LeaveFallback,
    /// Moves to a stage.
    SetStage(Stage),
}

/// An action and who takes it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct PersonAction {
    /// Who.
    pub by: Authority,
    /// What.
    pub action: Action,
}

/// What became of an action.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum ActionResult {
    /// Done.
    Done,
    /// Refused: needs at least this authority.
    NeedsAuthority(Authority),
    /// Refused: no such lockout stands.
    NothingToRelease,
    /// Refused: the cause still stands.
    CauseStands,
    /// Refused: say that the pool is empty.
    SayPoolEmpty,
    /// Refused: say what was done.
    SayRemedy,
    /// Refused: the record is not lost, so there is nothing to initialise.
    NotLost,
    /// Refused: fallback is not configured, or the probe is trusted.
    FallbackNotNeeded,
    /// Refused: the chlorine test is too old.
    TestTooOld,
}
