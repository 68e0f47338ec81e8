//! The dosing machine: the phase that each feeder shows. It has no power of its own: the guard may
//! refuse in any phase, and the machine only says what stands.
//!
#![doc = include_str!("machine.md")]

use crate::guard::{Clear, CycleStage, FeederDecision, Lockout, Rule, RuleSet};

/// What a feeder shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
pub enum Phase {
    /// The delay after power-on runs, or nothing was judged yet.
    Starting,
    /// Water does not flow, by one witness at least.
    AwaitingFlow,
    /// Water flows, but has not for long enough.
    Settling,
    /// Nothing is asked for.
    NotAsked,
    /// It has a permit.
    Feeding,
    /// The last dose spreads.
    Spreading,
    /// Asked for and refused; this rule first. It clears by itself.
    Refused(Rule),
    /// A person is needed; this rule entered the lockout.
    LockedOut(Rule),
    /// The site does not use it.
    Disabled,
}

/// A phase without its rule: a row of the transition table.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Kind {
    Starting,
    AwaitingFlow,
    Settling,
    NotAsked,
    Feeding,
    Spreading,
    Refused,
    LockedOut,
    Disabled,
}

/// What one tick's decision shows of a feeder: a column of the transition table. The first that
/// applies counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Sign {
    /// The limits say that it is not in use.
    NotInUse,
    /// A lockout stands or is entered, or another feeder's keeps the series contact open.
    Locked,
    /// The delay after power-on runs.
    PowerDelay,
    /// A witness does not say flow.
    NoFlow,
    /// Flow is not proven, or the probe has not settled.
    Unsettled,
    /// It has a permit.
    Permitted,
    /// Its cycle is over; the drive is going off.
    Ending,
    /// A rule refuses what is asked for, or would refuse anything.
    Vetoed,
    /// Nothing but the hold after the last dose is in the way.
    HoldRuns,
    /// Nothing is asked for.
    Quiet,
}

const KINDS: [Kind; 9] = [
    Kind::Starting,
    Kind::AwaitingFlow,
    Kind::Settling,
    Kind::NotAsked,
    Kind::Feeding,
    Kind::Spreading,
    Kind::Refused,
    Kind::LockedOut,
    Kind::Disabled,
];

/// The one transition table: for each sign, where each phase goes, in the order of [`KINDS`].
#[rustfmt::skip]
const TABLE: [(Sign, [Kind; 9]); 10] = {
    use Kind::{AwaitingFlow, Disabled, Feeding, LockedOut, NotAsked, Refused, Settling, Spreading, Starting};
    [
        (Sign::NotInUse,   [Disabled; 9]),
        (Sign::Locked,     [LockedOut; 9]),
        (Sign::PowerDelay, [Starting; 9]),
        (Sign::NoFlow,     [AwaitingFlow; 9]),
        (Sign::Unsettled,  [Settling; 9]),
        (Sign::Permitted,  [Feeding; 9]),
        // A cut cycle that ends still waits for what cut it; a fed one spreads.
        (Sign::Ending,     [NotAsked, AwaitingFlow, Settling, NotAsked, Spreading, Spreading, Refused, NotAsked, NotAsked]),
        (Sign::Vetoed,     [Refused; 9]),
        (Sign::HoldRuns,   [Spreading; 9]),
        (Sign::Quiet,      [NotAsked; 9]),
    ]
};

fn next(from: Kind, sign: Sign) -> Kind {
    let row = TABLE.iter().find(|(of, _)| *of == sign);
    let column = KINDS.iter().position(|kind| *kind == from);
    row.zip(column)
        .and_then(|((_, row), column)| row.get(column))
        .copied()
        .unwrap_or(Kind::Starting)
}

/// Rules that are shown though nothing is asked for: they would refuse anything, and a person can
/// do something about it.
const SHOWN_UNASKED: RuleSet = RuleSet::NONE
    .with(Rule::InhibitsClear)
    .with(Rule::LedgerTrusted)
    .with(Rule::ClockSane)
    .with(Rule::ProbeTrusted)
    .with(Rule::BodyKnown)
    .with(Rule::StockPresent)
    .with(Rule::DriveObeys)
    .with(Rule::LineClear);

/// Which refusal is shown first when several stand: the one that the others may follow from.
const FIRST: [Rule; 20] = [
    Rule::InhibitsClear,
    Rule::LedgerTrusted,
    Rule::ClockSane,
    Rule::ProbeTrusted,
    Rule::BodyKnown,
    Rule::StockPresent,
    Rule::DriveObeys,
    Rule::WindowOpen,
    Rule::ManualBounded,
    Rule::FallbackBounded,
    Rule::InsideCutoff,
    Rule::LineClear,
    Rule::DayCap,
    Rule::HourCap,
    Rule::ResponseSane,
    Rule::SpreadHold,
    Rule::OneAtATime,
    Rule::CycleCap,
    Rule::RunTimeCap,
    Rule::ChargeDurable,
];

/// The rule that enters a lockout.
#[must_use]
pub const fn rule_of(lockout: Lockout) -> Rule {
    match lockout {
        Lockout::StateSeal => Rule::StateSealed,
        Lockout::LimitsSeal => Rule::LimitsSealed,
        Lockout::Witnesses => Rule::WitnessesAgree,
        Lockout::Line => Rule::LineClear,
        Lockout::RecordLost => Rule::LedgerTrusted,
        Lockout::EmergencyStop => Rule::InhibitsClear,
        Lockout::PowerLoss => Rule::PowerOnDelay,
        Lockout::Probe => Rule::ProbeTrusted,
        Lockout::RunTime => Rule::RunTimeCap,
        Lockout::Response => Rule::ResponseSane,
        Lockout::Drive => Rule::DriveObeys,
    }
}

/// One feeder's machine.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Machine {
    kind: Kind,
    rule: Rule,
}

impl Machine {
    /// Before the first tick.
    pub(crate) const START: Self = Self {
        kind: Kind::Starting,
        rule: Rule::PowerOnDelay,
    };

    pub(crate) const fn phase(self) -> Phase {
        match self.kind {
            Kind::Starting => Phase::Starting,
            Kind::AwaitingFlow => Phase::AwaitingFlow,
            Kind::Settling => Phase::Settling,
            Kind::NotAsked => Phase::NotAsked,
            Kind::Feeding => Phase::Feeding,
            Kind::Spreading => Phase::Spreading,
            Kind::Refused => Phase::Refused(self.rule),
            Kind::LockedOut => Phase::LockedOut(self.rule),
            Kind::Disabled => Phase::Disabled,
        }
    }

    /// Moves on by what was decided. `asked`: the regulator or a person wants feed, also where the
    /// controller holds the request back. `locked`: the rule of a lockout that stands.
    pub(crate) fn step(&mut self, row: &FeederDecision, asked: bool, locked: Option<Rule>) {
        let sign = sign(row, asked);
        self.kind = next(self.kind, sign);
        match sign {
            Sign::Locked => {
                self.rule = entering(row).or(locked).unwrap_or(Rule::NoLockout);
            }
            Sign::Vetoed => self.rule = first(row, asked),
            _ => {}
        }
    }
}

/// A rule that enters or keeps up a lockout in this tick.
fn entering(row: &FeederDecision) -> Option<Rule> {
    row.vetoes.iter().find(|rule| {
        !matches!(rule, Rule::NoLockout | Rule::FallbackBounded)
            && row.clears(*rule) == Clear::Person
    })
}

fn sign(row: &FeederDecision, asked: bool) -> Sign {
    let vetoes = row.vetoes;
    if !row.enabled {
        return Sign::NotInUse;
    }
    if row.run.0 > 0 {
        return Sign::Permitted;
    }
    if vetoes.has(Rule::NoLockout) || entering(row).is_some() {
        return Sign::Locked;
    }
    if vetoes.has(Rule::PowerOnDelay) {
        return Sign::PowerDelay;
    }
    if vetoes.has(Rule::FlowProven) {
        return match row.clears(Rule::FlowProven) {
            Clear::FlowThen(_) => Sign::NoFlow,
            _ => Sign::Unsettled,
        };
    }
    if vetoes.has(Rule::ProbeSettled) {
        return Sign::Unsettled;
    }
    if row.stage == CycleStage::Closing || row.closed.is_some() {
        return Sign::Ending;
    }
    let others = vetoes
        .without(Rule::ChargeDurable)
        .without(Rule::SpreadHold);
    let shown = vetoes.bits() & SHOWN_UNASKED.bits() != 0;
    if shown || asked && !others.is_empty() {
        Sign::Vetoed
    } else if vetoes.has(Rule::SpreadHold) {
        Sign::HoldRuns
    } else if asked {
        Sign::Vetoed
    } else {
        Sign::Quiet
    }
}

/// The refusal to show.
fn first(row: &FeederDecision, asked: bool) -> Rule {
    let shown = |rule: &Rule| row.vetoes.has(*rule) && (asked || SHOWN_UNASKED.has(*rule));
    FIRST
        .iter()
        .copied()
        .find(shown)
        .or_else(|| row.vetoes.iter().next())
        .unwrap_or(Rule::ChargeDurable)
}

#[cfg(test)]
mod tests;
