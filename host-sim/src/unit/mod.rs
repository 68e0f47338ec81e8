//! The control unit on trial: ours, or somebody else's.
//!
//! Invariant: a unit sees the wiring ([`Senses`]) and drives contacts ([`Commands`]), and nothing
//! else. What it says about itself ([`UnitStatus`]) is shown and judged, never believed about the
//! water.

mod alarms;
mod board;
mod canary;
mod care;
mod either;
mod fewer;
mod inside;
mod kept;
mod ours;
mod persons;
mod probes;
mod rates;
mod shown;
mod store;
mod unguarded;
mod upset;
mod wiring;

pub use alarms::{ALARM_STATES, AlarmStates};
pub use canary::Canary;
pub use either::DosewardenUnit;
pub use unguarded::UnguardedUnit;
pub use upset::{InsideFault, UnitFault};

#[cfg(all(test, feature = "tools"))]
pub(crate) use shown::OWN_REASONS;

use dosewarden::proof::{InterlockSet, ProofStep};
use dosewarden::{Obstacle, Phase};

use crate::plant::{Commands, MAX_FEEDERS, Senses};
use crate::scenario::PersonAct;

/// What a unit shows about one feeder.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct FeederStatus {
    /// Its regulator asks for feed.
    pub asked: bool,
    /// Dose that is asked for in all, uL or mg.
    pub asked_dose: u32,
    /// What refuses it: bit n stands for [`ControlUnit::refusal_names`]`[n]`.
    pub refusing: u64,
    /// A lockout stands against what it is asked for, its own or the site's.
    pub locked: bool,
    /// Its phase, if the unit has such; `None` without power.
    pub phase: Option<Phase>,
}

/// What a unit shows about itself after a tick.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct UnitStatus {
    /// One for each feeder.
    pub feeders: [FeederStatus; MAX_FEEDERS],
    /// Alarms that stand and that nobody has acknowledged: bit n stands for
    /// [`ControlUnit::alarm_names`]`[n]`.
    pub alarms_new: u64,
    /// All alarms that stand, acknowledged or not.
    pub alarms: u64,
    /// The same alarms and those that are set aside, state by state, if the unit tells them apart.
    pub alarm_states: AlarmStates,
    /// It waits for a person.
    pub needs_person: bool,
    /// pH that it shows x 1000, if it shows one.
    pub ph: Option<i32>,
    /// ORP that it shows in mV, if it shows one.
    pub orp: Option<i32>,
}

/// What became of a person's act.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Reply {
    /// It was done.
    Done,
    /// It was refused; why, in the unit's words.
    Refused(String),
    /// The unit will say on one of the next ticks, by [`ControlUnit::late_reply`], as often as this.
    Later(usize),
}

/// What a unit found of a feeder's real rate, where it looks.
#[derive(Clone, Debug, PartialEq)]
pub struct RateFound {
    /// Real over entered rate by the water's answers, with its standard deviation; `None`: no dose
    /// was followed to its end.
    pub by_water: Option<(f64, f64)>,
    /// Doses that it comes from since it last began anew; 255: that many or more.
    pub doses: u8,
    /// What the unit makes of that, in its words.
    pub verdict: String,
    /// What it makes of the drum's level, in its words.
    pub by_drum: String,
}

/// What a feeder does, and what stands in its way, where a unit says so.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Told {
    /// Its phase.
    pub phase: Phase,
    /// What stands in the way, the gravest first; nothing while it feeds.
    pub obstacles: Vec<Obstacle>,
}

/// A control unit. The simulated pool calls [`power_up`](Self::power_up) before the first tick and
/// after each power cut.
pub trait ControlUnit {
    /// Supply comes: the unit starts from what its non-volatile store holds.
    fn power_up(&mut self);

    /// Supply goes, in whatever the unit was doing. What was being written stays torn.
    fn power_down(&mut self);

    /// So much true time has passed with the power on, ms, whatever the program and its counter do: for what times itself,
    /// as a flash that has been told to write. Called before each tick; a unit around another hands it on.
    fn time_passes(&mut self, _true_ms: u32) {}

    /// One tick: `dt_ms` after the last one, with what the wiring has shown since.
    fn tick(&mut self, dt_ms: u32, senses: &Senses) -> Commands;

    /// A person does something at the unit.
    fn person(&mut self, act: &PersonAct) -> Reply;

    /// The next reply to an act that was answered by [`Reply::Later`], once: in the order of the acts.
    fn late_reply(&mut self) -> Option<Reply> {
        None
    }

    /// Something breaks inside it. `false`: it has nothing of the kind.
    fn breaks(&mut self, _fault: InsideFault) -> bool {
        false
    }

    /// What it found of a feeder's real rate; `None` if it does not look.
    fn rate_found(&self, _feeder: usize) -> Option<RateFound> {
        None
    }

    /// What a feeder does and what stands in its way, as of the last tick; `None` if it does not say, has no power,
    /// or has no such feeder.
    fn told(&self, _feeder: usize) -> Option<Told> {
        None
    }

    /// The bytes of the guard's record that a boot would find in the two places of its store now; `None`: it has no
    /// store that keeps one. A place in which nothing is, or nothing whole, is `None` too.
    fn stored(&self) -> Option<[Option<&[u8]>; 2]> {
        None
    }

    /// The interlocks of its site that have a proof test; none if it has no such tests.
    fn interlocks(&self) -> InterlockSet {
        InterlockSet::NONE
    }

    /// What the proof test under way waits for; `None`: there is none.
    fn proof_waits_for(&self) -> Option<ProofStep> {
        None
    }

    /// What it shows.
    fn status(&self) -> UnitStatus;

    /// Names of the bits of [`FeederStatus::refusing`], at most 64.
    fn refusal_names(&self) -> &[String];

    /// Names of the bits of [`UnitStatus::alarms`], at most 64.
    fn alarm_names(&self) -> &[String];
}
