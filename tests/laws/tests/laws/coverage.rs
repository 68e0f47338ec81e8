//! What the random lives reached, counted by case. A property that nothing reaches holds of nothing.
//!
//! A rule is the *sole cause* of a refusal, for one feeder in one tick, if the set of rules that
//! refuse is that rule alone, apart from:
//!
//! - `charge_durable`, which is in the set whenever no cycle is open. It counts itself when it is
//!   alone while a charge is pending;
//! - `no_lockout`, beside a rule that entered a lockout; or alone, if the only lockout that stands
//!   is the one that this rule enters;
//! - the rule's companions: rules that its own statement makes refuse with it, see [`companions`].

use std::collections::BTreeMap;

use dosewarden_guard::{CycleStage, Decision, Lockout, LockoutSet, Rule, RuleSet};

/// Rules that refuse with this one by its very statement.
fn companions(rule: Rule) -> &'static [Rule] {
    match rule {
        // Proving begins anew.
        Rule::ClockSane => &[Rule::FlowProven, Rule::ProbeSettled, Rule::BodyKnown],
        // Nothing that was proven, purged or left over is believed; the day counts as used.
        Rule::StateSealed => &[
            Rule::PowerOnDelay,
            Rule::FlowProven,
            Rule::ProbeSettled,
            Rule::BodyKnown,
            Rule::CycleCap,
            Rule::SpreadHold,
            Rule::HourCap,
            Rule::DayCap,
            Rule::OneAtATime,
            Rule::LineClear,
            Rule::ResponseSane,
        ],
        // The pump says off, so one witness of flow is missing, and the line has stood.
        Rule::WitnessesAgree => &[Rule::FlowProven, Rule::ProbeSettled, Rule::LineClear],
        // A value that is not trusted is not inside a cut-off.
        Rule::ProbeTrusted => &[Rule::InsideCutoff],
        // A lost record makes the day count as used.
        Rule::LedgerTrusted => &[Rule::HourCap, Rule::DayCap],
        _ => &[],
    }
}

const fn entered_by(lockout: Lockout) -> Option<Rule> {
    Some(match lockout {
        Lockout::StateSeal => Rule::StateSealed,
        Lockout::LimitsSeal => Rule::LimitsSealed,
        Lockout::Witnesses => Rule::WitnessesAgree,
        Lockout::Line => Rule::LineClear,
        Lockout::RecordLost => Rule::LedgerTrusted,
        Lockout::EmergencyStop => Rule::InhibitsClear,
        Lockout::PowerLoss => return None,
        Lockout::Probe => Rule::ProbeTrusted,
        Lockout::RunTime => Rule::RunTimeCap,
        Lockout::Response => Rule::ResponseSane,
        Lockout::Drive => Rule::DriveObeys,
    })
}

/// One life's reach.
#[derive(Clone, Debug, Default)]
pub(crate) struct Reach {
    pub(crate) permit: bool,
    sole: RuleSet,
    lockouts: LockoutSet,
    entered: LockoutSet,
    released: LockoutSet,
}

impl Reach {
    /// Looks at one tick.
    pub(crate) fn see<const N: usize>(
        &mut self,
        decision: &Decision<N>,
        (site, feeders): (LockoutSet, [LockoutSet; N]),
    ) {
        for (row, own) in decision.feeders.iter().zip(feeders) {
            self.permit |= row.run.0 > 0;
            let standing = site.union(own);
            let set = row.vetoes;
            if set.is_only(Rule::ChargeDurable) && row.stage == CycleStage::Pending {
                self.sole = self.sole.with(Rule::ChargeDurable);
            }
            let set = set.without(Rule::ChargeDurable);
            if set.is_only(Rule::NoLockout) {
                self.sole = self.sole.with(Rule::NoLockout);
                let mut all = standing.iter();
                if let (Some(only), None) = (all.next(), all.next())
                    && let Some(rule) = entered_by(only)
                {
                    self.sole = self.sole.with(rule);
                }
            }
            for rule in set.iter() {
                let rest = companions(rule)
                    .iter()
                    .fold(set.without(Rule::NoLockout), |set, one| set.without(*one));
                if rule != Rule::NoLockout && rest.is_only(rule) {
                    self.sole = self.sole.with(rule);
                }
            }
        }
        let all = feeders.into_iter().fold(site, LockoutSet::union);
        for lockout in Lockout::ALL {
            match (self.lockouts.has(lockout), all.has(lockout)) {
                (false, true) => self.entered = self.entered.with(lockout),
                (true, false) => self.released = self.released.with(lockout),
                _ => {}
            }
        }
        self.lockouts = all;
    }
}

/// All lives' reach.
#[derive(Debug, Default)]
pub(crate) struct Coverage {
    pub(crate) cases: u32,
    permits: u32,
    sole: BTreeMap<&'static str, u32>,
    entered: BTreeMap<String, u32>,
    released: BTreeMap<String, u32>,
}

impl Coverage {
    pub(crate) fn add(&mut self, reach: &Reach) {
        self.cases += 1;
        self.permits += u32::from(reach.permit);
        for rule in reach.sole.iter() {
            *self.sole.entry(rule.name()).or_default() += 1;
        }
        for lockout in reach.entered.iter() {
            *self.entered.entry(format!("{lockout:?}")).or_default() += 1;
        }
        for lockout in reach.released.iter() {
            *self.released.entry(format!("{lockout:?}")).or_default() += 1;
        }
    }

    /// What is missing: of 10,000 cases, 30 % with a permit, each rule the sole cause in 100, each
    /// lockout entered and released. With fewer cases, in proportion.
    pub(crate) fn missing(&self) -> Vec<String> {
        let mut missing = Vec::new();
        let percent = self.permits * 100 / self.cases.max(1);
        if percent < 30 {
            missing.push(format!("a permit in {percent} % of the cases"));
        }
        let least = self.cases / 100;
        for rule in Rule::ALL {
            let count = self.sole.get(rule.name()).copied().unwrap_or(0);
            if count < least {
                missing.push(format!("{} the sole cause in {count} cases", rule.name()));
            }
        }
        for lockout in Lockout::ALL {
            let name = format!("{lockout:?}");
            for (what, map) in [("entered", &self.entered), ("released", &self.released)] {
                if map.get(&name).copied().unwrap_or(0) < (least / 10).max(1) {
                    missing.push(format!("{name} not {what}"));
                }
            }
        }
        missing
    }
}
