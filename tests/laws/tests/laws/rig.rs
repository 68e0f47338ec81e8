//! One life: guard, store, truth, watch and model side by side.

use std::collections::BTreeSet;

use dosewarden_guard::units::{Dose, MilliPh, Millis};
use dosewarden_guard::{Decision, Facts, LockoutSet, Product, Rule, RuleSet, Ticket};

use crate::coverage::Reach;
use crate::engine::{Now, S, Unit};
use crate::facts::{apply, healthy};
use crate::model::{Model, Tick, number};
use crate::script::{Copies, Fault, Script};
use crate::truth::Truth;
use crate::watch::{Seen, Watch};

type Locks<const N: usize> = (LockoutSet, [LockoutSet; N]);

/// A life being lived.
pub(crate) struct Rig<const N: usize, const B: usize> {
    pub(crate) script: Script,
    pub(crate) unit: Unit<N, B>,
    pub(crate) truth: Truth,
    watch: Watch<N, B>,
    model: Model<N, B>,
    reach: Reach,
    pub(crate) tick: u32,
    pub(crate) ph: i32,
    late: [u8; N],
    pub(crate) last: [RuleSet; N],
    /// Lockouts in the record that was last sealed, and in the last that was confirmed.
    sealed: Option<(Ticket, Locks<N>)>,
    durable: Option<Locks<N>>,
    /// Ticks worth a closer look: what went in, and the state before.
    pub(crate) shots: Option<Vec<Shot<N, B>>>,
    pub(crate) decision: Decision<N>,
    /// What the first feeder asks for, if it is not a full cycle.
    pub(crate) first_asks: Option<Dose>,
    /// Whether the model must agree.
    pub(crate) modelled: bool,
}

/// One tick to look at again.
#[derive(Clone, Copy)]
pub(crate) struct Shot<const N: usize, const B: usize> {
    pub(crate) state: S<N, B>,
    pub(crate) now: Now<N>,
    pub(crate) gap_ms: u32,
    pub(crate) permit: bool,
}

/// Lives it to the end. What it reached, or what was broken.
pub(crate) fn live<const N: usize, const B: usize>(
    script: &Script,
    modelled: bool,
) -> Result<Reach, String> {
    let mut rig = Rig::<N, B>::new(script.clone());
    rig.modelled = modelled;
    rig.run()?;
    rig.windows()?;
    Ok(rig.reach)
}

impl<const N: usize, const B: usize> Rig<N, B> {
    pub(crate) fn new(script: Script) -> Self {
        let limits = script.plan.limits::<N, B>();
        let (unit, _) = Unit::start(limits, script.pure, [None, None]);
        Self {
            watch: Watch::new(unit.lockouts()),
            unit,
            truth: Truth::new(N),
            model: Model::lost(script.plan.spec()),
            reach: Reach::default(),
            tick: 0,
            ph: 7500,
            late: [0; N],
            last: [RuleSet::NONE; N],
            sealed: None,
            durable: None,
            shots: None,
            decision: Decision::NOTHING,
            first_asks: None,
            modelled: false,
            script,
        }
    }

    /// Lives all ticks of the script.
    pub(crate) fn run(&mut self) -> Result<(), String> {
        while self.tick < self.script.ticks {
            self.step()?;
        }
        Ok(())
    }

    /// Lives one tick.
    pub(crate) fn step(&mut self) -> Result<(), String> {
        let tick = self.tick;
        let held = self.one_tick();
        self.tick += 1;
        held.map_err(|what| format!("tick {tick}: {what}"))
    }

    pub(crate) fn stands(&self, fault: impl Fn(Fault) -> bool) -> bool {
        let mut events = self.script.events.iter();
        events.any(|event| event.stands(self.tick) && fault(event.fault))
    }

    /// Whether a fault of one feeder stands for this one. A number too high means the last.
    pub(crate) fn hits(&self, feeder: usize, of: impl Fn(Fault) -> Option<u8>) -> bool {
        self.stands(|fault| of(fault).is_some_and(|one| usize::from(one).min(N - 1) == feeder))
    }

    fn begins(&self, fault: impl Fn(Fault) -> bool) -> bool {
        let mut events = self.script.events.iter();
        events.any(|event| event.begins(self.tick) && fault(event.fault))
    }

    fn one_tick(&mut self) -> Result<(), String> {
        self.power_cuts()?;
        let gap_ms = self.gap();
        let deaf: Vec<bool> = (0..N)
            .map(|feeder| {
                self.hits(feeder, |fault| match fault {
                    Fault::FeedbackOff(one) => Some(one),
                    _ => None,
                })
            })
            .collect();
        let limits = self.unit.limits.clone();
        self.truth.pass(&limits, u64::from(gap_ms), &deaf);
        let off_credit = self.off_credit();
        let now = Now {
            facts: self.facts(gap_ms),
            requests: self.requests(),
            action: self.action(),
            state_intact: !(self.script.pure && self.begins(|fault| fault == Fault::State)),
            limits_intact: !(self.script.pure && self.stands(|fault| fault == Fault::Limits)),
            off_credit,
        };
        self.unit.save_takes = self.save_takes();
        let state = *self.unit.state();
        let decision = self.unit.judge(gap_ms, now);
        if let Some(shots) = &mut self.shots {
            let permit = decision.feeders.iter().any(|row| row.run.0 > 0);
            shots.push(Shot {
                state,
                now,
                gap_ms,
                permit,
            });
        }
        if self.modelled {
            self.compare(gap_ms, &now, &decision)?;
        }
        let lockouts = self.unit.lockouts();
        let seen = Seen {
            elapsed: u64::from(gap_ms),
            now: &now,
            decision: &decision,
            lockouts,
        };
        self.watch.tick(&limits, &mut self.truth, &seen)?;
        self.reach.see(&decision, lockouts);
        self.answer(&decision);
        self.save(&decision, lockouts);
        self.last = decision.feeders.map(|row| row.vetoes);
        self.decision = decision;
        Ok(())
    }

    fn gap(&self) -> u32 {
        for event in &self.script.events {
            if let (true, Fault::Gap(ms)) = (event.begins(self.tick), event.fault) {
                return u32::from(ms);
            }
        }
        if self.stands(|fault| fault == Fault::SlowTicks) {
            2500
        } else {
            self.script.tick_ms
        }
    }

    /// Time without power, shown by a good clock; the bank was filled before.
    fn off_credit(&mut self) -> u32 {
        let off_s = self
            .script
            .events
            .iter()
            .find_map(|event| match event.fault {
                Fault::OffCredit(off_s) if event.begins(self.tick) => Some(off_s),
                _ => None,
            });
        let Some(off_s) = off_s.filter(|_| self.script.pure) else {
            return 0;
        };
        self.unit.fill_bank();
        self.model.fill_bank();
        let off_ms = u32::from(off_s) * 1000;
        self.truth.world_ms += u64::from(off_ms);
        off_ms
    }

    fn facts(&mut self, gap_ms: u32) -> Facts<N> {
        let mut facts = healthy();
        facts.ph.value = MilliPh(self.ph);
        facts.saved = self.unit.saved;
        for feeder in 0..N {
            let on = self.truth.on(feeder);
            facts.feeders[feeder].feedback.value = on;
            let lags = self.hits(feeder, |fault| match fault {
                Fault::FeedbackLate(one) => Some(one),
                _ => None,
            });
            if on.0 > 0 {
                self.late[feeder] = 3;
            } else if self.late[feeder] > 0 {
                self.late[feeder] -= 1;
                if lags {
                    facts.feeders[feeder].feedback.value = Millis(gap_ms);
                }
            }
        }
        for event in &self.script.events {
            if event.stands(self.tick) {
                apply(&mut facts, event.fault, gap_ms);
            }
        }
        facts
    }

    /// (h) the rules that refuse, the permits and the lockouts are those of the model.
    fn compare(&mut self, gap_ms: u32, now: &Now<N>, decision: &Decision<N>) -> Result<(), String> {
        let tick = Tick {
            elapsed: u64::from(gap_ms),
            facts: now.facts,
            requests: now.requests,
            action: now.action,
            state_intact: now.state_intact,
            limits_intact: now.limits_intact,
            off_credit: u64::from(now.off_credit),
        };
        let says = self.model.tick(&tick);
        for (feeder, (row, says)) in decision.feeders.iter().zip(says).enumerate() {
            let names: BTreeSet<&str> = row.vetoes.iter().map(Rule::name).collect();
            if names != says.vetoes || u64::from(row.run.0) != says.run {
                return Err(format!(
                    "(h) feeder {feeder}: the guard says {names:?}, run {}; the model {:?}, run \
                     {}; model: {:?}, guard: {:?}",
                    row.run.0,
                    says.vetoes,
                    says.run,
                    self.model.feeders[feeder],
                    self.unit.state().feeders[feeder]
                ));
            }
        }
        let (site, feeders) = self.unit.lockouts();
        let mut locked: BTreeSet<(u8, usize)> = site.iter().map(|one| (number(one), 0)).collect();
        for (feeder, set) in feeders.into_iter().enumerate() {
            locked.extend(set.iter().map(|one| (number(one), feeder)));
        }
        if locked == self.model.lockouts {
            Ok(())
        } else {
            Err(format!(
                "(h) lockouts {locked:?}, the model {:?}",
                self.model.lockouts
            ))
        }
    }

    /// The water answers: a cycle of acid lowers pH, of base raises it, and it drifts back.
    fn answer(&mut self, decision: &Decision<N>) {
        self.ph += (7500 - self.ph).signum();
        for (feeder, row) in decision.feeders.iter().enumerate() {
            let by = match self.unit.limits.product(feeder) {
                Some(Product::Acid) => -60,
                Some(Product::Base) => 60,
                _ => 0,
            };
            let fed = row.closed.is_some_and(|closed| closed.fed.0 > 0);
            if !fed || self.stands(|fault| fault == Fault::Unanswered) {
                continue;
            }
            let wrong = self.stands(|fault| fault == Fault::WrongAnswer);
            self.ph += if wrong { by * -4 } else { by };
        }
    }

    fn save(&mut self, decision: &Decision<N>, lockouts: Locks<N>) {
        if let Some(ticket) = self.unit.store(decision.save) {
            self.model.sealed(ticket);
            self.sealed = Some((ticket, lockouts));
        }
        if let Some((ticket, lockouts)) = self.sealed
            && self.unit.saved == Some(ticket)
        {
            self.durable = Some(lockouts);
        }
    }

    fn power_cuts(&mut self) -> Result<(), String> {
        let events = self.script.events.clone();
        for event in events {
            let Fault::PowerCut(off_s, copies) = event.fault else {
                continue;
            };
            if !event.begins(self.tick) {
                continue;
            }
            let limits = self.unit.limits.clone();
            let half = u64::from(self.script.tick_ms / 2);
            self.truth.pass(&limits, half, &[false; N]);
            self.watch.power_fails(&limits, &self.truth);
            self.truth.power_cut(u64::from(off_s) * 1000);
            // What was under way and landed is newer than what was confirmed: a person may have released
            // something in between.
            let landed = matches!(copies, Copies::Half | Copies::Whole) && self.unit.is_writing();
            let under_way = self.sealed.filter(|_| landed).map(|(_, lockouts)| lockouts);
            let stood = under_way.or(self.durable.take());
            let left = self.unit.copies_after(copies);
            let (unit, sequence) = Unit::start(limits, self.script.pure, left);
            self.unit = unit;
            let spec = self.script.plan.spec();
            let model = std::mem::replace(&mut self.model, Model::lost(spec));
            self.model = model.restart(sequence);
            self.watch.power_cut(self.unit.lockouts());
            self.last = [RuleSet::NONE; N];
            self.sealed = None;
            if let Some(stood) = stood.filter(|_| sequence.is_some()) {
                kept(stood, self.unit.lockouts())?;
                self.durable = Some(stood);
            }
        }
        Ok(())
    }

    /// (b) every window of an hour and a day, in every body, to the millisecond. A person's
    /// `initialise` empties the ledger: with it in the window, twice the cap is the bound.
    pub(crate) fn windows(&self) -> Result<(), String> {
        let lost = |event: &crate::script::Event| {
            matches!(event.fault, Fault::PowerCut(_, Copies::Neither))
                || matches!(event.fault, Fault::PowerCut(..)) && event.at < 4
        };
        let begun_again = self.script.events.iter().any(lost);
        let caps = if begun_again { 2 } else { 1 };
        for account in 0..N {
            let spec = self.unit.limits.feeder(account).unwrap();
            for body in 0..B {
                let limits = &spec.bodies[body];
                for (what, window, cap) in [
                    ("hour", 3_600_000, limits.hour_cap.0),
                    ("day", 86_400_000, limits.day_cap.0),
                ] {
                    let on = self.truth.most_in(account, body, window);
                    let on = on.saturating_sub(self.truth.hang_ms);
                    let rate = u64::from(spec.rate_for_caps().0);
                    if on * rate > u64::from(cap) * caps * 3_600_000 {
                        return Err(format!(
                            "(b) feeder {account}, body {body}: {on} ms in one {what}, cap {cap}"
                        ));
                    }
                }
            }
        }
        Ok(())
    }
}

/// (e) what was saved still stands.
fn kept<const N: usize>(saved: Locks<N>, now: Locks<N>) -> Result<(), String> {
    let sets = |(site, feeders): Locks<N>| std::iter::once(site).chain(feeders);
    for (saved, now) in sets(saved).zip(sets(now)) {
        for lockout in saved.iter() {
            if !now.has(lockout) {
                return Err(format!("(e) cycling the power ended {lockout:?}"));
            }
        }
    }
    Ok(())
}
