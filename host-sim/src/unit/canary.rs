//! Controllers broken on purpose: our own with one thing wrong. A campaign that lets one of them through sees
//! nothing.

use dosewarden::guard::units::Millis;
use dosewarden::guard::{Authority, LockoutSet, Record, Remedy, State};

use crate::plant::Senses;
use crate::scenario::PersonAct;

/// What is wrong with a unit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Canary {
    /// After a restart the spread hold is left out.
    NoHoldAfterRestart,
    /// A power cut resets the day's total.
    DayResetByPower,
    /// A loss of flow is acted on only after half a minute.
    LateOnFlowLoss,
    /// A lockout is gone with the power.
    LockoutGoneWithPower,
    /// Whoever acknowledges an alarm also releases what is locked out.
    AcknowledgeReleases,
}

/// For how long a loss of flow is not believed, ms.
const DEBOUNCE_MS: u32 = 30_000;

impl Canary {
    /// All of them, by name.
    pub const ALL: [(&'static str, Self); 5] = [
        ("no-hold-after-restart", Self::NoHoldAfterRestart),
        ("day-reset-by-power", Self::DayResetByPower),
        ("late-on-flow-loss", Self::LateOnFlowLoss),
        ("lockout-gone-with-power", Self::LockoutGoneWithPower),
        ("acknowledge-releases", Self::AcknowledgeReleases),
    ];

    /// The one with this name.
    #[must_use]
    pub fn named(name: &str) -> Option<Self> {
        let found = Self::ALL.iter().find(|(known, _)| *known == name);
        found.map(|(_, canary)| *canary)
    }

    /// Its name.
    #[must_use]
    pub fn name(self) -> &'static str {
        let found = Self::ALL.iter().find(|(_, known)| *known == self);
        found.map_or("", |(name, _)| name)
    }
}

/// The record's type.
pub(super) type OurRecord<const N: usize, const B: usize, const H: usize, const D: usize> =
    Record<N, B, H, D>;

/// A canary with what it keeps from tick to tick.
#[derive(Clone, Debug)]
pub(super) struct Wrong {
    canary: Canary,
    no_flow_ms: u32,
}

impl Wrong {
    pub(super) const fn new(canary: Canary) -> Self {
        Self {
            canary,
            no_flow_ms: 0,
        }
    }

    /// What a restart makes of the record.
    pub(super) fn on_restart<const N: usize, const B: usize, const H: usize, const D: usize>(
        &self,
        record: &mut OurRecord<N, B, H, D>,
    ) {
        match self.canary {
            Canary::NoHoldAfterRestart => self.forget_holds(&mut record.state),
            Canary::DayResetByPower => {
                for account in record.state.ledger.accounts.iter_mut().flatten() {
                    for dose in &mut account.day {
                        dose.0 = 0;
                    }
                }
            }
            Canary::LockoutGoneWithPower => {
                record.state.site_lockouts = LockoutSet::NONE;
                record.state.feeder_lockouts = [LockoutSet::NONE; N];
            }
            Canary::LateOnFlowLoss | Canary::AcknowledgeReleases => {}
        }
    }

    fn forget_holds<const N: usize, const B: usize, const H: usize, const D: usize>(
        &self,
        state: &mut State<N, B, H, D>,
    ) {
        let long = Millis(u32::MAX);
        state.since_cycle = [[long; B]; N];
        state.since_drive = [long; N];
        for own in &mut state.feeders {
            *own = State::<N, B, H, D>::POWER_ON.feeders[0];
        }
    }

    /// What it does besides what a person does, as if a person did it.
    pub(super) const fn besides(&self, act: &PersonAct) -> Option<PersonAct> {
        match (self.canary, act) {
            (Canary::AcknowledgeReleases, PersonAct::Acknowledge(_)) => Some(PersonAct::Release {
                by: Authority::Maker,
                lockout: None,
                pool_empty: true,
                remedy: Some(Remedy::WaterTested),
            }),
            _ => None,
        }
    }

    /// What it takes the wiring to show.
    pub(super) fn on_read(&mut self, dt_ms: u32, senses: &mut Senses) {
        if self.canary != Canary::LateOnFlowLoss {
            return;
        }
        let flows = senses.flow_switch && senses.pump_contact != Some(false);
        self.no_flow_ms = if flows {
            0
        } else {
            self.no_flow_ms.saturating_add(dt_ms)
        };
        if self.no_flow_ms < DEBOUNCE_MS {
            senses.flow_switch = true;
            senses.pump_contact = senses.pump_contact.map(|_| true);
        }
    }
}
