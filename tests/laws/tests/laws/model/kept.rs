//! What the model keeps across a power cut.

use std::collections::BTreeSet;

use dosewarden_guard::{Lockout, Restart, Stage, Ticket};

use super::{Entry, Lockouts, Model, Response, signed};

/// What survives the power.
#[derive(Clone)]
pub(super) struct Kept<const B: usize> {
    entries: Vec<Entry>,
    ledger_ms: u64,
    lost: Option<u64>,
    lockouts: BTreeSet<(Lockouts, usize)>,
    ran_against: Vec<bool>,
    stage: Stage,
    since_cycle: Vec<[u64; B]>,
    since_drive: Vec<u64>,
    standing: Vec<u64>,
    purged: u64,
    responses: Vec<Response>,
    fallback: u64,
    new_probe: bool,
    bank: u64,
    selected: Option<usize>,
    open: Vec<(u64, usize)>,
}

impl<const N: usize, const B: usize> Model<N, B> {
    /// The power comes back, and the record of this sequence is the one that counts.
    pub(crate) fn restart(self, sequence: Option<u32>) -> Self {
        let kept = sequence.and_then(|sequence| self.records.get(&sequence).cloned());
        let mut model = Self::lost(self.spec);
        model.records = self.records;
        let Some(kept) = kept else {
            return model;
        };
        model.entries = kept.entries;
        model.ledger_ms = kept.ledger_ms;
        model.lost = kept.lost;
        model.lockouts = kept.lockouts;
        model.ran_against = kept.ran_against;
        model.stage = kept.stage;
        let marks = |ages: &[u64]| ages.iter().map(|age| -signed(*age)).collect();
        model.cycle_mark = kept
            .since_cycle
            .iter()
            .map(|bodies| bodies.map(|age| -signed(age)))
            .collect();
        model.drive_mark = marks(&kept.since_drive);
        model.purge_mark = -signed(kept.purged);
        model.standing = kept.standing;
        model.responses = kept.responses;
        model.fallback = kept.fallback;
        model.new_probe = kept.new_probe;
        model.bank = kept.bank;
        model.selected = kept.selected;
        for (feeder, (charge, body)) in kept.open.into_iter().enumerate() {
            if charge > 0 {
                // The whole charge counts as fed; it owes its hold and a purge.
                let account = model.account(feeder);
                model.book(account, Some(body), charge);
                model.drive_mark[account] = 0;
                model.purge_mark = 0;
                model.responses[account].since = 0;
            }
        }
        if model.spec.body_valves.is_fitted() {
            // They may have been turned while nobody looked.
            model.purge_mark = 0;
        }
        for response in &mut model.responses {
            response.awaited = 0;
        }
        if model.spec.restart_after_power_loss == Restart::Person {
            model.lock(Lockout::PowerLoss, 0);
        }
        model
    }

    /// A record was sealed.
    pub(crate) fn sealed(&mut self, ticket: Ticket) {
        let kept = Kept {
            entries: self.entries.clone(),
            ledger_ms: self.ledger_ms,
            lost: self.lost,
            lockouts: self.lockouts.clone(),
            ran_against: self.ran_against.clone(),
            stage: self.stage,
            since_cycle: (0..N)
                .map(|account| core::array::from_fn(|body| self.since_cycle(account, body)))
                .collect(),
            since_drive: (0..N).map(|account| self.since_drive(account)).collect(),
            standing: self.standing.clone(),
            purged: self.purged(),
            responses: self.responses.clone(),
            fallback: self.fallback,
            new_probe: self.new_probe,
            bank: self.bank,
            selected: self.selected,
            open: self
                .feeders
                .iter()
                .map(|feeder| (feeder.charged(), feeder.body))
                .collect(),
        };
        self.records.insert(ticket.sequence, kept);
        self.outstanding = Some(ticket);
        self.changed = false;
    }
}
