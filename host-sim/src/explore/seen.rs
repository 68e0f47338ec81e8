//! What happened at least once: the things that a walk must reach to mean anything.

use dosewarden::guard::{Decision, Lockout, Rule, State};

use super::event::{Ask, Event, Found};

const SOLE: u32 = 27;
const LOCKED: u32 = 54;
const RELEASED: u32 = 65;
const FED: u32 = 76;
const CUT: u32 = 100;

/// A set of such things.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Seen(u128);

impl Seen {
    /// Both together.
    #[must_use]
    pub const fn with(self, other: Self) -> Self {
        Self(self.0 | other.0)
    }

    const fn set(&mut self, bit: u32) {
        self.0 |= 1 << bit;
    }

    pub(super) fn cut(&mut self, found: Found) {
        self.set(CUT + found as u32);
    }

    pub(super) fn tick<const N: usize, const B: usize, const H: usize, const D: usize>(
        &mut self,
        event: &Event<N>,
        before: &State<N, B, H, D>,
        after: &State<N, B, H, D>,
        decision: &Decision<N>,
    ) {
        let locks = |state: &State<N, B, H, D>| {
            let feeders = state.feeder_lockouts.iter();
            feeders
                .fold(state.site_lockouts, |all, one| all.union(*one))
                .bits()
        };
        let (was, is) = (locks(before), locks(after));
        self.0 |= u128::from(is & !was) << LOCKED;
        self.0 |= u128::from(was & !is) << RELEASED;
        for (feeder, row) in decision.feeders.iter().enumerate() {
            let ask = event.asks[feeder];
            if ask == Ask::Nothing {
                continue;
            }
            self.0 |= u128::from(row.vetoes.bits());
            // A charge that is not there yet is no reason of its own: every other rule makes it wait.
            let vetoes = row.vetoes.without(Rule::ChargeDurable);
            for rule in Rule::ALL {
                let only_charge = rule == Rule::ChargeDurable
                    && row.vetoes.is_only(rule)
                    && row.stage == dosewarden::guard::CycleStage::Pending;
                if vetoes.is_only(rule) || only_charge {
                    self.set(SOLE + rule.number());
                }
            }
            if row.run.0 > 0 {
                let mode = match ask {
                    Ask::Nothing | Ask::Automatic => 0,
                    Ask::Manual => 1,
                    Ask::Fallback => 2,
                };
                let body = u32::from(after.feeders[feeder].body.min(1));
                self.set(FED + feeder as u32 * 6 + body * 3 + mode);
            }
        }
    }

    const fn has(self, bit: u32) -> bool {
        self.0 & (1 << bit) != 0
    }

    /// Rules that refused a feeder that was asked for.
    pub fn refused(self) -> impl Iterator<Item = Rule> {
        Rule::ALL
            .into_iter()
            .filter(move |rule| self.has(rule.number()))
    }

    /// Rules that alone refused one.
    pub fn sole(self) -> impl Iterator<Item = Rule> {
        Rule::ALL
            .into_iter()
            .filter(move |rule| self.has(SOLE + rule.number()))
    }

    /// Lockouts that were entered.
    pub fn locked(self) -> impl Iterator<Item = Lockout> {
        Lockout::ALL
            .into_iter()
            .filter(move |one| self.has(LOCKED + *one as u32))
    }

    /// Lockouts that were released.
    pub fn released(self) -> impl Iterator<Item = Lockout> {
        Lockout::ALL
            .into_iter()
            .filter(move |one| self.has(RELEASED + *one as u32))
    }

    /// What was fed, and which records were found after a power cut.
    #[must_use]
    pub fn events(self) -> Vec<String> {
        let mut all = Vec::new();
        for feeder in 0..2 {
            for body in 0..2 {
                for (mode, name) in (0..).zip(["automatic", "manual", "fallback"]) {
                    if self.has(FED + feeder * 6 + body * 3 + mode) {
                        all.push(format!("feeder {feeder} fed body {body}, {name}"));
                    }
                }
            }
        }
        for (found, name) in (0..).zip(["same", "differ", "lost"]) {
            if self.has(CUT + found) {
                all.push(format!("power cut, images {name}"));
            }
        }
        all
    }
}
