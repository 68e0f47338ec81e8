//! The rules. Each only takes away; the grant is the smallest answer. One file a rule: hazard,
//! statement, source, what clears it, one pure function whose signature shows all that it reads.

mod body_known;
mod charge_durable;
mod clock_sane;
mod context;
mod cycle_cap;
mod day_cap;
mod drive_obeys;
mod fallback_bounded;
mod falling;
mod flow_proven;
mod hour_cap;
mod inhibits_clear;
mod inside_cutoff;
mod ledger_trusted;
mod limits_sealed;
mod line_clear;
mod manual_bounded;
mod no_lockout;
mod one_at_a_time;
mod power_on_delay;
mod probe_settled;
mod probe_trusted;
mod response_sane;
mod rolling;
mod run_time_cap;
mod spread_hold;
mod state_sealed;
mod stock_present;
mod table;
mod window_open;
mod witnesses_agree;

pub(crate) use context::{Context, line_fouled};
pub(crate) use table::{Answers, judge};

/// A rule, named by what must hold for a feeder to run. Numbers are stable.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
#[repr(u8)]
pub enum Rule {
    /// Ticks come in time.
    ClockSane = 0,
    /// The state is what the guard left.
    StateSealed = 1,
    /// The limits are those that were set.
    LimitsSealed = 2,
    /// Probes and water have had time since power-on.
    PowerOnDelay = 3,
    /// Water flows, by every witness, and has for a while.
    FlowProven = 4,
    /// The flow witnesses and the pump contact do not contradict each other.
    WitnessesAgree = 5,
    /// The probe sees water of the pool, not of the pipe.
    ProbeSettled = 6,
    /// The probe that governs the feeder can be believed.
    ProbeTrusted = 7,
    /// The water is not past the product's cut-off.
    InsideCutoff = 8,
    /// It is known which body the product goes to.
    BodyKnown = 9,
    /// The cycle's dose is not used up.
    CycleCap = 10,
    /// The cycle's drive-on time is not used up.
    RunTimeCap = 11,
    /// The last dose has spread.
    SpreadHold = 12,
    /// The rolling hour is not used up.
    HourCap = 13,
    /// The rolling day is not used up.
    DayCap = 14,
    /// Products that must not meet do not.
    OneAtATime = 15,
    /// Nothing stands in the injection line.
    LineClear = 16,
    /// The water answers as it should.
    ResponseSane = 17,
    /// There is product to feed.
    StockPresent = 18,
    /// The drive does what it was told.
    DriveObeys = 19,
    /// It is known what was fed.
    LedgerTrusted = 20,
    /// A power cut would not forget this dose.
    ChargeDurable = 21,
    /// Nothing waits for a person.
    NoLockout = 22,
    /// Nobody wants the feed stopped.
    InhibitsClear = 23,
    /// It is within the operating hours.
    WindowOpen = 24,
    /// A manual feed stays short and in someone's hand.
    ManualBounded = 25,
    /// Fallback stays small, and ends.
    FallbackBounded = 26,
}

impl Rule {
    /// How many there are.
    pub const COUNT: usize = 27;

    /// All of them, in the order of their numbers.
    pub const ALL: [Self; Self::COUNT] = [
        Self::ClockSane,
        Self::StateSealed,
        Self::LimitsSealed,
        Self::PowerOnDelay,
        Self::FlowProven,
        Self::WitnessesAgree,
        Self::ProbeSettled,
        Self::ProbeTrusted,
        Self::InsideCutoff,
        Self::BodyKnown,
        Self::CycleCap,
        Self::RunTimeCap,
        Self::SpreadHold,
        Self::HourCap,
        Self::DayCap,
        Self::OneAtATime,
        Self::LineClear,
        Self::ResponseSane,
        Self::StockPresent,
        Self::DriveObeys,
        Self::LedgerTrusted,
        Self::ChargeDurable,
        Self::NoLockout,
        Self::InhibitsClear,
        Self::WindowOpen,
        Self::ManualBounded,
        Self::FallbackBounded,
    ];

    /// Its name, as in the file, the events and the hazard list.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::ClockSane => "clock_sane",
            Self::StateSealed => "state_sealed",
            Self::LimitsSealed => "limits_sealed",
            Self::PowerOnDelay => "power_on_delay",
            Self::FlowProven => "flow_proven",
            Self::WitnessesAgree => "witnesses_agree",
            Self::ProbeSettled => "probe_settled",
            Self::ProbeTrusted => "probe_trusted",
            Self::InsideCutoff => "inside_cutoff",
            Self::BodyKnown => "body_known",
            Self::CycleCap => "cycle_cap",
            Self::RunTimeCap => "run_time_cap",
            Self::SpreadHold => "spread_hold",
            Self::HourCap => "hour_cap",
            Self::DayCap => "day_cap",
            Self::OneAtATime => "one_at_a_time",
            Self::LineClear => "line_clear",
            Self::ResponseSane => "response_sane",
            Self::StockPresent => "stock_present",
            Self::DriveObeys => "drive_obeys",
            Self::LedgerTrusted => "ledger_trusted",
            Self::ChargeDurable => "charge_durable",
            Self::NoLockout => "no_lockout",
            Self::InhibitsClear => "inhibits_clear",
            Self::WindowOpen => "window_open",
            Self::ManualBounded => "manual_bounded",
            Self::FallbackBounded => "fallback_bounded",
        }
    }

    /// What must hold, in a few words.
    #[must_use]
    pub const fn holds_that(self) -> &'static str {
        match self {
            Self::ClockSane => "ticks come in time",
            Self::StateSealed => "the state is what the guard left",
            Self::LimitsSealed => "the limits are those that were set",
            Self::PowerOnDelay => "probes and water have had time since power-on",
            Self::FlowProven => "water flows, by every witness, and has for a while",
            Self::WitnessesAgree => {
                "the flow witnesses and the pump contact do not contradict each other"
            }
            Self::ProbeSettled => "the probe sees water of the pool, not of the pipe",
            Self::ProbeTrusted => "the probe that governs the feeder can be believed",
            Self::InsideCutoff => "the water is not past the product's cut-off",
            Self::BodyKnown => "it is known which body the product goes to",
            Self::CycleCap => "the cycle's dose is not used up",
            Self::RunTimeCap => "the cycle's drive-on time is not used up",
            Self::SpreadHold => "the last dose has spread",
            Self::HourCap => "the rolling hour is not used up",
            Self::DayCap => "the rolling day is not used up",
            Self::OneAtATime => "products that must not meet do not",
            Self::LineClear => "nothing stands in the injection line",
            Self::ResponseSane => "the water answers as it should",
            Self::StockPresent => "there is product to feed",
            Self::DriveObeys => "the drive does what it was told",
            Self::LedgerTrusted => "it is known what was fed",
            Self::ChargeDurable => "a power cut would not forget this dose",
            Self::NoLockout => "nothing waits for a person",
            Self::InhibitsClear => "nobody wants the feed stopped",
            Self::WindowOpen => "it is within the operating hours",
            Self::ManualBounded => "a manual feed stays short and in someone's hand",
            Self::FallbackBounded => "fallback stays small, and ends",
        }
    }

    /// Its number.
    #[must_use]
    pub const fn number(self) -> u32 {
        match self {
            Self::ClockSane => 0,
            Self::StateSealed => 1,
            Self::LimitsSealed => 2,
            Self::PowerOnDelay => 3,
            Self::FlowProven => 4,
            Self::WitnessesAgree => 5,
            Self::ProbeSettled => 6,
            Self::ProbeTrusted => 7,
            Self::InsideCutoff => 8,
            Self::BodyKnown => 9,
            Self::CycleCap => 10,
            Self::RunTimeCap => 11,
            Self::SpreadHold => 12,
            Self::HourCap => 13,
            Self::DayCap => 14,
            Self::OneAtATime => 15,
            Self::LineClear => 16,
            Self::ResponseSane => 17,
            Self::StockPresent => 18,
            Self::DriveObeys => 19,
            Self::LedgerTrusted => 20,
            Self::ChargeDurable => 21,
            Self::NoLockout => 22,
            Self::InhibitsClear => 23,
            Self::WindowOpen => 24,
            Self::ManualBounded => 25,
            Self::FallbackBounded => 26,
        }
    }

    /// Its number as an index.
    #[must_use]
    pub fn index(self) -> usize {
        usize::try_from(self.number()).unwrap_or(0)
    }
}

/// A set of rules.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct RuleSet(u32);

impl RuleSet {
    /// No rule.
    pub const NONE: Self = Self(0);
    /// Every rule.
    pub const ALL: Self = Self(0x07FF_FFFF);

    /// With one more rule.
    #[must_use]
    pub const fn with(self, rule: Rule) -> Self {
        Self(self.0 | bit(rule))
    }

    /// Without a rule.
    #[must_use]
    pub const fn without(self, rule: Rule) -> Self {
        Self(self.0 & !bit(rule))
    }

    /// Both together.
    #[must_use]
    pub const fn union(self, other: Self) -> Self {
        Self(self.0 | other.0)
    }

    /// Whether a rule is in it.
    #[must_use]
    pub const fn has(self, rule: Rule) -> bool {
        self.0 & bit(rule) != 0
    }

    /// Whether it is empty.
    #[must_use]
    pub const fn is_empty(self) -> bool {
        self.0 == 0
    }

    /// Whether this rule, and no other, is in it.
    #[must_use]
    pub const fn is_only(self, rule: Rule) -> bool {
        self.0 == bit(rule)
    }

    /// As bits, by the numbers of [`Rule`].
    #[must_use]
    pub const fn bits(self) -> u32 {
        self.0
    }

    /// Its rules, in the order of their numbers.
    pub fn iter(self) -> impl Iterator<Item = Rule> {
        let mut left = self.0;
        core::iter::from_fn(move || {
            let lowest = usize::try_from(left.trailing_zeros()).ok()?;
            left &= left.wrapping_sub(1);
            Rule::ALL.get(lowest).copied()
        })
    }
}

const fn bit(rule: Rule) -> u32 {
    1_u32.wrapping_shl(rule.number())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_names_and_sets_agree() {
        let mut all = RuleSet::NONE;
        for (number, rule) in Rule::ALL.into_iter().enumerate() {
            assert_eq!(rule.index(), number);
            assert!(!all.has(rule) && RuleSet::NONE.with(rule).is_only(rule));
            all = all.with(rule);
        }
        assert_eq!(all.iter().count(), Rule::COUNT);
        assert_eq!(all.bits(), (1 << Rule::COUNT) - 1);
        assert_eq!(all, RuleSet::ALL);
    }
}
