//! What the facts say, and how the proving ages go on.

use dosewarden_guard::units::{Body, Fitted, Millis};
use dosewarden_guard::{Governor, Health, Inhibits, LimitsSpec, Product, Reading};

use super::{Model, Tick, spec_of};

/// The facts of one tick: known, or not.
pub(super) struct Water {
    pub(super) sane: bool,
    /// Time that helps.
    pub(super) good: u64,
    pub(super) flow: bool,
    pub(super) flow_without_pump: bool,
    pub(super) agree: bool,
    pub(super) ph: Option<i32>,
    pub(super) orp: Option<i32>,
    pub(super) body: Option<usize>,
    pub(super) minute: Option<u16>,
    pub(super) inhibits: Inhibits,
    pub(super) feeders: Vec<Own>,
}

/// The facts of one feeder.
pub(super) struct Own {
    /// Fitted feedback that counts, in milliseconds on.
    pub(super) feedback: Fitted<Option<u64>>,
    pub(super) stock: bool,
    pub(super) cell: bool,
    pub(super) button: Option<bool>,
    pub(super) trusted: bool,
    pub(super) failed: bool,
}

fn fresh<T: Copy>(reading: &Reading<T>, oldest: Millis) -> Option<T> {
    (reading.age.0 <= oldest.0 && reading.health == Health::Normal).then_some(reading.value)
}

impl Water {
    pub(super) fn of<const N: usize, const B: usize>(
        spec: &LimitsSpec<N, B>,
        tick: &Tick<N>,
    ) -> Self {
        let facts = &tick.facts;
        let oldest = spec.witness_age_max;
        let sane = tick.elapsed > 0 && tick.elapsed <= u64::from(spec.tick_gap_max.0);
        let mut witnesses = Vec::new();
        if spec.flow_switch.is_fitted() {
            witnesses.push(fresh(&facts.flow_switch, oldest));
        }
        if let Fitted::Fitted(threshold) = spec.flow_meter {
            witnesses.push(fresh(&facts.flow_meter, oldest).map(|flow| flow.0 >= threshold.0));
        }
        let pump = if spec.pump_contact.is_fitted() {
            Fitted::Fitted(fresh(&facts.pump_run, oldest))
        } else {
            Fitted::NotFitted
        };
        let water = witnesses.iter().all(|says| *says == Some(true));
        let (pump_on, pump_off, agree) = match pump {
            Fitted::NotFitted => (true, false, true),
            Fitted::Fitted(None) => (false, false, false),
            Fitted::Fitted(Some(on)) => (on, !on, witnesses.iter().all(|says| *says == Some(on))),
        };
        Self {
            sane,
            good: if sane { tick.elapsed } else { 0 },
            flow: water && pump_on,
            flow_without_pump: pump_off && witnesses.contains(&Some(true)),
            agree,
            ph: fresh(&facts.ph, spec.probe_age_max).map(|ph| ph.0),
            orp: fresh(&facts.orp, spec.probe_age_max).map(|orp| orp.0),
            body: if spec.body_valves.is_fitted() {
                fresh(&facts.body, oldest)
                    .map(|Body(body)| usize::from(body))
                    .filter(|body| *body < B)
            } else {
                Some(0)
            },
            minute: fresh(&facts.minute, oldest).map(|minute| minute.0),
            inhibits: facts.inhibits,
            feeders: (0..N).map(|feeder| own(spec, tick, feeder)).collect(),
        }
    }
}

fn own<const N: usize, const B: usize>(
    site: &LimitsSpec<N, B>,
    tick: &Tick<N>,
    feeder: usize,
) -> Own {
    let (spec, fact) = (spec_of(site, feeder), &tick.facts.feeders[feeder]);
    let oldest = site.witness_age_max;
    let (age, health) = match spec.governor {
        Governor::Ph => (tick.facts.ph.age, tick.facts.ph.health),
        Governor::Orp => (tick.facts.orp.age, tick.facts.orp.health),
        Governor::TimedShare => (Millis(0), Health::Normal),
    };
    let stale = age.0 > site.probe_age_max.0;
    Own {
        feedback: if spec.feedback.is_fitted() {
            // A drive cannot have been on for longer than has passed.
            Fitted::Fitted(
                fresh(&fact.feedback, oldest).map(|on| u64::from(on.0).min(tick.elapsed)),
            )
        } else {
            Fitted::NotFitted
        },
        stock: !spec.level_switch.is_fitted() || fresh(&fact.stock, oldest) == Some(true),
        cell: !spec.cell_flow_switch.is_fitted() || fresh(&fact.cell_flow, oldest) == Some(true),
        button: fresh(&fact.hold_to_run, oldest),
        trusted: !stale && health == Health::Normal,
        failed: stale || health == Health::Failure,
    }
}

impl<const N: usize, const B: usize> Model<N, B> {
    /// The ages of one tick.
    pub(super) fn ages(&mut self, water: &Water, tick: &Tick<N>) {
        self.valves(water);
        let prove = |age: &mut u64, shown: bool| {
            *age = if shown && water.sane {
                *age + water.good
            } else {
                0
            };
        };
        prove(&mut self.proven, water.flow);
        prove(&mut self.settled, water.flow);
        for (feeder, own) in self.feeders.iter_mut().zip(&water.feeders) {
            prove(&mut feeder.cell, own.cell);
            feeder.failed = if own.failed {
                feeder.failed + tick.elapsed
            } else {
                0
            };
        }
        if water.flow_without_pump {
            self.disagree += tick.elapsed;
        } else if water.agree {
            self.disagree = 0;
        }
        self.powered += water.good;
        if self.powered >= u64::from(self.spec.power_on_delay_new_probe.0) {
            self.new_probe = false;
        }
        self.fallback = self.fallback.saturating_sub(tick.elapsed);
        if let Some(age) = &mut self.lost {
            *age += water.good;
        }
        for response in &mut self.responses {
            response.since += water.good;
        }
        if let Some(body) = water.body.filter(|_| water.flow) {
            self.body_flow[body] += water.good;
            // A hold runs from the last drop on: a product driven in this tick gains nothing.
            for account in 0..N {
                if self.since_drive(account) == 0 {
                    self.cycle_mark[account][body] += super::signed(water.good);
                }
            }
        }
        self.age_ledger(water.good);
        self.credit(water.good, tick.off_credit);
    }

    fn valves(&mut self, water: &Water) {
        let Some(body) = water.body else {
            // They may have been anywhere.
            self.selected = None;
            self.steady = 0;
            return;
        };
        if self.selected == Some(body) {
            self.steady = if water.sane {
                self.steady + water.good
            } else {
                0
            };
            return;
        }
        // Another body: flow, settling and the line begin anew.
        self.purge_mark = super::signed(self.flow);
        self.selected = Some(body);
        self.steady = 0;
        self.proven = 0;
        self.settled = 0;
        for feeder in &mut self.feeders {
            feeder.cell = 0;
        }
        for response in &mut self.responses {
            response.awaited = 0;
        }
    }

    /// Judges answers whose time has come. Which accounts had one.
    pub(super) fn answers(&mut self, water: &Water) -> Vec<bool> {
        let mut answered = vec![false; N];
        let settled = self.settled >= u64::from(self.spec.probe_settle.0);
        let (Some(now), Some(body), true) = (water.ph, water.body, water.flow && settled) else {
            return answered;
        };
        for (account, answered) in answered.iter_mut().enumerate() {
            let product = self.product(account);
            let hold = self.feeder_spec(account).bodies[body].spread_hold.0;
            let allowed = self.spec.response;
            let spread = self.since_cycle(account, body) >= u64::from(hold);
            let response = &mut self.responses[account];
            if response.awaited == 0 || !spread {
                continue;
            }
            *answered = true;
            self.changed = true;
            let quarters = i32::try_from(std::mem::take(&mut response.awaited)).unwrap();
            let down = response.before.map(|before| before - now);
            let moved = match (down, product) {
                (Some(down), Product::Acid) => down,
                (Some(down), Product::Base) => -down,
                // Oxidisers are judged by the day, not by steps.
                _ => continue,
            };
            if moved > allowed.answer_max.0 || moved < -allowed.wrong_way_max.0 {
                response.wrong = true;
                continue;
            }
            // One cycle at a quarter, and it was not wrong.
            response.quarter = false;
            if moved < allowed.answer_min.0 * quarters / 4 {
                response.unanswered = (response.unanswered + 1).min(allowed.unanswered_max);
            } else {
                response.unanswered = 0;
            }
        }
        answered
    }
}
