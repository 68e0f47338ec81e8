//! What is taken out of a world because nothing can tell it apart any more, each time with the reason.
//! A test lives random lives with and without it.

use dosewarden::guard::units::{DAY_MS, Dose, Millis};
use dosewarden::guard::{CycleStage, FeederState, Ledger, LedgerTrust, Mode, ResponseState};

use super::pack::total;
use super::site::{FeederFigures, Site, UNIT, ticks};
use super::truth::Answer;
use super::world::World;

impl<const N: usize, const B: usize, const H: usize, const D: usize> World<N, B, H, D> {
    /// Takes out of the state what no rule of this site can tell apart.
    pub(super) fn settle(&mut self, site: &Site<N, B>) {
        let figures = &site.figures;
        let state = &mut self.state;
        if site.ledger {
            // Whether a bucket ends is an event; a bucket past the day's cap refuses all the same.
            state.ledger.hour_age = Millis(0);
            state.ledger.day_age = Millis(0);
            let most = Dose(u32::from(figures.feeders[0].day + 1) * UNIT);
            for account in state.ledger.accounts.iter_mut().flatten() {
                for bucket in account.hour.iter_mut().chain(&mut account.day) {
                    *bucket = (*bucket).min(most);
                }
                total(account);
            }
        } else {
            state.ledger = Ledger::EMPTY; // the caps are out of reach
        }
        if !site.response {
            state.response = [ResponseState::REST; N]; // no pH probe: never read
        }
        let every = site.limits.spec().response.probe_cycle_every;
        for response in &mut state.response {
            // Whether the interval is over is an event.
            if response.since_cycle < every {
                response.since_cycle = Millis(0);
            }
        }
        if let LedgerTrust::Lost(age) = &mut state.trust
            && age.0 < DAY_MS
        {
            *age = Millis(0);
        }
        state.save_wanted &= site.store;
        state.save_age = Millis(0); // a notice only
        for (standing, limits) in state.line.standing.iter_mut().zip(&figures.feeders) {
            // Fouled from a tick and the off delay on.
            *standing = (*standing).min(ticks(u32::from(limits.drive_off) + 2));
        }
        for (own, limits) in state.feeders.iter_mut().zip(&figures.feeders) {
            settle_feeder(own, limits, site.manual, figures.manual);
        }
        for (index, own) in self.truth.feeders.iter_mut().enumerate() {
            if state.feeders[index].stage == CycleStage::Idle {
                own.body = 0;
            }
            if !site.response {
                own.answer = Answer::NONE;
            }
        }
    }
}

fn settle_feeder(own: &mut FeederState, limits: &FeederFigures, by_hand: bool, manual: u8) {
    // Past every bound: more makes no difference.
    let most = u32::from(limits.cycle_most());
    own.run = own.run.min(ticks(most));
    own.charge = own.charge.min(Dose(most * UNIT));
    own.cell_proven = Millis(0); // no cell
    own.off = own.off.min(ticks(u32::from(limits.drive_off) + 2));
    if by_hand {
        own.manual = own.manual.min(ticks(u32::from(manual)));
    } else {
        own.manual = Millis(0); // nobody feeds by hand here
    }
    if own.stage != CycleStage::Open {
        own.cut = Millis(0); // begins anew in an open cycle
    }
    if own.stage == CycleStage::Idle {
        own.body = 0;
        if own.mode != Mode::Manual {
            own.mode = Mode::Automatic;
        }
    }
}
