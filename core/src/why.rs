//! Why a feeder does not feed: what stands in the way, what clears each, and where a person looks
//! first. As data: words for a display are beside it, but nothing has to use them.

use crate::ask::{Ask, Held, blocking};
use crate::guard::units::Millis;
use crate::guard::{Clear, FeederDecision, Lockout, LockoutSet, Rule, RuleSet};
use crate::look::{Look, look_at, look_at_lockout};

/// One thing in the way.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Obstacle {
    /// The site does not use the feeder.
    Disabled,
    /// Nothing is asked for: the regulator sees no need, or does not know the water.
    NotAsked,
    /// An incompatible product has the turn: it is asked for, and nothing but the turn would refuse it, or its cycle stands.
    OtherHasTurn,
    /// The circulation pump stops in this time, and a dose would not be followed by a purge.
    PumpStops(Millis),
    /// The output of the drive or of the series contact has failed.
    OutputFault,
    /// A lockout stands: its cause has to be gone, and a person has to release it.
    Lockout(Lockout),
    /// A rule refuses; what clears it.
    Rule(Rule, Clear),
    /// A dose by hand spreads for this much flowing time yet.
    HandDose(Millis),
    /// With doses by hand the day's cap is used up. The latest of them counts for this long.
    HandDay(Millis),
    /// The pool was given to another board, and a technician has not taken it back.
    GivenAway,
    /// By several doses, water answers this feeder the wrong way: its drum may hold another product, or
    /// the probe be wrong. A person puts it right and enters what was done
    /// ([`response`](crate::response)).
    WrongWay,
    /// By several doses, water does not answer this feeder: in its drum may be hypochlorite, so it waits until chlorine
    /// is wanted. Or nothing is proven of what came after such a product, and the water is past the cut-off of chlorine.
    Unanswered,
}

impl Obstacle {
    /// What clears it.
    #[must_use]
    pub const fn clears(&self) -> Clear {
        match self {
            Self::Disabled
            | Self::OutputFault
            | Self::Lockout(_)
            | Self::GivenAway
            | Self::WrongWay => Clear::Person,
            Self::Unanswered => Clear::WaterInside,
            Self::NotAsked => Clear::Charge,
            Self::OtherHasTurn => Clear::TurnPasses,
            Self::PumpStops(_) => Clear::FlowThen(Millis(0)),
            Self::HandDose(left) => Clear::AfterFlow(*left),
            Self::HandDay(left) => Clear::After(*left),
            Self::Rule(_, clear) => *clear,
        }
    }

    /// Where a person looks first, in this order. Empty where there is nothing to look at.
    #[must_use]
    pub const fn look_at(&self) -> &'static [Look] {
        match self {
            Self::Disabled => &[Look::Settings],
            Self::NotAsked | Self::OtherHasTurn | Self::HandDose(_) | Self::HandDay(_) => &[],
            Self::PumpStops(_) => &[Look::Timetable],
            Self::OutputFault => &[Look::Wiring],
            Self::GivenAway => &[Look::Events],
            Self::WrongWay => &[Look::Drum, Look::Probe, Look::Calibration],
            Self::Unanswered => &[Look::Drum, Look::Tube, Look::Probe],
            Self::Lockout(lockout) => look_at_lockout(*lockout),
            Self::Rule(rule, _) => look_at(*rule),
        }
    }
}

/// What stands in the way of one feeder, the gravest first. Made by
/// [`Controller::why`](crate::Controller::why); allocates nothing.
#[derive(Clone, Debug)]
pub struct Why<'a> {
    row: Option<&'a FeederDecision>,
    own: [Option<Obstacle>; 2],
    /// The other product has the turn, and rules refuse this one besides: said after them.
    turn_last: bool,
    lockouts: LockoutSet,
    /// Of the rules that are left, those that wait for a person: they come first.
    person: RuleSet,
    /// The others, which pass by themselves.
    rules: RuleSet,
}

impl<'a> Why<'a> {
    /// One thing or nothing, and no rule.
    const fn only(own: Option<Obstacle>) -> Self {
        Self {
            row: None,
            own: [own, None],
            turn_last: false,
            lockouts: LockoutSet::NONE,
            person: RuleSet::NONE,
            rules: RuleSet::NONE,
        }
    }

    pub(crate) fn of(
        row: &'a FeederDecision,
        ask: Option<&Ask>,
        other_asks: bool,
        lockouts: LockoutSet,
    ) -> Self {
        if !row.enabled {
            return Self::only(Some(Obstacle::Disabled));
        }
        if row.run.0 > 0 {
            return Self::only(None);
        }
        let wants = ask.is_some_and(Ask::wants);
        let held = match ask.and_then(|ask| ask.held) {
            Some(Held::PumpStops(stop)) => Some(Obstacle::PumpStops(stop)),
            Some(Held::Output) => Some(Obstacle::OutputFault),
            Some(Held::HandDose(left)) => Some(Obstacle::HandDose(left)),
            Some(Held::HandDay(left)) => Some(Obstacle::HandDay(left)),
            Some(Held::GivenAway) => Some(Obstacle::GivenAway),
            Some(Held::WrongWay) => Some(Obstacle::WrongWay),
            Some(Held::Unanswered) => Some(Obstacle::Unanswered),
            // Where a person is waited for, turns say nothing.
            None if wants && other_asks && !waits_for_person(row) => Some(Obstacle::OtherHasTurn),
            None => None,
        };
        let asked = if wants {
            None
        } else {
            Some(Obstacle::NotAsked)
        };
        let mut rules = row.vetoes;
        if !lockouts.is_empty() {
            // Named one by one.
            rules = rules.without(Rule::NoLockout);
        }
        if row.clears(Rule::ChargeDurable) == Clear::Charge
            && (!wants || !rules.is_only(Rule::ChargeDurable))
        {
            // A charge comes by itself once nothing else is in the way.
            rules = rules.without(Rule::ChargeDurable);
        }
        // Of a turn the rule says more: for how long.
        let told = held == Some(Obstacle::OtherHasTurn) && rules.has(Rule::OneAtATime);
        let mut person = RuleSet::NONE;
        for rule in rules.iter() {
            if row.clears(rule) == Clear::Person {
                person = person.with(rule);
                rules = rules.without(rule);
            }
        }
        // What would refuse it with the turn as well is graver than the turn.
        let turn_last =
            held == Some(Obstacle::OtherHasTurn) && !told && !blocking(row.vetoes).is_empty();
        Self {
            row: Some(row),
            own: [held.filter(|_| !told && !turn_last), asked],
            turn_last,
            lockouts,
            person,
            rules,
        }
    }
}

fn waits_for_person(row: &FeederDecision) -> bool {
    let mut rules = row.vetoes.iter();
    rules.any(|rule| row.clears(rule) == Clear::Person)
}

impl Why<'_> {
    /// The rules among what is left, all at once.
    #[must_use]
    pub fn rules(&self) -> RuleSet {
        self.person.union(self.rules)
    }
}

impl Iterator for Why<'_> {
    type Item = Obstacle;

    fn next(&mut self) -> Option<Obstacle> {
        let lockout = self.lockouts.iter().next();
        if let Some(lockout) = lockout {
            self.lockouts = self.lockouts.without(lockout);
            return Some(Obstacle::Lockout(lockout));
        }
        if let Some(own) = self.own.iter_mut().find_map(Option::take) {
            return Some(own);
        }
        let row = self.row?;
        let rule = self.person.iter().next();
        let Some(rule) = rule.or_else(|| self.rules.iter().next()) else {
            return core::mem::take(&mut self.turn_last).then_some(Obstacle::OtherHasTurn);
        };
        self.person = self.person.without(rule);
        self.rules = self.rules.without(rule);
        Some(Obstacle::Rule(rule, row.clears(rule)))
    }
}
