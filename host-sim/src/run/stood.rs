//! Time in which something stood: a phase of a feeder, a state of an alarm.

use dosewarden::Phase;
use dosewarden::guard::Rule;
use serde::Serialize;

use super::spans::Spans;

/// How long something stood, how often it came, and when.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Stood {
    /// ms in which it stood.
    pub ms: u64,
    /// How often it came.
    pub times: u32,
    /// The longest time without a break, ms.
    pub longest_ms: u64,
    /// When it stood.
    pub spans: Spans,
    /// The stretch that was added to last.
    last: (u64, u64),
}

impl Stood {
    /// It stood from one moment to another, which does not lie before what was added last.
    #[inline]
    pub fn add(&mut self, from_ms: u64, to_ms: u64) {
        if self.times == 0 || from_ms != self.last.1 {
            self.times += 1;
            self.last.0 = from_ms;
        }
        self.last.1 = to_ms;
        self.ms += to_ms - from_ms;
        self.longest_ms = self.longest_ms.max(to_ms - self.last.0);
        self.spans.add(from_ms, to_ms);
    }
}

/// The names of a feeder's phases, in the order in which they are shown: from what nobody has to mind to what a
/// person has to clear.
pub const PHASES: [&str; 9] = [
    Phase::Disabled.name(),
    Phase::NotAsked.name(),
    Phase::Feeding.name(),
    Phase::Spreading.name(),
    Phase::Starting.name(),
    Phase::Settling.name(),
    Phase::AwaitingFlow.name(),
    Phase::Refused(Rule::NoLockout).name(),
    Phase::LockedOut(Rule::NoLockout).name(),
];

/// Where a phase stands in [`PHASES`].
pub(super) const fn phase_at(phase: Phase) -> usize {
    match phase {
        Phase::Disabled => 0,
        Phase::NotAsked => 1,
        Phase::Feeding => 2,
        Phase::Spreading => 3,
        Phase::Starting => 4,
        Phase::Settling => 5,
        Phase::AwaitingFlow => 6,
        Phase::Refused(_) => 7,
        Phase::LockedOut(_) => 8,
    }
}

/// How long a phase of a feeder or a state of an alarm stood.
#[derive(Clone, Debug, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct StoodSummary {
    /// Its name.
    pub name: &'static str,
    /// How often it came.
    pub times: u32,
    /// For how long it stood in all.
    pub seconds: u64,
    /// For how long at most without a break.
    pub longest_seconds: u64,
}

/// What came of `all`, by the names that go with them.
pub(super) fn stood(names: &[&'static str], all: &[Stood]) -> Vec<StoodSummary> {
    let came = names.iter().zip(all).filter(|(_, one)| one.times > 0);
    came.map(|(name, one)| StoodSummary {
        name,
        times: one.times,
        seconds: one.ms / 1000,
        longest_seconds: one.longest_ms / 1000,
    })
    .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_phase_is_found_under_its_name() {
        let rule = Rule::DayCap;
        for phase in [
            Phase::Disabled,
            Phase::NotAsked,
            Phase::Feeding,
            Phase::Spreading,
            Phase::Starting,
            Phase::Settling,
            Phase::AwaitingFlow,
            Phase::Refused(rule),
            Phase::LockedOut(rule),
        ] {
            assert_eq!(PHASES[phase_at(phase)], phase.name());
        }
    }

    #[test]
    fn a_break_begins_it_anew() {
        let mut stood = Stood::default();
        for (from, to) in [(0, 1_000), (1_000, 3_000), (5_000, 6_000), (9_000, 10_500)] {
            stood.add(from, to);
        }
        assert_eq!((stood.ms, stood.times, stood.longest_ms), (5_500, 3, 3_000));
        assert_eq!(
            stood.spans.all(),
            [(0, 3_000), (5_000, 6_000), (9_000, 10_500)]
        );
    }
}
