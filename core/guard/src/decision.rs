//! What the guard decided in one tick, as data.

use crate::answer::{Clear, PackedClear};
use crate::request::{ActionResult, Mode};
use crate::rules::{Rule, RuleSet};
use crate::state::CycleStage;
use crate::units::{Body, Dose, Millis};

/// Things that a person should know and that stop nothing by themselves.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Notices(u8);

impl Notices {
    /// None.
    pub const NONE: Self = Self(0);
    /// A record was not confirmed in `save_max`.
    pub const SAVE_OVERDUE: Self = Self(1);
    /// The pump runs and no flow is seen.
    pub const PUMP_WITHOUT_FLOW: Self = Self(1 << 1);
    /// Water does not answer; only probing cycles are allowed.
    pub const NO_ANSWER: Self = Self(1 << 2);
    /// Fallback ends soon.
    pub const FALLBACK_ENDS: Self = Self(1 << 3);
    /// A drive runs against its command.
    pub const RUNS_AGAINST: Self = Self(1 << 4);
    /// The oxidiser is fed at its reduced share: pH is high.
    pub const WEAK_CHLORINE: Self = Self(1 << 5);

    /// Both together.
    #[must_use]
    pub const fn with(self, other: Self) -> Self {
        Self(self.0 | other.0)
    }

    /// Whether any of `other` stands.
    #[must_use]
    pub const fn any_of(self, other: Self) -> bool {
        self.0 & other.0 != 0
    }

    /// As bits, in the order of the constants above.
    #[must_use]
    pub const fn bits(self) -> u8 {
        self.0
    }
}

/// A cycle that was booked in this tick.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Closed {
    /// What counts as fed, rounded up.
    pub fed: Dose,
    /// What had been charged.
    pub charged: Dose,
    /// It used its whole charge.
    pub full: bool,
    /// Body that it went to.
    pub body: Body,
    /// Why it was asked for.
    pub mode: Mode,
}

/// What was decided for one feeder.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct FeederDecision {
    /// The site uses it. If not, it is never asked and never runs.
    pub enabled: bool,
    /// Longest run permitted from now; 0: none.
    pub run: Millis,
    /// Rules that refuse.
    pub vetoes: RuleSet,
    /// Where its cycle stands after this tick.
    pub stage: CycleStage,
    /// What the cycle has charged.
    pub charged: Dose,
    /// A cycle that was booked in this tick.
    pub closed: Option<Closed>,
    pub(crate) clears: [PackedClear; Rule::COUNT],
}

impl FeederDecision {
    /// Not in use.
    pub const DISABLED: Self = Self {
        enabled: false,
        run: Millis(0),
        vetoes: RuleSet::NONE,
        stage: CycleStage::Idle,
        charged: Dose(0),
        closed: None,
        clears: [PackedClear::NOTHING; Rule::COUNT],
    };

    /// What clears the refusal of a rule; [`Clear::Nothing`] if it does not refuse.
    #[must_use]
    pub fn clears(&self, rule: Rule) -> Clear {
        self.clears
            .get(rule.index())
            .map_or(Clear::Nothing, |packed| packed.unpack())
    }
}

/// What was decided in one tick.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Decision<const N: usize> {
    /// For each feeder.
    pub feeders: [FeederDecision; N],
    /// The series contact that cuts all feeders may be closed.
    pub master: bool,
    /// A record has to be saved: seal it, write it, read it back, report it.
    pub save: bool,
    /// What has to be saved changed in this tick.
    pub changed: bool,
    /// What a person should know.
    pub notices: Notices,
    /// What became of the action, if there was one.
    pub action: Option<ActionResult>,
}

impl<const N: usize> Decision<N> {
    /// Before the first tick: nothing runs.
    pub const NOTHING: Self = Self {
        feeders: [FeederDecision::DISABLED; N],
        master: false,
        save: false,
        changed: false,
        notices: Notices::NONE,
        action: None,
    };

    /// Back to [`Decision::NOTHING`], in place: it is large beside a small controller's stack, and
    /// most of it is zeros.
    pub(crate) fn clear(&mut self) {
        for row in &mut self.feeders {
            row.clears.fill(PackedClear::NOTHING);
            row.enabled = false;
            row.run = Millis(0);
            row.vetoes = RuleSet::NONE;
            row.stage = CycleStage::Idle;
            row.charged = Dose(0);
            row.closed = None;
        }
        self.master = false;
        self.save = false;
        self.changed = false;
        self.notices = Notices::NONE;
        self.action = None;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::answer::Clear;

    #[test]
    fn cleared_is_nothing() {
        let row = FeederDecision {
            enabled: true,
            run: Millis(1),
            vetoes: RuleSet::NONE.with(Rule::WindowOpen),
            stage: CycleStage::Open,
            charged: Dose(2),
            closed: Some(Closed {
                fed: Dose(3),
                charged: Dose(4),
                full: true,
                body: Body(1),
                mode: Mode::Manual,
            }),
            clears: [PackedClear::pack(Clear::Refill); Rule::COUNT],
        };
        let mut decision = Decision {
            feeders: [row; 2],
            master: true,
            save: true,
            changed: true,
            notices: Notices::SAVE_OVERDUE,
            action: Some(ActionResult::Done),
        };
        decision.clear();
        assert_eq!(decision, Decision::NOTHING);
    }

    #[test]
    fn each_notice_has_a_bit_of_its_own() {
        let notices = [
            Notices::SAVE_OVERDUE,
            Notices::PUMP_WITHOUT_FLOW,
            Notices::NO_ANSWER,
            Notices::FALLBACK_ENDS,
            Notices::RUNS_AGAINST,
            Notices::WEAK_CHLORINE,
        ];
        for (bit, notice) in notices.into_iter().enumerate() {
            assert_eq!(notice.bits(), 1 << bit);
        }
    }
}
