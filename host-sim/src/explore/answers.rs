//! What the truth learns from a decision: permits, charges, cycles that closed, answers of the water.

use dosewarden::guard::{CycleStage, Decision, FeederDecision, State};

use super::event::{Ask, Event, Gap, Probe, Water};
use super::facts::{LEVELS, PAST};
use super::site::Site;
use super::truth::{FeederTruth, Truth};
use super::world::stands;

/// The level of a probe that is trusted.
fn level(probe: Probe) -> Option<u8> {
    match probe {
        Probe::Level(level) => Some(level),
        Probe::Past => Some(PAST),
        Probe::Service | Probe::Failed => None,
    }
}

impl<const N: usize, const B: usize> Truth<N, B> {
    /// Takes note of what the guard decided.
    pub(super) fn decided<const H: usize, const D: usize>(
        &mut self,
        site: &Site<N, B>,
        event: &Event<N>,
        before: &State<N, B, H, D>,
        decision: &Decision<N>,
    ) {
        let settled = self.flow >= site.figures.settle && event.water == Water::Flows;
        for (feeder, own) in self.feeders.iter_mut().enumerate() {
            let row = &decision.feeders[feeder];
            if site.response {
                own.answered(site, event, settled);
            }
            own.charged(event, feeder, before.feeders[feeder].stage, row);
            own.closed(site, feeder, row);
            let stood = std::mem::replace(&mut own.permit, row.run.0 > 0);
            own.opened |= own.permit;
            let drive_off = site.figures.feeders[feeder].drive_off;
            own.tail = match (own.permit, stood, event.gap) {
                (true, _, _) | (false, true, Gap::TooLong) => 0,
                (false, true, Gap::InTime) => drive_off,
                (false, false, Gap::InTime) => own.tail.saturating_sub(1),
                (false, false, Gap::TooLong) => own.tail.saturating_sub(2),
            };
        }
    }
}

impl<const B: usize> FeederTruth<B> {
    fn charged<const N: usize>(
        &mut self,
        event: &Event<N>,
        feeder: usize,
        was: CycleStage,
        row: &FeederDecision,
    ) {
        if stands(was) || row.stage != CycleStage::Pending {
            return;
        }
        self.opened = false;
        self.cycle = 0;
        self.body = event.body.unwrap_or(0);
        self.by_hand = event.asks[feeder] == Ask::Manual;
        self.answer.before = level(event.probe).map_or(0, |level| level + 1);
        self.answer.awaited = false;
    }

    fn closed<const N: usize>(&mut self, site: &Site<N, B>, feeder: usize, row: &FeederDecision) {
        let Some(closed) = row.closed else {
            return;
        };
        if self.opened || closed.fed.0 > 0 {
            self.answer.awaited = closed.fed.0 > 0;
            self.answer.rest = site.figures.feeders[feeder].hold;
            self.answer.waited = false;
        }
        self.opened = false;
        self.cycle = 0;
    }

    /// The water's answer, once the dose has spread and the probe sees it.
    fn answered<const N: usize>(&mut self, site: &Site<N, B>, event: &Event<N>, settled: bool) {
        let answer = &mut self.answer;
        let flows = event.water == Water::Flows && event.gap == Gap::InTime;
        answer.rest = answer.rest.saturating_sub(u8::from(flows));
        let Some(now) = level(event.probe) else {
            return;
        };
        if !(answer.awaited && settled && answer.rest == 0) {
            return;
        }
        answer.awaited = false;
        let Some(before) = answer.before.checked_sub(1) else {
            return;
        };
        // Acid lowers pH.
        let moved = LEVELS[usize::from(before)] - LEVELS[usize::from(now)];
        let limits = &site.limits.spec().response;
        if moved > limits.answer_max.0 || moved < -limits.wrong_way_max.0 {
            answer.wrong = true;
            return;
        }
        answer.quarter = false;
        // Every level is either no movement at all or more than any answer that counts.
        answer.unanswered = if moved > 0 {
            0
        } else {
            (answer.unanswered + 1).min(limits.unanswered_max)
        };
    }
}
