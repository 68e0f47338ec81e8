//! Everything the guard remembers: ages that saturate, totals, lockouts. No absolute time, no
//! sequence number: nothing wraps, nothing goes back, and the states can be explored to the end.

use crate::ledger::Ledger;
use crate::lockout::LockoutSet;
use crate::request::{Mode, Stage};
use crate::units::{Dose, MilliPh, Millis};

/// Where a feeder's cycle stands. Ordered: less is worse for feeding.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum CycleStage {
    /// No cycle.
    Idle,
    /// Over; waiting until the drive is known to be off.
    Closing,
    /// Charged, not yet confirmed durable.
    Pending,
    /// Charged, durable: may run.
    Open,
}

/// Where the time since a permit ended saturates: above any `drive_off` and a tick.
pub const OFF_MAX: Millis = Millis(20_000);

/// What the guard remembers of one feeder.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct FeederState {
    /// Where its cycle stands.
    pub stage: CycleStage,
    /// Body in which the cycle was charged.
    pub body: u8,
    /// Mode in which it was asked for.
    pub mode: Mode,
    /// What the cycle has charged and is durable (pending at first).
    pub charge: Dose,
    /// The next slice, charged and pending.
    pub next_slice: Dose,
    /// Drive-on time that the charge covers, the drive's off delay kept back.
    pub allowed: Millis,
    /// Drive-on time used in this cycle.
    pub run: Millis,
    /// Time since the last cut of an open cycle.
    pub cut: Millis,
    /// Longest run of the last permit; 0: none was given.
    pub permit: Millis,
    /// Time since the last permit ended, saturating at [`OFF_MAX`].
    pub off: Millis,
    /// Drive-on time against command, as seen by feedback.
    pub against: Millis,
    /// Commanded time without feedback.
    pub deaf: Millis,
    /// How long feedback has been off, saturating at `feedback_clear`.
    pub clear: Millis,
    /// How long the cell's own switch has proven flow, saturating at `flow_prove`.
    pub cell_proven: Millis,
    /// Drive-on time of the manual feed since the button was last released. Used up at power-on: a
    /// button that is held, or stuck, must be let go once before it counts.
    pub manual: Millis,
    /// How long its governing probe has failed, saturating past `probe_failure_max`.
    pub probe_failed: Millis,
}

impl FeederState {
    /// At rest, nothing proven.
    pub const REST: Self = Self {
        stage: CycleStage::Idle,
        body: 0,
        mode: Mode::Automatic,
        charge: Dose(0),
        next_slice: Dose(0),
        allowed: Millis(0),
        run: Millis(0),
        cut: Millis(0),
        permit: Millis(0),
        off: OFF_MAX,
        against: Millis(0),
        deaf: Millis(0),
        clear: Millis(0),
        cell_proven: Millis(0),
        manual: Millis(u32::MAX),
        probe_failed: Millis(0),
    };

    /// Charged or running.
    #[must_use]
    pub const fn in_cycle(&self) -> bool {
        matches!(self.stage, CycleStage::Pending | CycleStage::Open)
    }

    /// All that it has charged.
    #[must_use]
    pub const fn charged(&self) -> Dose {
        Dose(self.charge.0.saturating_add(self.next_slice.0))
    }

    /// Drive-on time left of the charge.
    #[must_use]
    pub const fn left(&self) -> Millis {
        Millis(self.allowed.0.saturating_sub(self.run.0))
    }
}

/// Whether the water's answer to an account's product is awaited, and what the last ones were.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct ResponseState {
    /// pH when the cycle was charged, if it was known.
    pub before: Option<MilliPh>,
    /// An answer is awaited, to a cycle of this many quarters of the cap; 0: none is.
    pub awaited: u8,
    /// Full cycles in a row without an answer.
    pub unanswered: u8,
    /// Until an answer is seen, a cycle is at most a quarter of the cap: set by a release.
    pub quarter: bool,
    /// The last answer was the wrong way or far too strong; until released.
    pub wrong: bool,
    /// Time since the last cycle, saturating at `probe_cycle_every`.
    pub since_cycle: Millis,
}

impl ResponseState {
    /// Nothing awaited, nothing seen.
    pub const REST: Self = Self {
        before: None,
        awaited: 0,
        unanswered: 0,
        quarter: false,
        wrong: false,
        since_cycle: Millis(0),
    };
}

/// What stands in the injection line.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct LineState<const N: usize> {
    /// Drive-on time without flow since the line was last clear, by account.
    pub standing: [Millis; N],
    /// Flowing time since the last stop in mid-dose, saturating at `purge`.
    pub purged: Millis,
}

/// Where the ledger comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum LedgerTrust {
    /// Restored, or begun by a person.
    Trusted,
    /// No usable record was found; the day counts as used. The time since, with power.
    Lost(Millis),
}

/// Everything the guard remembers.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct State<const N: usize, const B: usize, const H: usize, const D: usize> {
    /// Rolling totals.
    pub ledger: Ledger<N, B, H, D>,
    /// Whether they can be trusted.
    pub trust: LedgerTrust,
    /// Lockouts of the site.
    pub site_lockouts: LockoutSet,
    /// Lockouts of each feeder.
    pub feeder_lockouts: [LockoutSet; N],
    /// Feeders whose drive ran against command, until a person releases it.
    pub ran_against: [bool; N],
    /// Stage of trust.
    pub stage: Stage,
    /// Flowing time since the last cycle, by account and body, saturating at the hold.
    pub since_cycle: [[Millis; B]; N],
    /// Flowing time since a drive ran, by account, saturating at `purge`.
    pub since_drive: [Millis; N],
    /// The injection line.
    pub line: LineState<N>,
    /// Answers of the water, by account.
    pub response: [ResponseState; N],
    /// Time left in fallback; 0: not in fallback.
    pub fallback_left: Millis,
    /// A probe is new: the longer delay after power-on applies.
    pub new_probe: bool,
    /// Time without power that may still be credited.
    pub off_bank: Millis,
    /// Feeders.
    pub feeders: [FeederState; N],
    /// Time since power-on, saturating at the longer delay.
    pub powered: Millis,
    /// How long every witness has proven flow, saturating at `flow_prove`.
    pub flow_proven: Millis,
    /// How long water has moved past the probes, saturating at `probe_settle`.
    pub settled: Millis,
    /// How long flow has been seen while the pump says off, saturating past `stuck_flow_max`.
    pub disagree: Millis,
    /// Body that the valves select, and how long it has been steady.
    pub selected: Option<u8>,
    /// How long the valves have been steady, saturating.
    pub steady: Millis,
    /// A record has to be saved.
    pub save_wanted: bool,
    /// How long the save has been wanted, saturating past `save_max`.
    pub save_age: Millis,
}

impl<const N: usize, const B: usize, const H: usize, const D: usize> State<N, B, H, D> {
    /// At power-on of a unit without a record: nothing proven, ledger not trusted.
    pub const POWER_ON: Self = Self {
        ledger: Ledger::EMPTY,
        trust: LedgerTrust::Lost(Millis(0)),
        site_lockouts: LockoutSet::NONE,
        feeder_lockouts: [LockoutSet::NONE; N],
        ran_against: [false; N],
        stage: Stage::Reduced,
        since_cycle: [[Millis(0); B]; N],
        since_drive: [Millis(0); N],
        line: LineState {
            standing: [Millis(0); N],
            purged: Millis(0),
        },
        response: [ResponseState::REST; N],
        fallback_left: Millis(0),
        new_probe: false,
        off_bank: Millis(0),
        feeders: [FeederState::REST; N],
        powered: Millis(0),
        flow_proven: Millis(0),
        settled: Millis(0),
        disagree: Millis(0),
        selected: None,
        steady: Millis(0),
        save_wanted: false,
        save_age: Millis(0),
    };
}
