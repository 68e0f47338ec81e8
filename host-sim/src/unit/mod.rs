//! The control unit on trial: ours, or somebody else's.
//!
//! Invariant: a unit sees the wiring ([`Senses`]) and drives contacts ([`Commands`]), and nothing
//! else. What it says about itself ([`UnitStatus`]) is shown and judged, never believed about the
//! water.

mod care;
mod ours;
mod persons;
mod probes;
mod store;
mod wiring;

pub use ours::DosewardenUnit;

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
    /// The unit will say on one of the next ticks, by [`ControlUnit::late_reply`].
    Later,
}

/// A control unit. The simulated pool calls [`power_up`](Self::power_up) before the first tick and
/// after each power cut.
pub trait ControlUnit {
    /// Supply comes: the unit starts from what its non-volatile store holds.
    fn power_up(&mut self);

    /// Supply goes, in whatever the unit was doing. What was being written stays torn.
    fn power_down(&mut self);

    /// One tick: `dt_ms` after the last one, with what the wiring has shown since.
    fn tick(&mut self, dt_ms: u32, senses: &Senses) -> Commands;

    /// A person does something at the unit.
    fn person(&mut self, act: &PersonAct) -> Reply;

    /// The reply to an act that was answered by [`Reply::Later`], once.
    fn late_reply(&mut self) -> Option<Reply> {
        None
    }

    /// What it shows.
    fn status(&self) -> UnitStatus;

    /// Names of the bits of [`FeederStatus::refusing`], at most 64.
    fn refusal_names(&self) -> &[String];

    /// Names of the bits of [`UnitStatus::alarms`], at most 64.
    fn alarm_names(&self) -> &[String];
}
