//! Tests of water age: what a person measured is worth less every day. Alkalinity runs down as acid
//! holds the pH, salt and cyanurate as water is lost and replaced. Caps are built at the lowest
//! value that is to be expected before the next test, and an overdue test is an alarm.
//!
//! ```
//! use dosewarden::probe::{Age, MicrogramsPerL};
//! use dosewarden::water_tests::{TestedValue, WaterTest};
//!
//! let rule = TestedValue::Alkalinity.usual();
//! let mut test = WaterTest::new(MicrogramsPerL::from_mg_l(100));
//! assert_eq!(test.lowest_before_next(&rule), MicrogramsPerL::from_mg_l(10)); // 30 days at 3 a day
//! test.age = Age::from_days(10);
//! assert_eq!(test.expected_now(&rule), MicrogramsPerL::from_mg_l(70));
//! assert_eq!(test.due_in_days(&rule), 20);
//! assert!(!test.is_overdue(&rule));
//! ```

use crate::guard::units::Millis;
use crate::probe::{Age, MicrogramsPerL};
use crate::settings::{SettingsError, of_u16, ranged};

/// What a test finds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
pub enum TestedValue {
    /// Total alkalinity, as calcium carbonate.
    Alkalinity,
    /// Cyanuric acid.
    Cyanurate,
    /// Salt.
    Salt,
    /// Borate, as boron.
    Borate,
}

/// A set of them; 1 byte.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(transparent))]
pub struct TestedSet(u8);

impl TestedSet {
    /// None.
    pub const NONE: Self = Self(0);

    /// With one more.
    #[must_use]
    pub const fn with(self, value: TestedValue) -> Self {
        Self(self.0 | 1 << value.index())
    }

    /// Whether it is among them.
    #[must_use]
    pub const fn has(self, value: TestedValue) -> bool {
        self.0 & 1 << value.index() != 0
    }

    /// Whether there is none.
    #[must_use]
    pub const fn is_empty(self) -> bool {
        self.0 == 0
    }

    /// Whether one of them is part of what buffers the pH: all but salt.
    #[must_use]
    pub const fn is_of_buffer(self) -> bool {
        self.has(TestedValue::Alkalinity)
            || self.has(TestedValue::Cyanurate)
            || self.has(TestedValue::Borate)
    }
}

/// How one value is expected to fall, and how often it is tested.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub struct TestRule {
    /// How much it falls in a day at most, micrograms a litre.
    pub falls_per_day: MicrogramsPerL,
    /// Days from one test to the next, 1 to 366.
    pub every_days: u16,
}

impl TestRule {
    /// Looks at it: a test every 1 to 366 days.
    ///
    /// # Errors
    /// If `every_days` is out of range.
    pub const fn try_new(self) -> Result<Self, SettingsError> {
        match ranged("every_days", of_u16(self.every_days), 1, 366) {
            Ok(()) => Ok(self),
            Err(error) => Err(error),
        }
    }
}

impl TestedValue {
    /// All of them.
    pub const ALL: [Self; 4] = [Self::Alkalinity, Self::Cyanurate, Self::Salt, Self::Borate];

    /// The most that is taken for true, mg/L: a slip of the finger is more. Our choice: twice what
    /// anyone would still run a pool with; a pool of sea water has 35,000 of salt.
    #[must_use]
    pub const fn most(self) -> MicrogramsPerL {
        MicrogramsPerL::from_mg_l(match self {
            Self::Alkalinity => 500,
            Self::Cyanurate => 300,
            Self::Salt => 70_000,
            Self::Borate => 100,
        })
    }

    /// The rules of a site that has none of its own, in the order of [`TestedValue::ALL`].
    pub const USUAL: [TestRule; 4] = [
        Self::Alkalinity.usual(),
        Self::Cyanurate.usual(),
        Self::Salt.usual(),
        Self::Borate.usual(),
    ];

    const fn index(self) -> usize {
        match self {
            Self::Alkalinity => 0,
            Self::Cyanurate => 1,
            Self::Salt => 2,
            Self::Borate => 3,
        }
    }

    /// A rule where a site has none of its own. Alkalinity falls by 3 mg/L a day where acid holds
    /// the pH of an aerated pool (common practice, no source); the others only as fast as water is
    /// replaced, taken as 1 % a day of 50, 4000 and 50 mg/L. Every 30 days alkalinity and salt,
    /// every 60 the others: our choice.
    #[must_use]
    pub const fn usual(self) -> TestRule {
        let (falls_per_day, every_days) = match self {
            Self::Alkalinity => (3000, 30),
            Self::Cyanurate | Self::Borate => (500, 60),
            Self::Salt => (40_000, 30),
        };
        TestRule {
            falls_per_day: MicrogramsPerL(falls_per_day),
            every_days,
        }
    }
}

/// A value that a person found, and how long ago.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct WaterTest {
    /// What was found.
    pub found: MicrogramsPerL,
    /// How long ago.
    pub age: Age,
}

impl WaterTest {
    /// Found now.
    #[must_use]
    pub const fn new(found: MicrogramsPerL) -> Self {
        Self {
            found,
            age: Age::NEW,
        }
    }

    /// The lowest that it may be by now. Days are rounded up.
    #[must_use]
    pub const fn expected_now(&self, rule: &TestRule) -> MicrogramsPerL {
        self.after_days(rule, self.age.days_ceil())
    }

    /// The lowest to be expected before the next test is due; once that is overdue, the lowest that
    /// it may be by now.
    #[must_use]
    pub const fn lowest_before_next(&self, rule: &TestRule) -> MicrogramsPerL {
        let days = self.age.days_ceil();
        let until = if days > rule.every_days {
            days
        } else {
            rule.every_days
        };
        self.after_days(rule, until)
    }

    const fn after_days(&self, rule: &TestRule, days: u16) -> MicrogramsPerL {
        let [low, high] = days.to_le_bytes();
        let days = u32::from_le_bytes([low, high, 0, 0]);
        let fallen = rule.falls_per_day.0.saturating_mul(days);
        MicrogramsPerL(self.found.0.saturating_sub(fallen))
    }

    /// Whether the next test should have been made: caps then are too large for the water.
    #[must_use]
    pub const fn is_overdue(&self, rule: &TestRule) -> bool {
        self.age.is_over_days(rule.every_days)
    }

    /// Whole days until the next test; 0 is today or overdue.
    #[must_use]
    pub const fn due_in_days(&self, rule: &TestRule) -> u16 {
        rule.every_days.saturating_sub(self.age.days_ceil())
    }
}

/// No water has so much of it: what was entered, and the most that is taken.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct TestRange {
    /// What was entered.
    pub found: MicrogramsPerL,
    /// The most that is taken.
    pub max: MicrogramsPerL,
}

impl core::fmt::Display for TestRange {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        write!(f, "{} was entered; right is up to {}", self.found, self.max)
    }
}

impl core::error::Error for TestRange {}

/// The last test of each value.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct WaterTests {
    last: [Option<WaterTest>; 4],
}

impl Default for WaterTests {
    fn default() -> Self {
        Self::NONE
    }
}

impl WaterTests {
    /// Nobody has tested yet.
    pub const NONE: Self = Self { last: [None; 4] };

    /// A person has found this, now.
    ///
    /// # Errors
    /// If it is more than any water has; the last test stands then.
    pub fn enter(&mut self, value: TestedValue, found: MicrogramsPerL) -> Result<(), TestRange> {
        let max = value.most();
        if found > max {
            return Err(TestRange { found, max });
        }
        if let Some(last) = self.last.get_mut(value.index()) {
            *last = Some(WaterTest::new(found));
        }
        Ok(())
    }

    /// The last test of a value; `None`: never tested.
    #[must_use]
    pub fn of(&self, value: TestedValue) -> Option<&WaterTest> {
        self.last.get(value.index())?.as_ref()
    }

    /// The first value that was tested once and is overdue, by these rules.
    pub fn overdue(&self, rule: impl Fn(TestedValue) -> TestRule) -> Option<TestedValue> {
        let overdue = |value: &TestedValue| {
            self.of(*value)
                .is_some_and(|test| test.is_overdue(&rule(*value)))
        };
        TestedValue::ALL.into_iter().find(overdue)
    }

    /// All of those.
    #[must_use]
    pub fn all_overdue(&self, rule: impl Fn(TestedValue) -> TestRule) -> TestedSet {
        let overdue = TestedValue::ALL.into_iter().filter(|value| {
            self.of(*value)
                .is_some_and(|test| test.is_overdue(&rule(*value)))
        });
        overdue.fold(TestedSet::NONE, TestedSet::with)
    }

    /// Their ages, hours; 0 where there is none.
    #[cfg(feature = "store")]
    pub(crate) fn hours(&self) -> [u16; 4] {
        self.last
            .map(|test| test.map_or(0, |test| test.age.hours()))
    }

    /// As if all were made now.
    #[cfg(feature = "store")]
    pub(crate) fn ageless(mut self) -> Self {
        for test in self.last.iter_mut().flatten() {
            test.age = Age::NEW;
        }
        self
    }

    /// More time passes with power on.
    pub fn pass(&mut self, elapsed: Millis) {
        for test in self.last.iter_mut().flatten() {
            test.age.pass(elapsed);
        }
    }

    /// The power was off; `None`: for nobody knows how long.
    pub fn pass_off(&mut self, hours: Option<u16>) {
        for test in self.last.iter_mut().flatten() {
            test.age.pass_off(hours);
        }
    }
}

#[cfg(test)]
mod tests;
