//! A test under way.

use super::interlock::{Interlock, ProofSettings};
use super::record::{Proof, Proofs};
use crate::guard::units::{Fitted, Millis};
use crate::guard::{
    Authority, Decision, Facts, FeederDecision, Inhibits, Limits, Lockout, LockoutSet, Rule,
};

/// How long a test waits for each step. Our choice: a feeder's hold may have to pass first.
pub const GIVES_UP: Millis = Millis::from_hours(1);

/// What a person does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum ProofAct {
    /// Begins the test of an interlock.
    Start(Interlock),
    /// Does now what [`Interlock::step`] says: the time runs from here.
    Done,
    /// Has seen whether the feeder stood still. For the series contact only, whose work no fact
    /// shows.
    StoodStill(bool),
    /// Leaves the test; the record stays as it was.
    GiveUp,
}

/// What the test waits for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
pub enum ProofStep {
    /// That things are as [`Interlock::prepare`] says.
    Prepare,
    /// That a person does what [`Interlock::step`] says, and says so.
    Trip,
    /// That feed stops.
    Stops,
}

/// How a test ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
pub enum ProofEnd {
    /// It stopped feed.
    Passed {
        /// In this time, ms.
        took_ms: u16,
        /// A feeder had a permit when it began; else its rule was seen to refuse.
        fed: bool,
    },
    /// It failed: the interlock gave no sign in time.
    NoSign,
    /// It failed: the interlock was seen, and feed went on.
    FedOn,
    /// A person left it, or nothing was done for [`GIVES_UP`]. The record stays as it was.
    GivenUp,
}

/// Why an act was not done. Nothing has changed then.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum ProofRefused {
    /// It needs at least this authority.
    NeedsAuthority(Authority),
    /// The site has no such interlock.
    NotFitted(Interlock),
    /// This one is being tested: one at a time.
    UnderWay(Interlock),
    /// No test is under way.
    NoTest,
    /// The test waits for something else.
    WaitsFor(ProofStep),
}

impl core::fmt::Display for ProofRefused {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            Self::NeedsAuthority(needed) => write!(f, "needs the authority of {needed:?}"),
            Self::NotFitted(one) => write!(f, "the site has no {}", one.name()),
            Self::UnderWay(one) => write!(f, "the {} is being tested: one at a time", one.name()),
            Self::NoTest => f.write_str("no proof test is under way"),
            Self::WaitsFor(step) => write!(f, "the test waits for something else: {step:?}"),
        }
    }
}

impl core::error::Error for ProofRefused {}

/// A test under way. Not kept: a restart gives it up.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct ProofRun {
    interlock: Interlock,
    step: ProofStep,
    /// Time in this step.
    waited: Millis,
    fed: bool,
    seen: bool,
}

/// What a test looks at.
pub(crate) struct Sight<'a, const N: usize, const B: usize> {
    pub(crate) limits: &'a Limits<N, B>,
    pub(crate) facts: &'a Facts<N>,
    pub(crate) decision: &'a Decision<N>,
    pub(crate) lockouts: LockoutSet,
    pub(crate) feeder_lockouts: &'a [LockoutSet; N],
}

impl<const N: usize, const B: usize> Sight<'_, N, B> {
    /// Whether the interlock lets feed be, by its own sign. `None`: not known, which is neither.
    fn sign(&self, one: Interlock) -> Option<bool> {
        let (site, facts) = (self.limits.spec(), self.facts);
        let age_max = site.witness_age_max;
        let feeder = |at: u8| facts.feeders.get(usize::from(at));
        match one {
            Interlock::FlowSwitch => facts.flow_switch.trusted(age_max),
            Interlock::FlowMeter => match (site.flow_meter, facts.flow_meter.trusted(age_max)) {
                (Fitted::Fitted(least), Some(flow)) => Some(flow >= least),
                _ => None,
            },
            Interlock::PumpContact => facts.pump_run.trusted(age_max),
            Interlock::EmergencyStop => Some(!facts.inhibits.any_of(Inhibits::EMERGENCY_STOP)),
            Interlock::MasterContact => Some(!self.decision.master),
            Interlock::LevelSwitch(at) => feeder(at).and_then(|own| own.stock.trusted(age_max)),
            Interlock::Feedback(at) => {
                let on = feeder(at).and_then(|own| own.feedback.trusted(age_max));
                on.map(|on| on.0 > 0)
            }
            Interlock::CellFlow(at) => feeder(at).and_then(|own| own.cell_flow.trusted(age_max)),
        }
    }

    fn is_well(&self, one: Interlock) -> bool {
        self.sign(one) == Some(true)
    }

    /// Whether it says no. A sample that is late, or a wire that shows nothing, is no proof.
    fn says_no(&self, one: Interlock) -> bool {
        self.sign(one) == Some(false)
    }

    /// The feeders that it has to stop.
    fn rows(&self, one: Interlock) -> impl Iterator<Item = (usize, &FeederDecision)> {
        let all = (0..N).zip(self.decision.feeders.iter());
        all.filter(move |(feeder, row)| {
            let own = one.feeder().is_none_or(|own| usize::from(own) == *feeder);
            own && row.enabled
        })
    }

    fn feeds(&self, one: Interlock) -> bool {
        self.rows(one).any(|(_, row)| row.run.0 > 0)
    }

    /// Whether its rule refuses a feeder.
    fn refuses(&self, one: Interlock, feeder: usize, row: &FeederDecision) -> bool {
        match one {
            Interlock::FlowSwitch
            | Interlock::FlowMeter
            | Interlock::PumpContact
            | Interlock::CellFlow(_) => row.vetoes.has(Rule::FlowProven),
            Interlock::EmergencyStop => self.lockouts.has(Lockout::EmergencyStop),
            Interlock::LevelSwitch(_) => row.vetoes.has(Rule::StockPresent),
            Interlock::Feedback(_) => {
                let own = self.feeder_lockouts.get(feeder);
                let locked = own.is_some_and(|own| own.has(Lockout::Drive));
                locked || row.vetoes.has(Rule::DriveObeys)
            }
            Interlock::MasterContact => false,
        }
    }

    /// Whether its rule refuses every feeder that it has to stop, and no drive is seen running.
    fn has_stopped(&self, one: Interlock) -> bool {
        let stopped = |(feeder, row): (usize, &FeederDecision)| {
            row.run.0 == 0 && self.refuses(one, feeder, row) && self.stands_still(feeder)
        };
        self.rows(one).all(stopped)
    }

    /// Whether a test can show anything: nothing but the interlock may be what refuses then.
    fn may_begin(&self, one: Interlock) -> bool {
        let refused = |(feeder, row): (usize, &FeederDecision)| self.refuses(one, feeder, row);
        let feeds = !one.needs_feed() || self.feeds(one);
        self.is_well(one) && feeds && !self.rows(one).any(refused)
    }

    /// A feed that the test needs is over by itself: there is nothing more to be seen.
    fn is_over(&self, one: Interlock) -> bool {
        let refused = |(feeder, row): (usize, &FeederDecision)| self.refuses(one, feeder, row);
        one.needs_feed() && !self.feeds(one) && !self.rows(one).any(refused)
    }

    /// Where a drive has feedback, that has to say so.
    fn stands_still(&self, feeder: usize) -> bool {
        let spec = self.limits.feeder(feeder);
        if !spec.is_some_and(|spec| spec.feedback.is_fitted()) {
            return true;
        }
        let own = self.facts.feeders.get(feeder);
        let age_max = self.limits.spec().witness_age_max;
        own.and_then(|own| own.feedback.trusted(age_max)) == Some(Millis(0))
    }

    /// The longest time that feed may take to stop.
    fn stops_within_ms(&self, one: Interlock) -> u32 {
        let own = match one {
            Interlock::Feedback(at) => self.limits.feeder(usize::from(at)),
            _ => None,
        };
        let follows = own.and_then(|own| own.feedback.get());
        let more = follows.unwrap_or(Millis(0)).0;
        more.saturating_add(u32::from(one.stops_within_ms()))
    }
}

impl ProofRun {
    /// The interlock that is tested.
    #[must_use]
    pub const fn interlock(&self) -> Interlock {
        self.interlock
    }

    /// What it waits for.
    #[must_use]
    pub const fn step(&self) -> ProofStep {
        self.step
    }

    /// What the person does next, in words.
    #[must_use]
    pub const fn words(&self) -> &'static str {
        match self.step {
            ProofStep::Prepare => self.interlock.prepare(),
            ProofStep::Trip => self.interlock.step(),
            ProofStep::Stops => "wait: feed has to stop",
        }
    }

    /// Begins a test, goes on with it, or ends it. Tells how it ended, if it did.
    pub(crate) fn take<const N: usize, const B: usize>(
        run: &mut Option<Self>,
        (settings, limits): (&ProofSettings, &Limits<N, B>),
        by: Authority,
        act: ProofAct,
    ) -> Result<Option<ProofEnd>, ProofRefused> {
        if by < ProofSettings::AUTHORITY {
            return Err(ProofRefused::NeedsAuthority(ProofSettings::AUTHORITY));
        }
        if let ProofAct::Start(interlock) = act {
            if let Some(other) = run {
                return Err(ProofRefused::UnderWay(other.interlock));
            }
            if !settings.of_site(limits).has(interlock) {
                return Err(ProofRefused::NotFitted(interlock));
            }
            *run = Some(Self {
                interlock,
                step: ProofStep::Prepare,
                waited: Millis(0),
                fed: false,
                seen: false,
            });
            return Ok(None);
        }
        let own = run.as_mut().ok_or(ProofRefused::NoTest)?;
        let by_eye = own.interlock == Interlock::MasterContact;
        match (act, own.step) {
            (ProofAct::GiveUp, _) => Ok(Some(ProofEnd::GivenUp)),
            (ProofAct::Done, ProofStep::Trip) if !by_eye => {
                own.go_to(ProofStep::Stops);
                Ok(None)
            }
            (ProofAct::StoodStill(true), ProofStep::Trip) if by_eye => {
                let (took_ms, fed) = (0, false);
                Ok(Some(ProofEnd::Passed { took_ms, fed }))
            }
            (ProofAct::StoodStill(false), ProofStep::Trip) if by_eye => Ok(Some(ProofEnd::FedOn)),
            (_, step) => Err(ProofRefused::WaitsFor(step)),
        }
    }

    fn go_to(&mut self, step: ProofStep) {
        self.step = step;
        self.waited = Millis(0);
    }

    /// After a tick. Tells how the test ended, if it did.
    pub(crate) fn tick<const N: usize, const B: usize>(
        &mut self,
        elapsed: Millis,
        sight: &Sight<'_, N, B>,
    ) -> Option<ProofEnd> {
        self.waited.0 = self.waited.0.saturating_add(elapsed.0);
        let one = self.interlock;
        let is_well = sight.is_well(one);
        if is_well && self.step != ProofStep::Stops {
            self.fed = sight.feeds(one);
        }
        match self.step {
            ProofStep::Prepare if sight.may_begin(one) => self.go_to(ProofStep::Trip),
            ProofStep::Prepare => {}
            ProofStep::Trip if one == Interlock::MasterContact => {
                // Closed, it says nothing.
                if !is_well {
                    self.go_to(ProofStep::Prepare);
                }
            }
            ProofStep::Trip | ProofStep::Stops if sight.is_over(one) => {
                self.go_to(ProofStep::Prepare);
            }
            // Who does it and then says so has done it all the same.
            ProofStep::Trip if sight.says_no(one) => {
                self.go_to(ProofStep::Stops);
                return self.stops(sight);
            }
            ProofStep::Trip => {}
            ProofStep::Stops => return self.stops(sight),
        }
        (self.waited >= GIVES_UP).then_some(ProofEnd::GivenUp)
    }

    fn stops<const N: usize, const B: usize>(
        &mut self,
        sight: &Sight<'_, N, B>,
    ) -> Option<ProofEnd> {
        self.seen |= sight.says_no(self.interlock);
        let took_ms = u16::try_from(self.waited.0).unwrap_or(u16::MAX);
        if self.waited.0 > sight.stops_within_ms(self.interlock) {
            let end = if self.seen {
                ProofEnd::FedOn
            } else {
                ProofEnd::NoSign
            };
            return Some(end);
        }
        let passed = sight.says_no(self.interlock) && sight.has_stopped(self.interlock);
        let fed = self.fed;
        passed.then_some(ProofEnd::Passed { took_ms, fed })
    }
}

impl<const N: usize> Proofs<N> {
    /// Puts on record how a test ended.
    pub(crate) fn end(&mut self, one: Interlock, end: ProofEnd) {
        match end {
            ProofEnd::Passed { took_ms, .. } => self.note(one, Proof::passed(took_ms)),
            ProofEnd::NoSign | ProofEnd::FedOn => self.note(one, Proof::FAILED),
            ProofEnd::GivenUp => {}
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::Bench;
    use crate::guard::RuleSet;

    /// The fault itself is seen at once; its lockout stands after it has passed.
    #[test]
    fn a_drive_that_does_not_obey_and_its_lockout_each_refuse_by_feedback() {
        let bench = Bench::usual();
        let guard = bench.controller.guard();
        let (drive, obeys) = (
            LockoutSet::NONE.with(Lockout::Drive),
            RuleSet::NONE.with(Rule::DriveObeys),
        );
        let (free, none) = (LockoutSet::NONE, RuleSet::NONE);
        for (own, vetoes) in [(free, none), (drive, none), (free, obeys), (drive, obeys)] {
            let mut decision = *guard.decision();
            decision.feeders[0].vetoes = vetoes;
            let sight = Sight {
                limits: guard.limits(),
                facts: &bench.inputs.facts,
                decision: &decision,
                lockouts: free,
                feeder_lockouts: &[own, free],
            };
            let refuses = sight.refuses(Interlock::Feedback(0), 0, &decision.feeders[0]);
            assert_eq!(refuses, own == drive || vetoes == obeys);
        }
    }
}
