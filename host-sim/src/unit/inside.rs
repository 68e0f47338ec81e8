//! What breaks inside our own unit.

use dosewarden::guard::units::{Dose, Millis};
use dosewarden::guard::{FeederLimits, Limits, SetLimits, State, TickClock};

use super::InsideFault;
use super::ours::OurUnit;
use crate::plant::TwoCopyStore;

impl<const N: usize, const B: usize> Clone for OurUnit<N, B> {
    fn clone(&self) -> Self {
        Self {
            limits: self.limits.clone(),
            fitted_limits: self.fitted_limits.clone(),
            settings: self.settings,
            regulators: self.regulators,
            cut_timers: self.cut_timers,
            store: self.store.clone(),
            away: self.away.clone(),
            tears_kept: self.tears_kept,
            kept: self.kept.clone(),
            wiring: self.wiring.clone(),
            care: self.care.clone(),
            controller: self.controller.as_ref().map(|one| one.fork()),
            clock: self.clock.clone(),
            counter_ms: self.counter_ms,
            persons: self.persons.clone(),
            reply: self.reply.clone(),
            status: self.status,
            shown_alarms: self.shown_alarms,
            record: self.record.clone(),
            reasons: self.reasons.clone(),
            alarms: self.alarms.clone(),
            feeders: self.feeders,
            wrong: self.wrong.clone(),
            brought: self.brought.clone(),
        }
    }
}

impl<const N: usize, const B: usize> OurUnit<N, B> {
    /// Breaks it.
    pub(super) fn break_inside(&mut self, fault: InsideFault) -> bool {
        match fault {
            InsideFault::StateBit(which) => {
                let Some(controller) = &mut self.controller else {
                    return false;
                };
                controller.upset_state(|state| flip(state, which));
            }
            InsideFault::CounterNearEnd(ms) => {
                // As if the unit had been on for so long: no time passes by it.
                self.counter_ms = u32::MAX - ms;
                self.clock = TickClock::new();
                self.clock.step(self.counter_ms);
            }
            InsideFault::TearNextWrite => {
                self.store.tear_next();
                self.tears_kept = true;
            }
            InsideFault::CopyAway => {
                let copies = self.store.flash_mut().read_both();
                self.away = copies.map(|copy| copy.map(<[u8]>::to_vec));
                self.kept.copy_away();
            }
            InsideFault::CopyBack => {
                for (each, copy) in self.away.iter().enumerate() {
                    self.store.flash_mut().put(each, copy.clone());
                }
                self.kept.copy_back();
            }
            InsideFault::Caps(percent) => return self.set_caps(percent),
            of_flash => {
                break_flash(self.store.flash_mut(), of_flash, VERSION_AT);
                break_flash(self.kept.flash_mut(), of_flash, 4 + VERSION_AT);
            }
        }
        true
    }

    /// Sets all caps to a percentage of what they were at first, by the way that the controller has for it.
    fn set_caps(&mut self, percent: u8) -> bool {
        let mut spec = *self.fitted_limits.spec();
        let part = |dose: Dose| {
            let part = u64::from(dose.0) * u64::from(percent) / 100;
            Dose(u32::try_from(part).unwrap_or(u32::MAX))
        };
        for feeder in &mut spec.feeders {
            if let FeederLimits::Enabled(own) = feeder {
                let run = u64::from(own.run_max.0) * u64::from(percent.max(100)) / 100;
                own.run_max = Millis(u32::try_from(run).unwrap_or(u32::MAX));
                own.slice_max = own.slice_max.min(part(own.slice_max)).max(own.dose_min);
                for body in &mut own.bodies {
                    body.cycle_cap = part(body.cycle_cap).max(own.dose_min);
                    body.hour_cap = part(body.hour_cap).max(body.cycle_cap);
                    body.day_cap = part(body.day_cap).max(body.hour_cap);
                }
            }
        }
        let (Ok(limits), Some(controller)) = (Limits::try_new(spec), &mut self.controller) else {
            return false;
        };
        if controller.set_limits(limits.clone()) == SetLimits::Applied {
            self.limits = limits;
            return true;
        }
        false
    }
}

/// The version stands behind the four bytes that begin what is kept.
const VERSION_AT: usize = 4;

/// Breaks what is kept in one flash, as in the other.
fn break_flash(flash: &mut TwoCopyStore, fault: InsideFault, version_at: usize) {
    match fault {
        InsideFault::Rot { copy, at } => {
            for each in 0..2 {
                let length = flash.read_both()[each].map_or(1, <[u8]>::len);
                if copy > 1 || usize::from(copy) == each {
                    flash.rot(each, usize::from(at) % length.max(1), 0x10);
                }
            }
        }
        InsideFault::WritesIgnored => flash.set_writes_ignored(true),
        InsideFault::WritesWork => flash.set_writes_ignored(false),
        InsideFault::Erased => flash.erase(),
        InsideFault::OtherVersion => {
            flash.rot(0, version_at, 0x40);
            flash.rot(1, version_at, 0x40);
        }
        _ => {}
    }
}

/// Flips one bit of the state: in a total, an age, a permit or the bank of off time.
fn flip<const N: usize, const B: usize, const H: usize, const D: usize>(
    state: &mut State<N, B, H, D>,
    which: u32,
) {
    let bit = 1_u32 << (which / 8 % 32);
    let feeder = usize::from(which as u8 >> 4) % N;
    let account = state.ledger.accounts.iter_mut().flatten().next();
    match which % 8 {
        0 => {
            if let Some(dose) = account.and_then(|own| own.day.first_mut()) {
                dose.0 ^= bit;
            }
        }
        1 => {
            if let Some(dose) = account.and_then(|own| own.hour.first_mut()) {
                dose.0 ^= bit;
            }
        }
        2 => state.settled.0 ^= bit,
        3 => state.line.purged.0 ^= bit,
        4 => state.feeders[feeder].permit.0 ^= bit,
        5 => state.since_drive[feeder].0 ^= bit,
        6 => state.off_bank.0 ^= bit,
        _ => state.ledger.hour_age.0 ^= bit,
    }
}
